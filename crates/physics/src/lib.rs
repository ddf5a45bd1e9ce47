//! The physics of a vacuum-decay test: one file per term of the equations.
//!
//! Pure functions of typed quantities. This room has no files, no clock, no
//! terminal and no unseeded chance, and it knows nothing of statistics.

pub mod container;
pub mod cycle;
pub mod gas_mixture;
pub mod gases;
pub mod headspace;
pub mod ingress;
pub mod leak_paths;
pub mod liquids;
pub mod outgassing;
pub mod permeation;
pub mod pump_down;
pub mod quantities;
mod roots;
pub mod sensor;
pub mod trace;

pub use trace::PressureTrace;
