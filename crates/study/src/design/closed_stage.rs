//! One long closed stage, from which every settling and measuring time is
//! read.

use physics::cycle::CycleOutcome;
use physics::trace::Stage;

use crate::trace_features::level_samples;

/// The last, long closed stage of a simulated cycle.
#[derive(Debug, Clone)]
pub(super) struct ClosedStage {
    /// When the valve closed, s.
    pub start_s: f64,
    /// Sums of the pressure of the first so many samples, less the first
    /// pressure so that the sums keep their digits, Pa.
    sums: Vec<f64>,
    interval_s: f64,
    /// Pressure at the end of the last evacuation, Pa.
    pub reached_pa: f64,
    pub reached_target: bool,
}

impl ClosedStage {
    /// Reads a cycle whose last tier settles for no time and measures long.
    pub fn read(outcome: &CycleOutcome, interval_s: f64) -> Option<Self> {
        let number = u16::try_from(outcome.tiers.len()).ok()?;
        let span = outcome.trace.span(Stage::Measure, number)?;
        let range = outcome.trace.samples_between(span.start_s, span.end_s);
        let pressures = outcome.trace.pressures_pa.get(range.clone())?;
        let origin = *pressures.first()?;
        let mut total = 0.0;
        let mut sums = Vec::with_capacity(pressures.len() + 1);
        sums.push(0.0);
        for pressure in pressures {
            total += pressure - origin;
            sums.push(total);
        }
        let last = outcome.tiers.last()?;
        Some(Self {
            start_s: *outcome.trace.times_s.get(range.start)?,
            sums,
            interval_s,
            reached_pa: last.pressure_at_settle_end.pa(),
            reached_target: last.reached_target,
        })
    }

    /// Rise over a measuring time after a settling time, read as a method
    /// reads it, Pa, with the number of samples.
    pub fn rise(&self, settle_s: f64, measure_s: f64) -> Option<(f64, usize)> {
        let first = (settle_s / self.interval_s).round() as usize;
        let n = (measure_s / self.interval_s).round() as usize + 1;
        let end = first + n;
        if n < 2 || end >= self.sums.len() {
            return None;
        }
        let k = level_samples(n).min(n / 2).max(1);
        let mean = |from: usize| (self.sums[from + k] - self.sums[from]) / k as f64;
        Some((mean(end - k) - mean(first), n))
    }
}
