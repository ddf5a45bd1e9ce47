//! The refusal: why a statement cannot be made from the data given.

use thiserror::Error;

/// Why a statement cannot be made, with what was wrong and what to do next.
///
/// A refusal is a result. It is given instead of a number that would look
/// right and mean nothing.
#[derive(Debug, Clone, PartialEq, Error)]
pub enum CannotSay {
    /// Too few values, groups or levels for the method.
    #[error("cannot be said, because {what} number {got} and at least {needed} are needed")]
    TooFew {
        /// What was counted.
        what: String,
        /// Smallest number the method accepts.
        needed: usize,
        /// Number given.
        got: usize,
    },
    /// A value is not a finite number.
    #[error(
        "cannot be said, because {what} number {position} is {value}, which is not a finite number"
    )]
    NotFinite {
        /// What kind of value it is.
        what: String,
        /// Its place in the list, counted from 1.
        position: usize,
        /// The value as given.
        value: f64,
    },
    /// A value lies outside the range in which the method is defined.
    #[error("cannot be said, because {what} is {}, and only {allowed} is allowed", written(*value))]
    OutOfRange {
        /// What was given.
        what: String,
        /// The value as given.
        value: f64,
        /// The range, in words.
        allowed: String,
    },
    /// The data do not vary where the method lives on their variation.
    #[error("cannot be said, because {what} do not vary")]
    NoSpread {
        /// What does not vary.
        what: String,
    },
    /// The lengths of two lists differ.
    #[error("cannot be said, because {left} number {left_count} and {right} number {right_count}")]
    LengthsDiffer {
        /// Name of the first list.
        left: String,
        /// Its length.
        left_count: usize,
        /// Name of the second list.
        right: String,
        /// Its length.
        right_count: usize,
    },
    /// The data carry no answer to this question.
    #[error("cannot be said, because {reason}")]
    NotDetermined {
        /// The reason, as a clause.
        reason: String,
        /// What to do next, as a sentence.
        next_step: String,
    },
    /// The numbers are so large or small that double arithmetic overflows.
    #[error("cannot be said, because {what} leaves the range of double-precision arithmetic")]
    Overflow {
        /// The step that left the range.
        what: String,
    },
}

/// A value in the fewest characters: hundreds of zeros tell nobody a size.
fn written(value: f64) -> String {
    let size = value.abs();
    if size != 0.0 && size.is_finite() && !(1e-15..1e15).contains(&size) {
        format!("{value:e}")
    } else {
        value.to_string()
    }
}

impl CannotSay {
    /// What to do next, as a sentence.
    #[must_use]
    pub fn next_step(&self) -> String {
        match self {
            Self::TooFew { what, needed, .. } => {
                format!("Give at least {needed} {what}.")
            }
            Self::NotFinite { what, position, .. } => format!(
                "Look at {what} number {position} in the source; an aborted or missing reading is \
                 a censored reading, not a number."
            ),
            Self::OutOfRange { what, allowed, .. } => format!("Give {what} as {allowed}."),
            Self::NoSpread { what } => format!(
                "Check whether {what} were rounded, capped or copied; if they are truly equal, \
                 record more digits."
            ),
            Self::LengthsDiffer { left, right, .. } => {
                format!("Give one of {right} for each of {left}.")
            }
            Self::NotDetermined { next_step, .. } => next_step.clone(),
            Self::Overflow { .. } => {
                "Express the values in a unit that brings them near 1.".to_owned()
            }
        }
    }

    pub(crate) fn not_determined(reason: impl Into<String>, next_step: impl Into<String>) -> Self {
        Self::NotDetermined { reason: reason.into(), next_step: next_step.into() }
    }
}

/// Checks that every value is finite.
pub(crate) fn all_finite(what: &str, values: &[f64]) -> Result<(), CannotSay> {
    match values.iter().position(|value| !value.is_finite()) {
        None => Ok(()),
        Some(index) => Err(CannotSay::NotFinite {
            what: what.to_owned(),
            position: index + 1,
            value: values[index],
        }),
    }
}

/// Smallest size of a reading, other than zero, whose scatter can be worked out.
pub const SMALLEST: f64 = 1e-100;

/// Largest size of a reading whose scatter can be worked out.
pub const LARGEST: f64 = 1e100;

