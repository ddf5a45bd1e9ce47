//! Notes that travel with every result.

/// A remark on a result: what was seen, and what to do about it.
///
/// Notes never change a number; they say under which conditions the number
/// may be used. `code` is stable, so that a program can act on it; `text` and
/// `next_step` are sentences for a report.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Note {
    /// Stable short name, in lower case with hyphens.
    pub code: &'static str,
    /// What was seen, as a sentence.
    pub text: String,
    /// What the reader can do next, as a sentence.
    pub next_step: String,
}

impl Note {
    /// A note from its three parts.
    #[must_use]
    pub fn new(code: &'static str, text: impl Into<String>, next_step: impl Into<String>) -> Self {
        Self { code, text: text.into(), next_step: next_step.into() }
    }
}

/// One assumption of a method, and what its check found.
///
/// A check that did not run (too few values, only a summary was given) says
/// so in `finding` and has no `held`.
#[derive(Debug, Clone, PartialEq)]
pub struct Assumption {
    /// The assumption, as a noun phrase.
    pub name: &'static str,
    /// The test that looked at it.
    pub test: &'static str,
    /// Its probability value, where the test has one.
    pub p_value: Option<f64>,
    /// Whether nothing spoke against it; `None` where it could not be checked.
    pub held: Option<bool>,
    /// The outcome as a sentence.
    pub finding: String,
}
