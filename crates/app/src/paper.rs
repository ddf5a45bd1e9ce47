//! Paper: from a case to the bytes of its report, the same for the command
//! line and for the pages.

use benchbook::Benchbook;
use benchbook::{CheckKind, ItemKind, RegisterItem};
use report::compose::{GivenSignature, KeptFile, Records, RegisteredItem};
use report::document::{Checkpoint, Moment};
use report::{DocumentName, Edition, Paper};
use study::Case;

use crate::clock;
use crate::fault::Fault;

/// The edition of a report of a case as it stands in a benchbook.
///
/// It carries the moment of the last change and not that of the printing, so
/// that the same benchbook gives the same bytes.
pub async fn edition(book: &Benchbook, id: &str) -> Result<Edition, Fault> {
    let cases = book.cases().await?;
    let changed_at = cases
        .into_iter()
        .find(|case| case.id == id)
        .map(|case| case.changed_at)
        .unwrap_or_default();
    let moment = Moment::from_text(&changed_at).ok_or_else(|| {
        Fault::ours(format!("case `{id}` has no moment of its last change: `{changed_at}`"))
    })?;
    let checkpoint = book.checkpoint().await?;
    Ok(Edition {
        version: "1".to_owned(),
        moment,
        software: format!("isobar {}", env!("CARGO_PKG_VERSION")),
        checkpoint: Some(Checkpoint { entries: checkpoint.size, digest: checkpoint.root_base64() }),
        records: records(book, id, &changed_at).await?,
    })
}

/// What the benchbook keeps beside the case. Where there are signatures, the
/// whole file is verified first: an altered one must not print as signed.
async fn records(book: &Benchbook, id: &str, changed_at: &str) -> Result<Records, Fault> {
    let signatures: Vec<GivenSignature> = book
        .signatures(id)
        .await?
        .into_iter()
        .map(|signature| GivenSignature {
            meaning: signature.meaning.word().to_owned(),
            name: signature.name,
            at: signature.at,
            stands: signature.stands,
            report_sha256: signature.report_sha256,
        })
        .collect();
    let mut records = Records { signatures, ..Records::default() };
    if !records.signatures.is_empty() {
        let verified = benchbook::verify(book.path(), None).await?;
        records.signed_checkpoints = verified.n_checkpoints;
        records.findings = verified
            .findings
            .into_iter()
            .map(|finding| format!("{}: {}", finding.place, finding.problem))
            .collect();
    }
    records.register =
        book.register().await?.iter().map(|item| registered(item, changed_at)).collect();
    records.files = book
        .attachments(id)
        .await?
        .into_iter()
        .map(|file| KeptFile { name: file.name, note: file.note, sha256: file.file_sha256 })
        .collect();
    Ok(records)
}

/// An item as it is printed; whether it may be used is judged for the moment of
/// the last change, because the paper has no clock.
fn registered(item: &RegisterItem, changed_at: &str) -> RegisteredItem {
    let kind = match item.kind {
        ItemKind::PositiveControl => "positive control",
        ItemKind::FlowStandard => "flow standard",
    };
    RegisteredItem {
        id: item.id.clone(),
        description: format!("{kind}: {}", item.description),
        is_flow_standard: item.kind == ItemKind::FlowStandard,
        certificate: item.certificate.as_ref().map_or(String::new(), |certificate| {
            format!(
                "{}, {}, {}, until {}",
                certificate.number,
                certificate.value,
                certificate.uncertainty,
                certificate.valid_until
            )
        }),
        last_check: item.last_check.as_ref().map_or(String::new(), |check| {
            let kind = match check.kind {
                CheckKind::Arrival => "on arrival",
                CheckKind::Reverification => "again",
            };
            let outcome = if check.passed { "passed" } else { "failed" };
            format!("{kind} {}, {outcome}, read {}", check.at, check.reading)
        }),
        check_age_days: item
            .last_check
            .as_ref()
            .and_then(|check| clock::days_between(&check.at, changed_at)),
        check_passed: item.last_check.as_ref().is_some_and(|check| check.passed),
        hindrance: item.hindrance(changed_at),
    }
}

/// The study report of a case as PDF.
pub fn pdf_of(case: &Case, edition: &Edition) -> Result<Vec<u8>, Fault> {
    pdf_of_document(case, DocumentName::Study, edition, Paper::A4)
}

/// A document of a case as PDF.
pub fn pdf_of_document(
    case: &Case,
    name: DocumentName,
    edition: &Edition,
    paper: Paper,
) -> Result<Vec<u8>, Fault> {
    let failed = |error: String| Fault::ours(format!("case `{}`: {error}", case.input.id));
    let document =
        report::compose_document(case, name, edition).map_err(|error| failed(error.to_string()))?;
    report::typeset(&document, paper).map_err(|error| failed(error.to_string()))
}

/// A document of a case as one HTML page that needs nothing else.
pub fn page_of_document(
    case: &Case,
    name: DocumentName,
    edition: &Edition,
) -> Result<String, Fault> {
    let document = report::compose_document(case, name, edition)
        .map_err(|error| Fault::ours(format!("case `{}`: {error}", case.input.id)))?;
    Ok(format!(
        "<!doctype html>\n<html lang=\"en\">\n<head>\n<meta charset=\"utf-8\">\n<meta \
         name=\"viewport\" content=\"width=device-width\">\n<title>{}</title>\n<style>\n{}</style>\n\
         </head>\n<body>\n{}</body>\n</html>\n",
        document.kind.word(),
        report::html::STYLE_SHEET,
        report::html::html(&document)
    ))
}