/// Whether a number is zero or of a size between [`SMALLEST`] and [`LARGEST`].
///
/// Squares and third powers of such numbers, and sums of a million million of
/// them, neither overflow nor vanish in double arithmetic (IEEE 754: 2.2e-308 to
/// 1.8e308).
///
/// # Example
/// ```
/// assert!(statistics::in_range(0.0) && statistics::in_range(-1e-12));
/// assert!(!statistics::in_range(1e308) && !statistics::in_range(1e-310));
/// ```
#[must_use]
pub fn in_range(value: f64) -> bool {
    value == 0.0 || (SMALLEST..=LARGEST).contains(&value.abs())
}

/// Whether values differ, but only by what rounding to a double leaves: at most
/// eight units in the last place (2.2e-16 of the largest). Columns computed from
/// others look so where they are constant.
///
/// # Example
/// ```
/// assert!(statistics::only_rounding(&[0.3, 0.1 + 0.2]));
/// assert!(!statistics::only_rounding(&[0.3, 0.3]) && !statistics::only_rounding(&[0.3, 0.301]));
/// ```
#[must_use]
pub fn only_rounding(values: &[f64]) -> bool {
    let (low, high, most) = values
        .iter()
        .fold((f64::INFINITY, f64::NEG_INFINITY, 0.0_f64), |(low, high, most), value| {
            (low.min(*value), high.max(*value), most.max(value.abs()))
        });
    high > low && high - low <= 8.0 * f64::EPSILON * most
}

/// Checks that every value is one whose scatter can be worked out.
pub(crate) fn all_in_range(what: &str, values: &[f64]) -> Result<(), CannotSay> {
    all_finite(what, values)?;
    match values.iter().position(|value| !in_range(*value)) {
        None => Ok(()),
        Some(index) => one_in_range(&format!("{what} number {}", index + 1), values[index]),
    }
}

/// The same of one number.
pub(crate) fn one_in_range(what: &str, value: f64) -> Result<(), CannotSay> {
    if in_range(value) {
        return Ok(());
    }
    Err(CannotSay::OutOfRange {
        what: what.to_owned(),
        value,
        allowed: format!("zero or a size between {SMALLEST:e} and {LARGEST:e}"),
    })
}

/// Checks that there are at least `needed` values.
pub(crate) fn at_least(what: &str, needed: usize, got: usize) -> Result<(), CannotSay> {
    if got < needed {
        return Err(CannotSay::TooFew { what: what.to_owned(), needed, got });
    }
    Ok(())
}

/// Checks that a probability lies strictly between 0 and 1.
pub(crate) fn open_probability(what: &str, value: f64) -> Result<(), CannotSay> {
    if value > 0.0 && value < 1.0 {
        return Ok(());
    }
    Err(CannotSay::OutOfRange {
        what: what.to_owned(),
        value,
        allowed: "a number between 0 and 1, such as 0.95".to_owned(),
    })
}

/// Checks that a number is finite and greater than zero.
pub(crate) fn positive(what: &str, value: f64) -> Result<(), CannotSay> {
    if value > 0.0 && value.is_finite() {
        return Ok(());
    }
    Err(CannotSay::OutOfRange {
        what: what.to_owned(),
        value,
        allowed: "a finite number greater than zero".to_owned(),
    })
}

/// Checks that a number is finite and not negative.
pub(crate) fn not_negative(what: &str, value: f64) -> Result<(), CannotSay> {
    if value >= 0.0 && value.is_finite() {
        return Ok(());
    }
    Err(CannotSay::OutOfRange {
        what: what.to_owned(),
        value,
        allowed: "a finite number of zero or more".to_owned(),
    })
}

/// Checks that a single number is finite.
pub(crate) fn finite(what: &str, value: f64) -> Result<(), CannotSay> {
    if value.is_finite() {
        return Ok(());
    }
    Err(CannotSay::OutOfRange {
        what: what.to_owned(),
        value,
        allowed: "a finite number".to_owned(),
    })
}

/// Passes a computed number on if it is finite, refuses it otherwise.
pub(crate) fn computed(what: &str, value: f64) -> Result<f64, CannotSay> {
    if value.is_finite() { Ok(value) } else { Err(CannotSay::Overflow { what: what.to_owned() }) }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_refusal_names_the_place_and_the_next_step() {
        let refusal = all_finite("readings", &[1.0, f64::NAN]).unwrap_err();
        assert!(refusal.to_string().contains("readings number 2"));
        assert!(refusal.next_step().contains("censored"));
    }

    #[test]
    fn bounds_of_a_probability_are_refused() {
        assert!(open_probability("confidence", 0.0).is_err());
        assert!(open_probability("confidence", 1.0).is_err());
        assert!(open_probability("confidence", f64::NAN).is_err());
        assert!(open_probability("confidence", 0.95).is_ok());
    }
}
