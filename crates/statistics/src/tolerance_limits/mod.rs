//! Limits that a stated share of a population stays below, with stated
//! confidence.
//!
//! A limit from few values must allow for the error of the mean and of the
//! standard deviation; "mean + 3 s" does not. Sources: ISO 16269-6:2014;
//! R. E. Odeh and D. B. Owen, Tables for Normal Tolerance Limits (1980).

pub mod nonparametric;
pub mod one_sided;
pub mod random_lots;
pub mod transformed;
pub mod two_errors;
pub mod two_sided;

pub use nonparametric::nonparametric_sample_size;
pub use one_sided::{
    ToleranceError, UpperLimit, one_sided_normal_factor, one_sided_normal_factor_excluding,
    upper_limit_from_summary, upper_limit_from_values,
};
pub use two_sided::{howe_factor, two_sided_normal_factor};
