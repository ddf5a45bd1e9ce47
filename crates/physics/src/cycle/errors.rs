//! Why a cycle cannot be simulated.

use crate::leak_paths::LeakPathError;

/// Refusal of the simulator.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum CycleError {
    /// A value that must be above zero is not.
    #[error("{what} is {value}; it must be above zero")]
    NotPositive {
        /// Which value, with its unit.
        what: &'static str,
        /// What was given.
        value: f64,
    },
    /// A value that must not be negative is, or is not a finite number.
    #[error("{what} is {value}; it must be zero or more, and finite")]
    Negative {
        /// Which value, with its unit.
        what: &'static str,
        /// What was given.
        value: f64,
    },
    /// Nothing to do.
    #[error("the cycle has no tier; give at least one")]
    NoTiers,
    /// A plugged hole without its liquid.
    #[error("the hole is plugged by a liquid that is not given; state the moisture it makes")]
    MissingLiquid,
    /// The trace would not fit.
    #[error(
        "the trace would have {samples} samples, more than {most}; use a longer sample interval"
    )]
    TooManySamples {
        /// Samples asked for.
        samples: f64,
        /// Most that are allowed.
        most: f64,
    },
    /// The leak path makes no sense.
    #[error("leak path: {0}")]
    Leak(#[from] LeakPathError),
    /// The equations are too stiff for the step limit.
    #[error(
        "the solver needed more than {steps} steps and stopped {time_s} s into the cycle; \
         a very short thermal recovery or a very large leak on a very small headspace does this: \
         lengthen the recovery or reduce the leak"
    )]
    TooStiff {
        /// Steps taken.
        steps: u32,
        /// Time reached, s.
        time_s: f64,
    },
}

impl CycleError {
    /// Stable code of the refusal.
    #[must_use]
    pub const fn code(&self) -> &'static str {
        match self {
            Self::NotPositive { .. } => "cycle_not_positive",
            Self::Negative { .. } => "cycle_negative",
            Self::NoTiers => "cycle_no_tiers",
            Self::MissingLiquid => "cycle_missing_liquid",
            Self::TooManySamples { .. } => "cycle_too_many_samples",
            Self::Leak(error) => error.code(),
            Self::TooStiff { .. } => "cycle_too_stiff",
        }
    }
}

/// Refuses a value that is not a number above zero.
pub(in crate::cycle) fn positive(what: &'static str, value: f64) -> Result<(), CycleError> {
    if value.is_finite() && value > 0.0 {
        Ok(())
    } else {
        Err(CycleError::NotPositive { what, value })
    }
}

/// Refuses a value that is not a number from zero up.
pub(in crate::cycle) fn not_negative(what: &'static str, value: f64) -> Result<(), CycleError> {
    if value.is_finite() && value >= 0.0 {
        Ok(())
    } else {
        Err(CycleError::Negative { what, value })
    }
}
