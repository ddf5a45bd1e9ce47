//! Names of the documents that can be composed.

use crate::document::DocumentKind;

/// A document of a case, by the name that people type.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum DocumentName {
    /// The study report; the feasibility report before there are results.
    Study,
    /// The claim on one page.
    Claim,
    /// The study protocol, from plan and criteria alone.
    Protocol,
    /// The limit rationale.
    Limit,
    /// Container and product profile.
    Profile,
    /// Method sheet and development record.
    Method,
    /// Fixture requirement and free-volume record.
    Fixture,
    /// MALL memo.
    Mall,
    /// Flow calibration record.
    Flow,
    /// Register of positive controls and flow standards.
    Register,
}

impl DocumentName {
    /// Every document, in the order in which a reader needs them.
    pub const ALL: [Self; 10] = [
        Self::Study,
        Self::Claim,
        Self::Protocol,
        Self::Limit,
        Self::Profile,
        Self::Method,
        Self::Fixture,
        Self::Mall,
        Self::Flow,
        Self::Register,
    ];

    /// The name that is typed.
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            Self::Study => "study",
            Self::Claim => "claim",
            Self::Protocol => "protocol",
            Self::Limit => "limit",
            Self::Profile => "profile",
            Self::Method => "method",
            Self::Fixture => "fixture",
            Self::Mall => "mall",
            Self::Flow => "flow",
            Self::Register => "register",
        }
    }

    /// The document of this name, if there is one.
    #[must_use]
    pub fn from_word(word: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|name| name.word() == word)
    }

    /// What the document says, in one line.
    #[must_use]
    pub const fn says(self) -> &'static str {
        match self {
            Self::Study => "what was done, what it shows, every run accounted for",
            Self::Claim => "what may be claimed, and what not, on one page",
            Self::Protocol => "design, criteria and run sheet, fixed before the first run",
            Self::Limit => "how the rise limit was set, and what it rests on",
            Self::Profile => "container and product, the origin of every value, what is missing",
            Self::Method => "what to set, and the reason for every parameter",
            Self::Fixture => "what the chamber must do, and the record of its free volume",
            Self::Mall => "which leak matters, by every route, and the gap to what the test sees",
            Self::Flow => "what the reading says of a known flow; no certificate",
            Self::Register => "positive controls and flow standards, certificates, checks, use",
        }
    }

    /// Kind of the document for a case with or without results.
    pub(super) const fn kind(self, has_results: bool) -> DocumentKind {
        match self {
            Self::Study if has_results => DocumentKind::Study,
            Self::Study => DocumentKind::Feasibility,
            Self::Claim => DocumentKind::Claim,
            Self::Protocol => DocumentKind::Protocol,
            Self::Limit => DocumentKind::Limit,
            Self::Profile => DocumentKind::Profile,
            Self::Method => DocumentKind::Method,
            Self::Fixture => DocumentKind::Fixture,
            Self::Mall => DocumentKind::Mall,
            Self::Flow => DocumentKind::Flow,
            Self::Register => DocumentKind::Register,
        }
    }
}
