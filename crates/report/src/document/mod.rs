//! A document: what is said, in which order, without any layout.
//!
//! Two printers read it: [`crate::typeset()`] for paper (PDF) and
//! [`crate::html`] for pages. All texts are literal: no character of them is
//! ever read as markup.

mod block;
mod moment;
mod table;
mod words;

pub use block::{
    Block, FigureBlock, KeyValue, NoteBlock, NoteWeight, Section, SignatureLine, Verdict,
    VerdictKind,
};
pub use moment::Moment;
pub use table::{Align, Column, DataTable};
pub use words::{Style, Words};

/// What a document is for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum DocumentKind {
    /// What a test is expected to see, before samples are spent.
    Feasibility,
    /// What a test was shown to see.
    Study,
    /// What may be claimed, on one page.
    Claim,
    /// What is fixed before the first run.
    Protocol,
    /// How the rise limit was set.
    Limit,
    /// Container and product.
    Profile,
    /// What to set, and why.
    Method,
    /// The chamber and its free volume.
    Fixture,
    /// Which leak matters.
    Mall,
    /// What the reading says of a known flow.
    Flow,
    /// Positive controls and flow standards.
    Register,
}

impl DocumentKind {
    /// Name of the kind as printed.
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            Self::Feasibility => "Feasibility report",
            Self::Study => "Study report",
            Self::Claim => "Claim",
            Self::Protocol => "Study protocol",
            Self::Limit => "Limit rationale",
            Self::Profile => "Container and product profile",
            Self::Method => "Method sheet and development record",
            Self::Fixture => "Fixture requirement and free-volume record",
            Self::Mall => "MALL memo",
            Self::Flow => "Flow calibration record",
            Self::Register => "Register of positive controls",
        }
    }

    /// Whether the document is set to fit on one page.
    #[must_use]
    pub const fn is_one_page(self) -> bool {
        matches!(self, Self::Claim)
    }
}

/// A source that the document leans on.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Source {
    /// Short sign, e.g. a number.
    pub mark: String,
    /// Author, title, place, year, and what was taken from it.
    pub text: String,
}

/// A file carried inside the document.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Attachment {
    /// File name, ASCII letters, digits, dot and hyphen.
    pub name: String,
    /// Kind of content, e.g. `application/json`.
    pub mime_type: String,
    /// What it holds.
    pub description: String,
    /// Its bytes.
    pub bytes: Vec<u8>,
}

/// Where the history of changes stood when the document was made.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Checkpoint {
    /// Number of entries in the history.
    pub entries: u64,
    /// Digest of the history, hexadecimal.
    pub digest: String,
}

/// A document.
#[derive(Debug, Clone, PartialEq)]
pub struct Document {
    /// What it is for.
    pub kind: DocumentKind,
    /// Title line.
    pub title: String,
    /// Identification in the benchbook.
    pub identification: String,
    /// Version of the document.
    pub version: String,
    /// The case it speaks of.
    pub case_label: String,
    /// Whether the data are invented; printed on every page.
    pub invented: bool,
    /// When it was made, for people.
    pub date_text: String,
    /// When it was made, for the file.
    pub moment: Moment,
    /// The body.
    pub sections: Vec<Section>,
    /// Cautions that must stand.
    pub cautions: Vec<String>,
    /// Sources.
    pub sources: Vec<Source>,
    /// State of the history, where there is one.
    pub checkpoint: Option<Checkpoint>,
    /// Digest of the data the document was made from, hexadecimal.
    pub digest: String,
    /// Program and version that made it.
    pub software: String,
    /// Files carried inside.
    pub attachments: Vec<Attachment>,
}
