//! Where a number came from. Every stored number carries this.

/// How a number came to be known.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Origin {
    /// Read from an instrument or a sample.
    Measured,
    /// Taken from a standard, a paper, a drawing or a certificate.
    Published,
    /// Taken as a working value; nobody has shown it yet.
    Assumed,
    /// Worked out here from other numbers.
    Computed,
}

impl Origin {
    /// The word that is printed and read.
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            Self::Measured => "measured",
            Self::Published => "published",
            Self::Assumed => "assumed",
            Self::Computed => "computed",
        }
    }

    /// The origin of this word, if it is one.
    #[must_use]
    pub fn from_word(word: &str) -> Option<Self> {
        [Self::Measured, Self::Published, Self::Assumed, Self::Computed]
            .into_iter()
            .find(|origin| origin.word() == word)
    }
}

/// Who said it, when, and from what.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Provenance {
    /// How the number came to be known.
    pub origin: Origin,
    /// Person or program; empty where it was not said.
    pub by: String,
    /// Date as text, ISO 8601; empty where it was not said.
    pub on: String,
    /// Document, certificate, sample or formula; empty where it was not said.
    pub from: String,
}

impl Provenance {
    /// A working value with the reason for taking it.
    #[must_use]
    pub fn assumed(from: impl Into<String>) -> Self {
        Self { origin: Origin::Assumed, by: String::new(), on: String::new(), from: from.into() }
    }

    /// A value taken from a document.
    #[must_use]
    pub fn published(from: impl Into<String>) -> Self {
        Self { origin: Origin::Published, by: String::new(), on: String::new(), from: from.into() }
    }

    /// A value worked out here, and from what.
    #[must_use]
    pub fn computed(from: impl Into<String>) -> Self {
        Self { origin: Origin::Computed, by: String::new(), on: String::new(), from: from.into() }
    }
}

/// A value with its uncertainty and its birth certificate.
#[derive(Debug, Clone, PartialEq)]
pub struct Sourced<T> {
    /// The value.
    pub value: T,
    /// Standard uncertainty in the SI unit of the value; absent is not zero.
    pub standard_uncertainty_si: Option<f64>,
    /// Where it came from.
    pub provenance: Provenance,
}

impl<T> Sourced<T> {
    /// A value without a stated uncertainty.
    pub fn new(value: T, provenance: Provenance) -> Self {
        Self { value, standard_uncertainty_si: None, provenance }
    }

    /// The same value with a standard uncertainty in its SI unit.
    #[must_use]
    pub fn with_uncertainty_si(mut self, standard_uncertainty_si: f64) -> Self {
        self.standard_uncertainty_si = Some(standard_uncertainty_si);
        self
    }
}
