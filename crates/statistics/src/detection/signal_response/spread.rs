//! How the scatter of signals goes with their size.

use crate::cannot_say::CannotSay;
use digits::scalar::{exp, ln};

/// How the standard deviation of a signal goes with the size of the leak.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Spread {
    /// The same at every size.
    Constant,
    /// As a power of the mean signal: `sd = sd_ref (mean / mean_ref)^exponent`.
    PowerOfMean,
    /// Its logarithm is a line in size: `sd = sd_ref exp(exponent (x - x_ref))`.
    LogLinearInSize,
}

impl Spread {
    /// Name in words.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Self::Constant => "constant",
            Self::PowerOfMean => "power of the mean signal",
            Self::LogLinearInSize => "log-linear in size",
        }
    }

    /// Factor of the standard deviation at a place with this mean, on the axes
    /// of the fit; `None` where the mean is not positive and must be.
    pub(super) fn factor(self, exponent: f64, x: f64, mean: f64) -> Option<f64> {
        let value = match self {
            Self::Constant => 1.0,
            Self::LogLinearInSize => exp(exponent * x),
            Self::PowerOfMean if mean > 0.0 => exp(exponent * ln(mean)),
            Self::PowerOfMean => return None,
        };
        (value.is_finite() && value > 0.0).then_some(value)
    }

    /// Refuses signals for which a power of the mean has no meaning.
    pub(super) fn check(self, read: &[f64]) -> Result<(), CannotSay> {
        match read.iter().copied().find(|y| !(*y > 0.0)) {
            Some(value) if self == Self::PowerOfMean => Err(CannotSay::OutOfRange {
                what: "a signal".into(),
                value,
                allowed: "a number above zero, because the scatter was asked for as a power of \
                          the mean; or let the scatter go with size"
                    .into(),
            }),
            _ => Ok(()),
        }
    }
}
