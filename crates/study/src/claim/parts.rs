//! The claim as stretches of words, each with what it rests on, so that a
//! printer can lead from every number to its evidence.

/// What a stretch of the claim rests on.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum RestsOn {
    /// The method in force.
    Method,
    /// Readings of positive controls against their size.
    Readings,
    /// Positive controls found and missed, by size.
    HitsAndMisses,
    /// The reject limit from negative controls.
    NegativeControls,
    /// The rig of the case.
    Rig,
}

/// A stretch of the claim.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ClaimPart {
    /// The words.
    pub text: String,
    /// What they rest on; `None` for words that join.
    pub rests_on: Option<RestsOn>,
}

impl ClaimPart {
    /// Words that join.
    pub(super) fn words(text: impl Into<String>) -> Self {
        Self { text: text.into(), rests_on: None }
    }

    /// Words that rest on something.
    pub(super) fn on(rests_on: RestsOn, text: impl Into<String>) -> Self {
        Self { text: text.into(), rests_on: Some(rests_on) }
    }
}

/// The stretches as one sentence.
pub(super) fn sentence(parts: &[ClaimPart]) -> Option<String> {
    (!parts.is_empty()).then(|| parts.iter().map(|part| part.text.as_str()).collect())
}
