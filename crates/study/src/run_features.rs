//! Everything that is read from one run: the window's features, the
//! evacuation, curvature, temperature, and what keeps it from being evaluated.

use physics::cycle::Tier;
use physics::trace::{PressureTrace, Stage};

use crate::forensics::saturated_from;
use crate::trace_features::{self, TraceFeatures};

/// Why a run, or its rise, may not be taken as it stands.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum RunFlag {
    /// The gauge stood at the end of its range: the rise is at least what was
    /// read (right-censored).
    Saturated,
    /// The gauge did not move.
    Stuck,
    /// The trace ends before the measure stage does.
    Short,
    /// Samples are missing within the measure stage.
    Gap,
    /// The pressure to reach was not reached: the run ended by its limit.
    ReachNotMet,
    /// Where the stages begin and end is not sure, and the rise holds only if they
    /// do.
    StagesUnsure,
}

impl RunFlag {
    /// Stable short name.
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            Self::Saturated => "saturated",
            Self::Stuck => "stuck",
            Self::Short => "short",
            Self::Gap => "gap",
            Self::ReachNotMet => "reach-not-met",
            Self::StagesUnsure => "stages-unsure",
        }
    }
}

/// What is read from one run.
#[derive(Debug, Clone, PartialEq)]
pub struct RunFeatures {
    /// Levels, rise, slope and noise of the measure stage.
    pub window: TraceFeatures,
    /// From the start of pumping to the pressure that was to be reached, s;
    /// to the end of pumping where no pressure was named.
    pub time_to_reach_s: Option<f64>,
    /// 95 % interval of the slope with the autocorrelation of the noise, Pa/s.
    pub slope_interval: Option<(f64, f64)>,
    /// Second derivative of a parabola through the stage, Pa/s².
    pub curvature_pa_per_s2: Option<f64>,
    /// Its standard error, enlarged as that of the slope.
    pub curvature_standard_error: Option<f64>,
    /// Temperature at the end of the stage less that at its start, K.
    pub temperature_change_k: Option<f64>,
    /// Moment from which on the gauge stood at its end, s.
    pub saturated_from_s: Option<f64>,
    /// Number of that sample.
    pub full_from: Option<usize>,
    /// What keeps the run from being taken as it stands.
    pub flags: Vec<RunFlag>,
}

/// Reads a run whose stages are known; `None` where its tier has no measure
/// stage with at least two samples.
#[must_use]
pub fn read_run(
    trace: &PressureTrace,
    number: u16,
    tier: Option<&Tier>,
    full_scale_pa: Option<f64>,
) -> Option<RunFeatures> {
    let window = trace_features::read(trace, number)?;
    let span = trace.span(Stage::Measure, number)?;
    let range = trace.samples_between(span.start_s, span.end_s);
    let (times, pressures) = (&trace.times_s[range.clone()], &trace.pressures_pa[range.clone()]);
    let mut flags = Vec::new();
    let saturated = saturated_from(trace, range.clone(), full_scale_pa);
    if saturated.is_some() {
        flags.push(RunFlag::Saturated);
    }
    if pressures.iter().all(|value| *value == pressures[0]) && saturated.is_none() {
        flags.push(RunFlag::Stuck);
    }
    let interval = median_interval(times);
    let longest = times.windows(2).map(|pair| pair[1] - pair[0]).fold(0.0, f64::max);
    if longest > 3.5 * interval {
        flags.push(RunFlag::Gap);
    }
    let wanted_s = tier.map(|tier| tier.measure.s());
    if wanted_s.is_some_and(|wanted| span.end_s - span.start_s < wanted - 1.5 * interval) {
        flags.push(RunFlag::Short);
    }
    let reach = tier.and_then(|tier| tier.reach_limit);
    if let (Some(limit), Some(reached)) = (reach, trace_features::lowest_reached_pa(trace, number))
        && reached > limit.pa()
    {
        flags.push(RunFlag::ReachNotMet);
    }
    let slope = statistics::autocorrelation::slope_with_autocorrelation(times, pressures).ok();
    let slope_interval = slope.as_ref().and_then(|slope| slope.interval(0.95).ok());
    let enlarged = slope
        .as_ref()
        .filter(|slope| slope.naive_standard_error > 0.0)
        .map_or(1.0, |slope| slope.standard_error / slope.naive_standard_error);
    let bent = curvature(times, pressures);
    let temperatures = trace.temperatures_k.get(range.clone());
    Some(RunFeatures {
        time_to_reach_s: time_to_reach(trace, number, tier),
        slope_interval,
        curvature_pa_per_s2: bent.map(|(value, _)| value),
        curvature_standard_error: bent.map(|(_, error)| error * enlarged),
        temperature_change_k: temperatures.and_then(|warm| {
            let k = (warm.len() / 10).max(1);
            let end = digits::sums::mean(&warm[warm.len() - k..])?;
            Some(end - digits::sums::mean(&warm[..k])?)
        }),
        full_from: saturated,
        saturated_from_s: saturated.map(|place| trace.times_s[place]),
        window,
        flags,
    })
}

