//! Upkeep: is the method still what was proven? Not yet built.
//!
//! Suitability checks, control charts, drift, transfer and change review
//! belong here. Until then the pages say plainly that this step is missing.

/// What is said where a reader looks for upkeep.
pub const NOT_YET: &str = "Upkeep is not built yet: suitability checks, charts, drift and transfer \
                           must be kept by the site's own procedures.";
