//! A pressure trace: what a rig records and what the simulator predicts.
//!
//! Both are the same type, so that no later step can treat them differently.

/// Stage of a test cycle.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Stage {
    /// The pump is open to the chamber.
    Evacuate,
    /// The chamber is isolated and comes to rest.
    Settle,
    /// The chamber is isolated and the rise counts.
    Measure,
    /// The chamber is opened to the room.
    Vent,
}

impl Stage {
    /// The trade's word for the stage.
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            Self::Evacuate => "evacuate",
            Self::Settle => "settle",
            Self::Measure => "measure",
            Self::Vent => "vent",
        }
    }
}

/// A stretch of the trace that belongs to one stage of one tier.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct StageSpan {
    /// Which stage.
    pub stage: Stage,
    /// Which tier of the cycle, counted from 1.
    pub tier: u16,
    /// Start, seconds from the start of the trace.
    pub start_s: f64,
    /// End, seconds from the start of the trace.
    pub end_s: f64,
}

/// Chamber pressure against time, with the stages where they are known.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct PressureTrace {
    /// Sample times, seconds from the start, never decreasing.
    pub times_s: Vec<f64>,
    /// Absolute chamber pressure at each time, Pa.
    pub pressures_pa: Vec<f64>,
    /// Chamber temperature at each time, K; empty where it was not recorded.
    pub temperatures_k: Vec<f64>,
    /// Stages in their order; empty where nothing is known of them.
    pub stages: Vec<StageSpan>,
}

impl PressureTrace {
    /// Number of samples.
    #[must_use]
    pub fn n_samples(&self) -> usize {
        self.times_s.len()
    }

    /// The last span of a stage in a tier, if the trace has one.
    #[must_use]
    pub fn span(&self, stage: Stage, tier: u16) -> Option<StageSpan> {
        self.stages.iter().rev().copied().find(|span| span.stage == stage && span.tier == tier)
    }

    /// Indices of the samples within a stretch of time, both ends included.
    #[must_use]
    pub fn samples_between(&self, start_s: f64, end_s: f64) -> core::ops::Range<usize> {
        let first = self.times_s.partition_point(|&time| time < start_s);
        let last = self.times_s.partition_point(|&time| time <= end_s);
        first..last.max(first)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn both_ends_of_a_stretch_belong_to_it() {
        let trace = PressureTrace { times_s: vec![0.0, 1.0, 2.0, 3.0], ..Default::default() };
        assert_eq!(trace.samples_between(1.0, 2.0), 1..3);
        assert_eq!(trace.samples_between(5.0, 4.0), 4..4);
    }
}
