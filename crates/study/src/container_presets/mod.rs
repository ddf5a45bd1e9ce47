//! Starting points: containers of open standards with their dimensions, and
//! generic ones, each turned into the beginning of a case.
//!
//! Dimensions of standards are from memory and carry that in their provenance:
//! public catalogues show the editions and their scopes, which were looked up,
//! but none of the tables. Whoever uses one checks it against the copy that the
//! site holds, or against the drawing. What a standard does not say (headspace, rig, cycle) is
//! a working value, marked as assumed, so that the list of missing information
//! begins long and honest.

mod begin;
mod sizes;

pub use begin::{BeginError, Contents, begin};
pub(crate) use begin::{fraction, pump as begin_pump, sensor as begin_sensor};
pub use sizes::{ContainerPreset, all, find};
