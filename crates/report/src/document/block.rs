//! The pieces a section is made of.

use super::{DataTable, Words};
use crate::figure::{Figure, FigureError};

/// A section of a document.
#[derive(Debug, Clone, PartialEq)]
pub struct Section {
    /// Short name without spaces, unique in the document.
    pub id: String,
    /// Heading; empty for the opening.
    pub heading: String,
    /// What it holds.
    pub blocks: Vec<Block>,
}

impl Section {
    /// An empty section.
    #[must_use]
    pub fn new(id: impl Into<String>, heading: impl Into<String>) -> Self {
        Self { id: id.into(), heading: heading.into(), blocks: Vec::new() }
    }

    /// The section with one more block.
    #[must_use]
    pub fn with(mut self, block: Block) -> Self {
        self.blocks.push(block);
        self
    }

    /// The section with one more paragraph.
    #[must_use]
    pub fn paragraph(self, words: impl Into<Words>) -> Self {
        self.with(Block::Paragraph(words.into()))
    }
}

/// A piece of a section.
#[derive(Debug, Clone, PartialEq)]
pub enum Block {
    /// Running text.
    Paragraph(Words),
    /// A heading below that of the section.
    Subheading(String),
    /// Names and values, one pair a line.
    KeyValues(Vec<KeyValue>),
    /// A table.
    Table(DataTable),
    /// A figure.
    Figure(FigureBlock),
    /// Notes, each with its next step.
    Notes(Vec<NoteBlock>),
    /// The answer in a box.
    Verdict(Verdict),
    /// Lines to sign on.
    Signatures(Vec<SignatureLine>),
}

/// A name and its value.
#[derive(Debug, Clone, PartialEq)]
pub struct KeyValue {
    /// Name.
    pub name: String,
    /// Value with unit.
    pub value: Words,
}

impl KeyValue {
    /// A name and its value.
    #[must_use]
    pub fn new(name: impl Into<String>, value: impl Into<Words>) -> Self {
        Self { name: name.into(), value: value.into() }
    }
}

/// A drawn figure with its words.
#[derive(Debug, Clone, PartialEq)]
pub struct FigureBlock {
    /// Short name without spaces, unique in the document.
    pub id: String,
    /// What it shows, in a few words.
    pub title: String,
    /// How to read it.
    pub caption: String,
    /// What a reader who cannot see it needs to know.
    pub alt: String,
    /// The drawing, SVG.
    pub svg: String,
    /// Width on paper, points.
    pub width_pt: f64,
    /// The numbers behind it.
    pub source: Option<DataTable>,
}

impl FigureBlock {
    /// Draws a figure for a document.
    ///
    /// # Errors
    /// [`FigureError`] where the figure cannot be drawn.
    pub fn of(figure: &Figure) -> Result<Self, FigureError> {
        Ok(Self {
            id: figure.id.clone(),
            title: figure.title.clone(),
            caption: figure.caption.clone(),
            alt: figure.alt.clone(),
            svg: crate::figure::svg(figure)?,
            width_pt: figure.width_pt,
            source: figure.source.clone(),
        })
    }
}

/// How much a note matters.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum NoteWeight {
    /// Good to know.
    Remark,
    /// The number stands with a condition.
    Caution,
    /// Something cannot be said.
    Refusal,
}

impl NoteWeight {
    /// The word that is printed.
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            Self::Remark => "Remark",
            Self::Caution => "Caution",
            Self::Refusal => "Cannot be said",
        }
    }
}

/// A note on a result.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct NoteBlock {
    /// How much it matters.
    pub weight: NoteWeight,
    /// What is so.
    pub text: String,
    /// What to do next; empty where there is nothing to do.
    pub next_step: String,
}

/// What the answer is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum VerdictKind {
    /// Shown, within what is stated.
    Reached,
    /// Forecast, not shown.
    Expected,
    /// No.
    NotReached,
    /// It cannot be said yet.
    Open,
}

/// The answer in a box.
#[derive(Debug, Clone, PartialEq)]
pub struct Verdict {
    /// What the answer is.
    pub kind: VerdictKind,
    /// The answer in a word or two.
    pub word: String,
    /// The question.
    pub question: String,
    /// The answer in one sentence.
    pub answer: Words,
    /// What it rests on, what it leaves out.
    pub details: Vec<Words>,
}

/// A line to sign on.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct SignatureLine {
    /// In which capacity.
    pub role: String,
    /// What the signature means.
    pub meaning: String,
}
