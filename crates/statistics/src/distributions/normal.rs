//! Standard normal distribution.
//!
//! The functions are those of the crate `digits`, on which the random streams
//! rest as well; they are named here so that every family is found in one
//! place.

pub use digits::normal::{cumulative, density, quantile, survival};
