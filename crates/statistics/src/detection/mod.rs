//! Probability of detection from hits and misses.

pub mod false_calls;
pub mod link;
pub mod logistic;
pub mod posterior;
pub mod separation;
pub mod signal_response;
pub mod single_trials;
pub mod small_sample;
mod trial_sums;

mod curve;
mod firth;
mod fit;
mod likelihood;
mod linear_separation;
mod profile;
#[cfg(test)]
mod small_sample_coverage;

pub use false_calls::{FalseCallFit, Floor, fit_with_false_calls};
pub use firth::PenalisedFit;
pub use fit::{HitMiss, HitMissFit, fit_hit_miss};
pub use link::Link;
pub use separation::Separation;
pub use single_trials::{SingleTrials, bootstrap_place, fit_single_trials};
pub use small_sample::Simulation;
