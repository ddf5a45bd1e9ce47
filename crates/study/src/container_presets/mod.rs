//! Starting points: containers of open standards with their dimensions, and
//! generic ones, each turned into the beginning of a case.
//!
//! Dimensions of standards are from memory and carry that in their provenance:
//! whoever uses one checks it against the edition that the site holds, or
//! against the drawing. What a standard does not say (headspace, rig, cycle) is
//! a working value, marked as assumed, so that the list of missing information
//! begins long and honest.

mod begin;
mod sizes;

pub use begin::{BeginError, Contents, begin};
pub(crate) use begin::{fraction, pump as begin_pump, sensor as begin_sensor};
pub use sizes::{ContainerPreset, all, find};
