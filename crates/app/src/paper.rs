//! Paper: from a case to the bytes of its report, the same for the command
//! line and for the pages.

use benchbook::Benchbook;
use report::Edition;
use report::document::Moment;
use study::Case;

use crate::fault::Fault;

/// When a case last changed. The report carries this moment and not that of
/// the printing, so that the same case gives the same bytes.
pub async fn last_change(book: &Benchbook, id: &str) -> Result<String, Fault> {
    let cases = book.cases().await?;
    Ok(cases.into_iter().find(|case| case.id == id).map(|case| case.changed_at).unwrap_or_default())
}

/// The report of a case as PDF.
pub fn pdf_of(case: &Case, changed_at: &str) -> Result<Vec<u8>, Fault> {
    let failed = |error: String| Fault::ours(format!("case `{}`: {error}", case.input.id));
    let document =
        report::compose(case, &edition(changed_at)?).map_err(|error| failed(error.to_string()))?;
    report::typeset(&document, report::Paper::A4).map_err(|error| failed(error.to_string()))
}

/// The edition of a report: its moment and the program that makes it.
pub fn edition(changed_at: &str) -> Result<Edition, Fault> {
    let moment = Moment::from_text(changed_at).ok_or_else(|| {
        Fault::ours(format!("the case has no moment of its last change: `{changed_at}`"))
    })?;
    Ok(Edition {
        version: "1".to_owned(),
        moment,
        software: format!("isobar {}", env!("CARGO_PKG_VERSION")),
        checkpoint: None,
    })
}