/// Time from the start of pumping until the pressure first stood at or below
/// what the tier asks for; to the end of pumping without a tier.
fn time_to_reach(trace: &PressureTrace, number: u16, tier: Option<&Tier>) -> Option<f64> {
    let span = trace.span(Stage::Evacuate, number)?;
    let Some(tier) = tier else { return Some(span.end_s - span.start_s) };
    let range = trace.samples_between(span.start_s, span.end_s);
    let first = range.clone().find(|&at| trace.pressures_pa[at] <= tier.evacuate_to.pa())?;
    Some(trace.times_s[first] - span.start_s)
}

fn median_interval(times: &[f64]) -> f64 {
    let mut intervals: Vec<f64> = times.windows(2).map(|pair| pair[1] - pair[0]).collect();
    intervals.sort_by(f64::total_cmp);
    intervals.get(intervals.len() / 2).copied().unwrap_or(0.0)
}

/// Second derivative of a least-squares parabola and its standard error with
/// independent noise: the residual of `t²` on `1, t` carries it.
fn curvature(times: &[f64], values: &[f64]) -> Option<(f64, f64)> {
    let n = times.len();
    if n < 5 {
        return None;
    }
    let mean_t = digits::sums::mean(times)?;
    let u: Vec<f64> = times.iter().map(|t| t - mean_t).collect();
    let suu = digits::sums::sum(u.iter().map(|u| u * u));
    let mean_square = suu / n as f64;
    let suuu = digits::sums::sum(u.iter().map(|u| u * u * u));
    // t² less what a line explains of it.
    let w: Vec<f64> = u.iter().map(|u| u * u - mean_square - u * suuu / suu).collect();
    let sww = digits::sums::sum(w.iter().map(|w| w * w));
    if !(sww > 0.0) {
        return None;
    }
    let mean_v = digits::sums::mean(values)?;
    let c = digits::sums::sum(w.iter().zip(values).map(|(w, v)| w * (v - mean_v))) / sww;
    let b = digits::sums::sum(u.iter().zip(values).map(|(u, v)| u * (v - mean_v))) / suu;
    let rest = digits::sums::sum((0..n).map(|i| {
        let left = values[i] - mean_v - b * u[i] - c * w[i];
        left * left
    }));
    Some((2.0 * c, 2.0 * (rest / (n as f64 - 3.0) / sww).sqrt()))
}

#[cfg(test)]
mod tests {
    use super::*;
    use physics::trace::StageSpan;

    fn parabola(n: usize) -> PressureTrace {
        let times_s: Vec<f64> = (0..n).map(|i| i as f64 * 0.1).collect();
        PressureTrace {
            pressures_pa: times_s.iter().map(|t| 100.0 + 2.0 * t - 0.05 * t * t).collect(),
            temperatures_k: times_s.iter().map(|t| 293.0 + 0.01 * t).collect(),
            stages: vec![
                StageSpan { stage: Stage::Evacuate, tier: 1, start_s: -5.0, end_s: 0.0 },
                StageSpan { stage: Stage::Measure, tier: 1, start_s: 0.0, end_s: 1e9 },
            ],
            times_s,
        }
    }

    #[test]
    fn curvature_of_a_parabola_by_hand() {
        let run = read_run(&parabola(101), 1, None, None).unwrap();
        assert!((run.curvature_pa_per_s2.unwrap() + 0.1).abs() < 1e-9);
        assert!(run.curvature_standard_error.unwrap() < 1e-9);
        assert!((run.temperature_change_k.unwrap() - 0.091).abs() < 1e-3);
        assert_eq!(run.time_to_reach_s, Some(5.0));
        assert!(run.flags.is_empty(), "{:?}", run.flags);
    }

    #[test]
    fn a_gap_and_the_end_of_the_gauge_are_flagged() {
        let mut trace = parabola(101);
        for time in &mut trace.times_s[50..] {
            *time += 2.0;
        }
        assert_eq!(read_run(&trace, 1, None, None).unwrap().flags, [RunFlag::Gap]);
        let run = read_run(&parabola(101), 1, None, Some(108.0)).unwrap();
        assert_eq!(run.flags, [RunFlag::Saturated]);
        assert!(run.saturated_from_s.unwrap() > 4.0);
    }
}
