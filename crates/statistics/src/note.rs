//! Notes that travel with every result.

use crate::cannot_say::CannotSay;

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

impl Assumption {
    /// An assumption that was tested: nothing speaks against it where the
    /// probability value is at least `least`.
    #[must_use]
    pub fn tested(
        name: &'static str,
        test: &'static str,
        p_value: f64,
        least: f64,
        finding: impl Into<String>,
    ) -> Self {
        if !p_value.is_finite() {
            return Self::unchecked(name, test, "its probability value leaves double arithmetic");
        }
        Self {
            name,
            test,
            p_value: Some(p_value),
            held: Some(p_value >= least),
            finding: finding.into(),
        }
    }

    /// An assumption whose check is a yes or no without a probability value.
    #[must_use]
    pub fn looked_at(
        name: &'static str,
        test: &'static str,
        held: bool,
        finding: impl Into<String>,
    ) -> Self {
        Self { name, test, p_value: None, held: Some(held), finding: finding.into() }
    }

    /// An assumption whose check refused the data, with its reason.
    #[must_use]
    pub fn refused(name: &'static str, test: &'static str, refusal: &CannotSay) -> Self {
        let reason = match refusal {
            CannotSay::NotFinite { what, position, .. } => {
                format!("{what} number {position} is not a finite number")
            }
            other => other.to_string(),
        };
        Self::unchecked(name, test, reason.trim_start_matches("cannot be said, because "))
    }

    /// An assumption that was not checked: `test` names what would look at it,
    /// `reason` says why that was not done or how the reader can do it.
    #[must_use]
    pub fn unchecked(name: &'static str, test: &'static str, reason: impl AsRef<str>) -> Self {
        let finding = format!("Not checked: {}.", reason.as_ref().trim_end_matches('.'));
        Self { name, test, p_value: None, held: None, finding }
    }
}
