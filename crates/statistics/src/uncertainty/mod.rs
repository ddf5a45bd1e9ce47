//! Uncertainty of a computed quantity, and of an average over time.

pub mod allan;
pub mod correlation;
pub mod monte_carlo;
pub mod propagation;

pub use monte_carlo::{Distribution, MonteCarlo, monte_carlo, monte_carlo_correlated};
pub use propagation::{Budget, Input, propagate};
