//! Paper: from a case to the bytes of its report, the same for the command
//! line and for the pages.

use benchbook::Benchbook;
use report::Edition;
use report::document::{Checkpoint, Moment};
use study::Case;

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
    })
}

/// The report of a case as PDF.
pub fn pdf_of(case: &Case, edition: &Edition) -> Result<Vec<u8>, Fault> {
    let failed = |error: String| Fault::ours(format!("case `{}`: {error}", case.input.id));
    let document = report::compose(case, edition).map_err(|error| failed(error.to_string()))?;
    report::typeset(&document, report::Paper::A4).map_err(|error| failed(error.to_string()))
}
