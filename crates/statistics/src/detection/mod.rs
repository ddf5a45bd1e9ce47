//! Probability of detection from hits and misses.

pub mod link;
pub mod separation;

mod fit;
mod likelihood;
mod profile;

pub use fit::{HitMiss, HitMissFit, fit_hit_miss};
pub use link::Link;
pub use separation::Separation;
