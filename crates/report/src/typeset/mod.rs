//! Document in, PDF out: typesetting by the library Typst with embedded
//! template and fonts, without files, packages, network or clock.
//!
//! The document reaches the template as data (JSON) only; nothing of it is
//! ever compiled, so that user text cannot become markup.

mod data;
pub mod fonts;
mod world;

use typst::foundations::{Datetime, Smart};
use typst_layout::PagedDocument;
use typst_pdf::{PdfOptions, PdfStandard, PdfStandards, Timestamp};

use crate::document::Document;

/// Size of the sheet.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Paper {
    /// ISO 216 A4.
    #[default]
    A4,
    /// ANSI A, 8.5 by 11 inches.
    Letter,
}

impl Paper {
    const fn template_word(self) -> &'static str {
        match self {
            Self::A4 => "a4",
            Self::Letter => "us-letter",
        }
    }
}

/// Why a document could not be set.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum TypesetError {
    /// The date of the document is not in the calendar.
    #[error("the document's date {text} is not in the calendar; give a date that exists")]
    Date {
        /// The date as given.
        text: String,
    },
    /// A row has more cells than the table has columns.
    #[error("table {table}, row {row}: {cells} cells for {columns} columns; a cell would be lost")]
    Cells {
        /// Identifier of the table.
        table: String,
        /// Row, counted from 1.
        row: usize,
        /// Cells in the row.
        cells: usize,
        /// Columns of the table.
        columns: usize,
    },
    /// Two parts of the document carry the same name.
    #[error("two parts of the document are both named '{id}'; links would lead astray")]
    Name {
        /// The name.
        id: String,
    },
    /// The typesetter refused.
    #[error(
        "the typesetter could not set the document ({0}); this is a fault of the program, not of the data"
    )]
    Typesetter(String),
}

/// Sets a document as PDF/A-3a and PDF/UA-1, with its attachments inside.
///
/// The same document and paper give the same bytes.
///
/// # Errors
/// [`TypesetError`] says what stands in the way.
pub fn typeset(document: &Document, paper: Paper) -> Result<Vec<u8>, TypesetError> {
    let moment = document.moment;
    let datetime = moment
        .exists()
        .then(|| {
            Datetime::from_ymd_hms(
                moment.year,
                moment.month,
                moment.day,
                moment.hour,
                moment.minute,
                moment.second,
            )
        })
        .flatten()
        .ok_or_else(|| TypesetError::Date { text: moment.text() })?;
    let json = data::to_json(document, paper)?;
    let world =
        world::World::new(json, document.attachments.iter().map(|file| file.bytes.clone()))?;
    let pages: PagedDocument = typst::compile(&world).output.map_err(|errors| refusal(&errors))?;
    let standards = PdfStandards::new(&[PdfStandard::A_3a, PdfStandard::Ua_1])
        .map_err(|error| TypesetError::Typesetter(error.message().to_string()))?;
    let options = PdfOptions {
        ident: Smart::Custom(format!(
            "{} {} {}",
            document.identification, document.version, document.digest
        )),
        creator: Smart::Custom(Some(document.software.clone())),
        timestamp: Some(Timestamp::new_utc(datetime)),
        standards,
        ..PdfOptions::default()
    };
    let pdf = typst_pdf::pdf(&pages, &options).map_err(|errors| refusal(&errors));
    // Layouts of earlier documents are of no use to the next one.
    typst::comemo::evict(8);
    pdf
}

fn refusal(errors: &[typst::diag::SourceDiagnostic]) -> TypesetError {
    let messages: Vec<String> = errors
        .iter()
        .map(|error| {
            let hints: Vec<&str> = error.hints.iter().map(|hint| hint.v.as_str()).collect();
            if hints.is_empty() {
                error.message.to_string()
            } else {
                format!("{}; {}", error.message, hints.join("; "))
            }
        })
        .collect();
    TypesetError::Typesetter(messages.join("; "))
}

#[cfg(test)]
mod tests;
#[cfg(test)]
pub(crate) use tests::{count_pages, text_layer};
