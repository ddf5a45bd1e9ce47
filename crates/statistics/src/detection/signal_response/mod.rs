//! Probability of detection from signals that carry a number.
//!
//! A line of the signal against size, with readings below a floor, above a
//! cap, and plain hits and misses taken as what they are: statements that the
//! signal lies above or below a value. [`censored_line`] takes every reading
//! as a unit of its own; [`signal_response`] gives units an effect of their
//! own, so that repeated readings of one unit do not count as units, and lets
//! the scatter change with size. [`kinds_agree`] says whether hits and readings
//! that were joined tell the same curve.

mod censored_line;
mod kinds_agree;
mod place;
#[cfg(test)]
mod place_coverage;
mod spread;
mod unit_checks;
mod unit_effects;
mod unit_likelihood;
mod unit_means;

pub use censored_line::{CensoredLine, censored_line};
pub use kinds_agree::{KindsAgree, kinds_agree};
pub use place::Place;
pub use spread::Spread;
pub use unit_effects::{LikelihoodRatio, SignalResponse, signal_response};

/// What is known of one signal.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Signal {
    /// It was read.
    Read(f64),
    /// It lies below this value (noise floor, or a miss at the decision
    /// threshold).
    Below(f64),
    /// It lies above this value (saturation, an aborted run, or a hit at the
    /// decision threshold).
    Above(f64),
}

impl Signal {
    /// The number it carries.
    #[must_use]
    pub fn value(self) -> f64 {
        let (Self::Read(y) | Self::Below(y) | Self::Above(y)) = self;
        y
    }

    /// The same statement about another number.
    pub(crate) fn map(self, change: impl Fn(f64) -> f64) -> Self {
        match self {
            Self::Read(y) => Self::Read(change(y)),
            Self::Below(y) => Self::Below(change(y)),
            Self::Above(y) => Self::Above(change(y)),
        }
    }
}
