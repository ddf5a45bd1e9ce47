//! Routine monitoring: charts with frozen limits, run lengths, capability.

pub mod capability;
pub mod change_point;
pub mod constants;
pub mod cusum;
pub mod ewma;
pub mod individuals;
pub mod means;
pub mod zones;

use crate::note::Assumption;

/// What the run lengths of sums and of smoothed values suppose.
fn run_length_assumptions() -> Vec<Assumption> {
    vec![
        Assumption::unchecked(
            "normal readings, independent of their neighbours",
            "von Neumann ratio",
            "the run lengths of this chart suppose both; check the readings from which target and \
             sigma were taken",
        ),
        Assumption::unchecked(
            "target and sigma known",
            "number of first-phase readings",
            "they were given; from fewer than some hundred readings the real run lengths differ \
             widely from the computed ones",
        ),
    ]
}
