//! Statistics of small, expensive, dirty samples.
//!
//! Plain numbers go in; an estimate comes out with its interval and its
//! [`Account`]: the method, the number that counts, the assumptions with the
//! outcome of their checks, and notes with a next step. Where
//! the data carry no answer the result is a refusal that begins "cannot be
//! said, because" ([`CannotSay`]); no function of a method returns NaN.
//!
//! The room knows nothing of leaks. It has no files, clock, network or
//! unseeded chance: every simulation takes a seed.

// Comparisons are negated on purpose: `!(x > 0.0)` refuses NaN as well.
// Matrix code reads better with its indices.
#![allow(clippy::neg_cmp_op_on_partial_ord, clippy::nonminimal_bool, clippy::needless_range_loop)]

pub mod account;
pub mod adaptive_study;
pub mod assumptions;
pub mod autocorrelation;
pub mod cannot_say;
pub mod comparison;
pub mod control_charts;
pub mod detection;
pub mod distributions;
pub mod experiments;
pub mod interlaboratory;
pub mod note;
pub mod proportions;
pub mod regression;
pub mod size_exponent;
pub mod summaries;
pub mod tolerance_limits;
pub mod uncertainty;
pub mod variance_components;

mod ascent;
mod quadrature;

pub use account::{Account, Counted};
pub use cannot_say::{CannotSay, LARGEST, SMALLEST, in_range, only_rounding};
pub use note::{Assumption, Note};
