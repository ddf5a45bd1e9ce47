//! A check beside detection, with its outcome.

/// How a check came out.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum CheckOutcome {
    /// Nothing speaks against it.
    Met,
    /// Something speaks against it.
    NotMet,
    /// A figure is missing.
    Open,
}

impl CheckOutcome {
    /// The word that is printed.
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            Self::Met => "met",
            Self::NotMet => "not met",
            Self::Open => "open",
        }
    }
}

/// A check with its outcome.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Check {
    /// What was checked.
    pub subject: String,
    /// How it came out.
    pub outcome: CheckOutcome,
    /// The figures, and what to do where it is not met.
    pub finding: String,
}

/// A check from its parts.
pub(crate) fn check(subject: &str, outcome: CheckOutcome, finding: String) -> Check {
    Check { subject: subject.to_owned(), outcome, finding }
}
