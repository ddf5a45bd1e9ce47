//! Distribution functions, their complements and quantiles.
//!
//! Each family is one file with `cumulative`, `survival` (the upper tail
//! without cancellation) and `quantile`. They are mathematical functions:
//! outside their domain they return NaN, like the logarithm of a negative
//! number. The methods above check their input first, so no NaN leaves them.

pub mod beta;
pub mod binomial;
pub mod chi_squared;
pub mod f;
pub mod noncentral_t;
pub mod normal;
pub mod student_t;

pub(crate) mod chi_lanes;
pub(crate) mod incomplete_beta;
pub(crate) mod incomplete_gamma;
pub(crate) mod normal_lanes;
pub(crate) mod stirling;
