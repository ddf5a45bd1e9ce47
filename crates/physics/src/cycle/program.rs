//! What a lane has to run: constants, start, stages.

use digits::scalar::ln_1p;

use super::rates::{LaneConstants, N};

/// When a measuring stage ends.
#[derive(Debug, Clone, Copy)]
pub(super) enum MeasureEnd {
    /// So long after its start, s.
    After(f64),
    /// At this time of the cycle, s.
    At(f64),
}

/// One tier in plain numbers.
#[derive(Debug, Clone, Copy)]
pub(super) struct TierPlan {
    pub target_pa: f64,
    pub evacuate_limit_s: f64,
    pub reach_limit_pa: Option<f64>,
    pub settle_s: f64,
    pub measure: MeasureEnd,
    pub rise_limit_pa: Option<f64>,
}

/// A cycle ready for a lane.
#[derive(Debug, Clone)]
pub(super) struct Program<K> {
    pub constants: LaneConstants,
    pub leak: Option<K>,
    /// State at the start, in the places of a closed chamber.
    pub start: [f64; N],
    pub tiers: Vec<TierPlan>,
    pub interval_s: f64,
    pub wall_k: f64,
}

impl<K> Program<K> {
    /// Gas outgassed from one time to another, in closed form, Pa·m³.
    pub fn outgassed(&self, from_s: f64, to_s: f64) -> f64 {
        let c = &self.constants;
        let desorbed = if c.one_over_t > 0.0 {
            c.one_over_t * ln_1p((to_s - from_s) / (from_s + c.one_over_t_offset_s))
        } else {
            0.0
        };
        desorbed + c.constant * (to_s - from_s)
    }

    /// Longest time that the cycle can take, s.
    pub fn longest_s(&self) -> f64 {
        self.tiers.iter().fold(0.0, |time, tier| {
            let start = time + tier.evacuate_limit_s + tier.settle_s;
            match tier.measure {
                MeasureEnd::After(length) => start + length,
                MeasureEnd::At(end) => start.max(end),
            }
        })
    }
}
