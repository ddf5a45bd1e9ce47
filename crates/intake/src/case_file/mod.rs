//! Case files: a profile, a rig and a first cycle, written by hand in TOML.
//!
//! Every quantity is text with its unit (`wall = "1 mm"`). Where a value has
//! an uncertainty and a source, it is written as a table:
//! `volume = { value = "3.6 mL", uncertainty = "0.1 mL", source = "measured",
//! from = "fill check 12" }`. A value without a source counts as assumed.

mod quantity_text;
mod read;
mod write;

pub use read::{CaseFile, UNSOURCED, read_case};
pub(crate) use write::toml_text;
pub use write::write_case;
