//! Proportions: how often, of how many, what that proves, and how many units
//! a claim needs.

pub mod acceptance;
pub mod bounds;
pub mod difference;
pub mod replicates;
pub mod sample_size;
pub mod single_plans;

pub use bounds::{ProportionBounds, clopper_pearson, jeffreys, wilson};
pub use sample_size::{demonstration_sample_size, success_run_sample_size};

pub(crate) use bounds::exact_upper;
