//! Why a written quantity was refused.

use core::fmt;

/// A written quantity that could not be read.
///
/// It names the text, what is wrong with it and how to write it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct QuantityError {
    /// The text as it was written.
    pub text: String,
    /// What is wrong.
    pub what: String,
    /// How to write it.
    pub hint: String,
}

impl QuantityError {
    pub(crate) fn new(text: &str, what: impl Into<String>, hint: impl Into<String>) -> Self {
        Self { text: text.to_owned(), what: what.into(), hint: hint.into() }
    }
}

impl fmt::Display for QuantityError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let shown = crate::message::quoted(&self.text);
        write!(f, "{shown}: {}. {}", self.what, self.hint)
    }
}

impl core::error::Error for QuantityError {}
