//! Files of a case: what was attached, byte for byte, its runs as a workbook,
//! and the whole of it as a sealed archive.

use benchbook::{Action, Attachment};
use maud::{Markup, html};
use serde_json::json;
use study::{Case, Step};

use super::report::apart;
use super::{with_traces, without_traces};
use crate::clock;
use crate::commands::records::{attach, bag, export_tables};
use crate::fault::Fault;
use crate::web::address;
use crate::web::form::Form;
use crate::web::form_view::{self, Field};
use crate::web::frame::{self, CasePage};
use crate::web::refusals::Trouble;
use crate::web::reply::{Answer, Reply};
use crate::web::sheet::headings_row;
use crate::web::wording::shown;
use crate::web::workbench::Workbench;

const FILE: Field<'_> = Field::needed("file", "File", "Kept byte for byte, up to 1 MiB here.");
const NOTE: Field<'_> = Field::optional("note", "What it is", "");
const REASON: Field<'_> =
    Field::optional("reason", "Reason", "Needed where the case is signed: its signatures fall.");
const DONE: [(&str, &str); 1] = [("attached", "The file was attached.")];

fn link(id: &str) -> String {
    address::of_case(id, "files")
}

/// The page, or its twin.
pub async fn reply(
    workbench: &Workbench,
    id: &str,
    is_json: bool,
    query: &[(String, String)],
) -> Answer {
    let (case, attached) = read(workbench, id).await?;
    if is_json {
        return Ok(Reply::Json(json!({ "case": id, "files": attach::as_json(&attached) })));
    }
    let done = address::value(query, "done");
    Ok(Reply::Page(page(workbench, &case, &attached, &Form::default(), None, done)))
}

async fn read(workbench: &Workbench, id: &str) -> Result<(Case, Vec<Attachment>), Reply> {
    let attached = workbench.benchbook.attachments(id).await;
    let attached = attached.map_err(|error| Reply::failed(&error))?;
    Ok((without_traces(workbench, id).await?, attached))
}

fn page(
    workbench: &Workbench,
    case: &Case,
    attached: &[Attachment],
    form: &Form,
    trouble: Option<&Trouble>,
    done: Option<&str>,
) -> Markup {
    let id = &case.input.id;
    let this = CasePage { case, step: Step::Runs, has_plots: false, ladder_beside: false };
    let content = html! {
        (form_view::done(done, &DONE))
        (form_view::trouble(trouble))
        section aria-labelledby="attached" {
            h2 #attached { "Attached files" }
            @if attached.is_empty() {
                p { "Nothing is attached yet. Originals of imported runs are attached by the import; \
                     drawings, certificates and photographs belong here as well." }
            } @else { (table(id, attached)) }
        }
        @if !case.runs.is_empty() {
            section aria-labelledby="tables" {
                h2 #tables { "Runs as a workbook" }
                p {
                    a.download href=(address::of_case(id, "runs.xlsx")) { "Runs, samples and stages" }
                    ": three sheets (XLSX), which an import reads back."
                }
            }
        }
        section aria-labelledby="archive" {
            h2 #archive { "The case as a sealed archive" }
            p {
                a.download href=(address::of_case(id, "archive.zip")) { "Archive of the case" }
                ": a BagIt bag (RFC 8493) in one ZIP file, with report, records, runs, attached \
                 files, audit trail, proofs and checkpoint. It needs no program to be read."
            }
        }
        @if workbench.may(Action::AddRuns) {
            section aria-labelledby="attach" {
                h2 #attach { "Attach a file" }
                (form_view::form_with_files(workbench, &link(id), "Attach it", html! {
                    (FILE.file("attach"))
                    (NOTE.line("attach", form))
                    (REASON.line("attach", form))
                }))
            }
        }
    };
    frame::case_page(workbench, &this, content)
}

fn table(id: &str, attached: &[Attachment]) -> Markup {
    form_view::wide_table(
        "Every file, oldest first",
        html! {
            (headings_row(&["File", "What it is", "#Bytes", "SHA-256"]))
            tbody {
                @for one in attached {
                    tr {
                        th scope="row" {
                            a.download href=(address::of_case(id, &format!("files/{}", one.file_sha256))) {
                                (shown(&one.name))
                            }
                        }
                        td.words { (shown(&one.note)) }
                        td.num { (report::number::count(one.n_bytes)) }
                        td { code { (one.file_sha256.chars().take(12).collect::<String>()) } }
                    }
                }
            }
        },
    )
}

/// An attached file, by its SHA-256.
pub async fn file(workbench: &Workbench, id: &str, sha256: &str) -> Answer {
    let (_, attached) = read(workbench, id).await?;
    let missing =
        || Reply::missing("this case has no such file", "look at the list of its files", link(id));
    let one = attached.into_iter().find(|one| one.file_sha256 == sha256).ok_or_else(missing)?;
    let bytes = workbench.benchbook.stored_file(sha256).await;
    let bytes = bytes.map_err(|error| Reply::failed(&error))?.ok_or_else(missing)?;
    // Never opened in the page: it may be anything.
    Ok(Reply::Download { name: one.name, kind: "application/octet-stream", bytes })
}

/// The runs as a workbook.
pub async fn workbook(workbench: &Workbench, id: &str) -> Answer {
    let case = with_traces(workbench, id).await?;
    let _turn = workbench.server.long_work.acquire().await;
    let made = apart(move || export_tables::workbook(&case)).await?;
    let bytes =
        made.map_err(|fault| Reply::Refused { why: fault.message, next_step: fault.hint })?;
    let kind = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet";
    Ok(Reply::Download { name: format!("{id}-runs.xlsx"), kind, bytes })
}

/// The case as a sealed archive in one file.
pub async fn archive(workbench: &Workbench, id: &str) -> Answer {
    let refused = |fault: Fault| Reply::Refused { why: fault.message, next_step: fault.hint };
    let _turn = workbench.server.long_work.acquire().await;
    let bag = bag::Bag::of(&workbench.benchbook, id).await.map_err(refused)?;
    let folder = id.to_owned();
    let made = apart(move || bag.zipped(&folder)).await?;
    let bytes = made.map_err(refused)?;
    Ok(Reply::Download { name: format!("{id}.bag.zip"), kind: "application/zip", bytes })
}

/// Attaches a file.
pub async fn post(workbench: &Workbench, id: &str, form: &Form) -> Answer {
    let done = attach(workbench, id, form).await;
    let Err(trouble) = done else {
        return Ok(Reply::Elsewhere(format!("{}?done=attached", link(id))));
    };
    let (case, attached) = read(workbench, id).await?;
    Err(Reply::PageWith {
        page: page(workbench, &case, &attached, form, Some(&trouble), None),
        status: trouble.status,
        error: trouble.what,
        hint: trouble.next_step,
    })
}

async fn attach(workbench: &Workbench, id: &str, form: &Form) -> Result<(), Trouble> {
    let file =
        form.file("file").ok_or_else(|| Trouble::of_form("no file was chosen", "choose one"))?;
    let name = file.name.rsplit(['/', '\\']).next().filter(|name| !name.is_empty());
    let book = workbench.benchbook.because(&form.text("reason"));
    let note = form.text("note");
    let at = clock::moment();
    book.attach(id, name.unwrap_or("file"), &note, &file.bytes, &at).await?;
    Ok(())
}
