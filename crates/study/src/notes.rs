//! Notes: what a result wants its reader to know, and what to do next.

/// How much a note matters.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Weight {
    /// Good to know.
    Remark,
    /// The number stands, but with a condition.
    Caution,
    /// Something cannot be said.
    Refusal,
}

impl Weight {
    /// The word that is printed.
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            Self::Remark => "remark",
            Self::Caution => "caution",
            Self::Refusal => "cannot be said",
        }
    }

    /// The weight of this word, if it is one.
    #[must_use]
    pub fn from_word(word: &str) -> Option<Self> {
        [Self::Remark, Self::Caution, Self::Refusal]
            .into_iter()
            .find(|weight| weight.word() == word)
    }
}

/// A note on a result.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Note {
    /// Stable short name, for scripts and tests.
    pub code: String,
    /// How much it matters.
    pub weight: Weight,
    /// What is so.
    pub text: String,
    /// One thing to do next; empty where there is nothing to do.
    pub next_step: String,
}

impl Note {
    /// A note of the given weight.
    #[must_use]
    pub fn new(
        weight: Weight,
        code: impl Into<String>,
        text: impl Into<String>,
        next_step: impl Into<String>,
    ) -> Self {
        Self { code: code.into(), weight, text: text.into(), next_step: next_step.into() }
    }

    /// Good to know.
    #[must_use]
    pub fn remark(
        code: impl Into<String>,
        text: impl Into<String>,
        next_step: impl Into<String>,
    ) -> Self {
        Self::new(Weight::Remark, code, text, next_step)
    }

    /// The number stands with a condition.
    #[must_use]
    pub fn caution(
        code: impl Into<String>,
        text: impl Into<String>,
        next_step: impl Into<String>,
    ) -> Self {
        Self::new(Weight::Caution, code, text, next_step)
    }

    /// Something cannot be said.
    #[must_use]
    pub fn refusal(
        code: impl Into<String>,
        text: impl Into<String>,
        next_step: impl Into<String>,
    ) -> Self {
        Self::new(Weight::Refusal, code, text, next_step)
    }
}

impl From<statistics::note::Note> for Note {
    /// A statistical note keeps its text and next step; it is a caution,
    /// because the number beside it still stands.
    fn from(note: statistics::note::Note) -> Self {
        Self::caution(note.code, note.text, note.next_step)
    }
}
