//! A cycle with everything that can be beside leak, 1/t outgassing and one
//! pocket: water, moving containers, drifting temperature, leaks of the rig.
//!
//! Same gas balance as the plain cycle, further states, one lane. The plain
//! cycle is much faster and gives the same answer where nothing is added.

mod extras;
mod outcome;
mod rates;
mod run;
mod steps;
mod warming_leak;

pub use extras::{CycleExtras, Moisture, PumpPoint, WallDrift};
pub use outcome::{ExtendedOutcome, ExtendedTier, RiseParts};
pub use run::simulate_with;
