//! Which defect size to test next, when to stop, and how often that errs.
//!
//! Specimens are expensive and come in coarse sizes. A rule is chosen before
//! testing, stated in the protocol, and its error rates are simulated.

pub mod next_size;
pub mod rule;

pub use next_size::{NextSize, Phase, next_size, optimal_height};
pub use rule::{OperatingCharacteristics, Rule, TrueCurve, operating_characteristics};
