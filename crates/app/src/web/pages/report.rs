//! Report: what may be claimed, as a document to read here or to keep as PDF.

use maud::{Markup, PreEscaped, html};
use report::DocumentName;
use serde_json::{Value, json};
use study::{Case, Step};

use super::with_traces;
use crate::answer::{notes_json, optional};
use crate::commands::records::sign;
use crate::paper;
use crate::web::address;
use crate::web::frame::{self, CasePage};
use crate::web::reply::{Answer, Reply};
use crate::web::signature_view;
use crate::web::workbench::Workbench;

/// The page.
///
/// # Errors
/// Where the document cannot be composed.
pub async fn page(workbench: &Workbench, case: &Case, head: Markup) -> Result<Markup, Reply> {
    let this = CasePage { case, step: Step::Report, has_plots: false, ladder_beside: false };
    let edition = edition(workbench, &case.input.id).await?;
    let document = {
        let case = case.clone();
        apart(move || {
            report::compose(&case, &edition)
                .map(|document| report::html::html(&document))
                .map_err(|error| error.to_string())
        })
        .await?
        .map_err(Reply::Failed)?
    };
    let id = case.input.id.as_str();
    let failed = |error: benchbook::BenchbookError| Reply::failed(&error);
    let signatures = workbench.benchbook.signatures(id).await.map_err(failed)?;
    let events = workbench.benchbook.history(Some(id)).await.map_err(failed)?;
    let pdf = address::of_case(id, "report.pdf");
    let content = html! {
        (head)
        section.answer aria-label="The report" {
            p.label { "The report as it stands" }
            p.big { a.download href=(pdf) { "Keep the report as PDF" } }
            p { a.download href={ (pdf) "?paper=letter" } { "The same on Letter paper" } }
            p.quiet { "PDF/A with the numbers attached. The same case gives the same pages; below \
                       are the same words and figures." }
        }
        section.answer aria-label="Signatures" {
            p.label { "Signatures" }
            (signature_view::list(&signatures, &events))
            p {
                a href=(address::of_case(id, "sign")) { "Sign the case" } ", "
                a href=(address::of_case(id, "review")) { "review its audit trail" } ", "
                a href=(address::of_case(id, "units")) { "records of its units" } "."
            }
        }
        section.answer aria-label="Further documents" {
            p.label { "Further documents of this case" }
            ul {
                @for name in further() {
                    li {
                        a.download href=(document_address(&case.input.id, name)) { (name.word()) }
                        ", "
                        a.download href={ (document_address(&case.input.id, name)) "?paper=letter" } {
                            "Letter" span.visually-hidden { ", " (name.word()) }
                        }
                        ": " (name.says()) "."
                    }
                }
            }
        }
        div.paper { (PreEscaped(document)) }
    };
    Ok(frame::case_page(workbench, &this, content))
}

/// The report as a file.
pub async fn pdf(workbench: &Workbench, id: &str, query: &[(String, String)]) -> Answer {
    file(workbench, id, DocumentName::Study, query, format!("{id}.pdf")).await
}

/// A document as a file, by the name in its address.
pub async fn document(
    workbench: &Workbench,
    id: &str,
    document: DocumentName,
    query: &[(String, String)],
) -> Answer {
    file(workbench, id, document, query, format!("{id}-{}.pdf", document.word())).await
}

async fn file(
    workbench: &Workbench,
    id: &str,
    document: DocumentName,
    query: &[(String, String)],
    name: String,
) -> Answer {
    let paper = paper_of(query)?;
    let case = with_traces(workbench, id).await?;
    let edition = edition(workbench, id).await?;
    let made = apart(move || paper::pdf_of_document(&case, document, &edition, paper)).await?;
    let bytes = made.map_err(|fault| Reply::Failed(fault.message))?;
    Ok(Reply::Download { name, kind: "application/pdf", bytes })
}

/// The sheet that an address asks for: A4 where it says nothing.
fn paper_of(query: &[(String, String)]) -> Result<report::Paper, Reply> {
    match address::value(query, "paper") {
        None | Some("a4") => Ok(report::Paper::A4),
        Some("letter") => Ok(report::Paper::Letter),
        Some(other) => Err(Reply::Refused {
            why: format!("`{other}` is no size of a sheet"),
            next_step: "ask for paper=a4 or paper=letter".to_owned(),
        }),
    }
}

/// Documents beside the study report.
fn further() -> impl Iterator<Item = DocumentName> {
    DocumentName::ALL.into_iter().filter(|name| *name != DocumentName::Study)
}

fn document_address(id: &str, name: DocumentName) -> String {
    address::of_case(id, &format!("{}.pdf", name.word()))
}

/// The moment of the last change and the state of the history.
async fn edition(workbench: &Workbench, id: &str) -> Result<report::Edition, Reply> {
    paper::edition(&workbench.benchbook, id).await.map_err(|fault| Reply::Failed(fault.message))
}

/// Long work must not hold up the pages of others.
pub async fn apart<T: Send + 'static>(
    work: impl FnOnce() -> T + Send + 'static,
) -> Result<T, Reply> {
    tokio::task::spawn_blocking(work)
        .await
        .map_err(|_| Reply::Failed("the work ended before it was done".to_owned()))
}

/// Its twin.
///
/// # Errors
/// Where the signatures cannot be read.
pub async fn twin(workbench: &Workbench, case: &Case) -> Result<Value, Reply> {
    let claim = case.claim();
    let signatures = workbench.benchbook.signatures(&case.input.id).await;
    let signatures = signatures.map_err(|error| Reply::failed(&error))?;
    Ok(json!({
        "signatures": signatures.iter().map(sign::signature_json).collect::<Value>(),
        "case": case.input.id,
        "pdf": address::of_case(&case.input.id, "report.pdf"),
        "documents": further()
            .map(|name| json!({
                "document": name.word(),
                "pdf": document_address(&case.input.id, name),
            }))
            .collect::<Value>(),
        "claim": claim.sentence,
        "size_flow_equivalent_um": optional(claim.size_um),
        "probability": optional(claim.probability),
        "not_covered": claim.not_covered,
        "refusals": notes_json(&claim.refusals),
    }))
}
