//! How well a candidate detects, read from its closed stages.

use super::closed_stage::ClosedStage;
use crate::case_input::CaseInput;
use crate::forecast::response::{
    REACH_LIMIT_DEVIATIONS, REACH_LIMIT_FACTOR, TierForecast, reach_deviation,
};
use crate::forecast::window::{self, Edges};
use crate::trace_features;

/// A leak of one size in one cycle: what its early tiers miss, and its last
/// closed stage.
#[derive(Debug, Clone)]
pub(super) struct SizeCurve {
    pub flow_equivalent_um: f64,
    /// Probability that no early tier and no reach limit finds it.
    pub missed_early: f64,
    /// Absent where the cycle ended before it.
    pub stage: Option<ClosedStage>,
}

/// A choice of early tiers and pressure, with its curves.
#[derive(Debug, Clone)]
pub(super) struct Curves {
    /// Time of a tight unit up to the last closed stage, s.
    pub tight_start_s: f64,
    pub tight: ClosedStage,
    pub sizes: Vec<SizeCurve>,
    /// Rise limits that share the tolerable false rejects.
    pub rise_limits: usize,
}

/// Probability of passing a reach limit that was set from tight units.
pub(super) fn missed_by_reach(input: &CaseInput, tight_pa: f64, reached_pa: f64) -> f64 {
    let limit = (tight_pa * REACH_LIMIT_FACTOR)
        .max(tight_pa + REACH_LIMIT_DEVIATIONS * reach_deviation(input, tight_pa));
    digits::normal::cumulative((limit - reached_pa) / reach_deviation(input, reached_pa))
}

/// Probability of passing the rise limit of an early tier.
pub(super) fn missed_by_rise(tier: &TierForecast, rise_pa: f64) -> f64 {
    tier.rise_limit_pa
        .map_or(1.0, |limit| digits::normal::cumulative((limit - rise_pa) / tier.tight_rise_sd_pa))
}

/// Edges of the window for a settling and a measuring time.
pub(super) fn edges(
    input: &CaseInput,
    curves: &Curves,
    settle_s: f64,
    measure_s: f64,
) -> Option<Edges> {
    let purpose = &input.profile.purpose;
    let (tight_rise_pa, n) = curves.tight.rise(settle_s, measure_s)?;
    let noise_pa = trace_features::rise_noise_of_samples_pa(&input.rig.sensor, n);
    let background_pa = input.rig.background_spread * tight_rise_pa;
    let sd_pa = (background_pa * background_pa + noise_pa * noise_pa).sqrt();
    let tolerable = purpose.tolerable_false_reject.fraction() / curves.rise_limits as f64;
    let limit_pa = tight_rise_pa + digits::normal::quantile(1.0 - tolerable.max(1e-9)) * sd_pa;
    // A gauge at its end can tell neither a rise at the limit nor a pass.
    if curves.tight.reached_pa + limit_pa >= input.rig.sensor.range.pa() {
        return None;
    }
    let points: Vec<(f64, f64)> = curves
        .sizes
        .iter()
        .map(|size| {
            let missed = match &size.stage {
                None => 0.0,
                Some(stage) => stage.rise(settle_s, measure_s).map_or(1.0, |(rise_pa, _)| {
                    digits::normal::cumulative((limit_pa - rise_pa) / sd_pa)
                }),
            };
            (size.flow_equivalent_um, 1.0 - size.missed_early * missed)
        })
        .collect();
    Some(window::edges_of(&points, purpose.required_detection))
}
