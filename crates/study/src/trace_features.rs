//! Features of a run: what the method's window reads from a trace. Simulated
//! and recorded traces go through the same reading.

use physics::sensor::PressureSensor;
use physics::trace::{PressureTrace, Stage};

/// What one measure stage says.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct TraceFeatures {
    /// Tier that was read, counted from 1.
    pub tier: u16,
    /// Pressure at the end of the evacuation of the tier, Pa.
    pub reach_pa: Option<f64>,
    /// Level at the start of the measure stage, Pa.
    pub level_start_pa: f64,
    /// Level at its end, Pa.
    pub level_end_pa: f64,
    /// Rise from the one to the other, Pa.
    pub rise_pa: f64,
    /// Slope of a straight line through the stage, Pa/s; `None` where the
    /// stage has too few samples.
    pub slope_pa_per_s: Option<f64>,
    /// Standard error of the slope with its autocorrelation, Pa/s.
    pub slope_standard_error: Option<f64>,
    /// Noise from successive differences, Pa; `None` below three samples.
    pub noise_pa: Option<f64>,
    /// Number of samples in the stage.
    pub n_samples: usize,
}

/// A level is the mean of this share of the stage at each end: averaging
/// lowers the noise, and a tenth of the stage costs a tenth of the signal.
pub(crate) const LEVEL_SHARE: usize = 10;

/// Samples that make a level in a stage of `n` samples.
pub(crate) const fn level_samples(n: usize) -> usize {
    let tenth = n / LEVEL_SHARE;
    if tenth < 1 { 1 } else { tenth }
}

/// Reads the measure stage of a tier; `None` where the trace has none with
/// at least two samples.
#[must_use]
pub fn read(trace: &PressureTrace, tier: u16) -> Option<TraceFeatures> {
    let span = trace.span(Stage::Measure, tier)?;
    let range = trace.samples_between(span.start_s, span.end_s);
    let pressures = trace.pressures_pa.get(range.clone())?;
    let times = trace.times_s.get(range)?;
    let n = pressures.len();
    if n < 2 {
        return None;
    }
    let k = level_samples(n).min(n / 2).max(1);
    let level_start_pa = digits::sums::mean(&pressures[..k])?;
    let level_end_pa = digits::sums::mean(&pressures[n - k..])?;
    let slope = statistics::autocorrelation::slope_with_autocorrelation(times, pressures).ok();
    Some(TraceFeatures {
        tier,
        reach_pa: reached_pa(trace, tier),
        level_start_pa,
        level_end_pa,
        rise_pa: level_end_pa - level_start_pa,
        slope_pa_per_s: slope.as_ref().map(|slope| slope.slope),
        slope_standard_error: slope.as_ref().map(|slope| slope.standard_error),
        noise_pa: noise_from_successive_differences(pressures),
        n_samples: n,
    })
}

/// Share of its range from which on a reading is taken to be at its end: the
/// last digit of a reading is not the end of a gauge.
const AT_THE_END: f64 = 1.0 - 1e-6;

/// First sample of the measure stage of a tier that stands at the end of the
/// range of the gauge; `None` where none does.
#[must_use]
pub fn first_at(trace: &PressureTrace, tier: u16, range_pa: f64) -> Option<usize> {
    let span = trace.span(Stage::Measure, tier)?;
    let mut samples = trace.samples_between(span.start_s, span.end_s);
    samples.find(|&at| trace.pressures_pa.get(at).is_some_and(|pa| *pa >= AT_THE_END * range_pa))
}

/// What is known of the rise of a stage whose gauge stood at its end from a
/// sample on, Pa: the rise up to that end, and zero where the level at the
/// start is itself not known.
#[must_use]
pub fn rise_at_least_pa(trace: &PressureTrace, read: &TraceFeatures, full_from: usize) -> f64 {
    let Some(span) = trace.span(Stage::Measure, read.tier) else { return 0.0 };
    let first = trace.samples_between(span.start_s, span.end_s).start;
    let start = first + level_samples(read.n_samples);
    if full_from < start { 0.0 } else { read.rise_pa.max(0.0) }
}

/// Samples that an evacuation needs for the last of them to stand for its end.
const ENOUGH_OF_EVACUATION: usize = 3;

/// Pressure at the end of the evacuation of a tier: the last sample of it. One
/// that was over within a sample or two is told by the first sample after it,
/// because the last one within may still be that of the room.
#[must_use]
pub fn reached_pa(trace: &PressureTrace, tier: u16) -> Option<f64> {
    let span = trace.span(Stage::Evacuate, tier)?;
    let range = trace.samples_between(span.start_s, span.end_s);
    let after = trace.pressures_pa.get(range.end).filter(|_| range.len() < ENOUGH_OF_EVACUATION);
    after.or_else(|| trace.pressures_pa.get(range)?.last()).copied()
}

/// Lowest pressure that a tier can have come to, Pa, from the end of its evacuation to
/// the start of its measure stage: a closed chamber does not fall, so that whatever it
/// stands at later it had reached. Means of two neighbouring samples; and where the
/// pressure falls fast, as far as it would have gone on falling to the next sample,
/// because a fast recovery hides the lowest point between two of them.
///
/// `None` where the tier has no evacuation.
#[must_use]
pub fn lowest_reached_pa(trace: &PressureTrace, tier: u16) -> Option<f64> {
    let span = trace.span(Stage::Evacuate, tier)?;
    let until_s = trace.span(Stage::Measure, tier).map_or(span.end_s, |measure| measure.start_s);
    let end = trace.samples_between(span.start_s, span.end_s).end;
    let until = trace.samples_between(span.start_s, until_s).end.max(end) + 2;
    let around = end.saturating_sub(3)..until.min(trace.pressures_pa.len());
    let around = trace.pressures_pa.get(around)?;
    let lowest = around.windows(2).map(|two| {
        let [before, here] = [two[0], two[1]];
        // The next of a geometric fall to zero.
        if before > here && here > 0.0 {
            here - (before - here) * (here / before)
        } else {
            0.5 * (before + here)
        }
    });
    Some(lowest.fold(f64::INFINITY, f64::min).min(reached_pa(trace, tier)?))
}

/// Standard deviation of the noise from successive differences, which a slow
/// rise does not enter: `sqrt(mean(d^2) / 2)`.
///
/// Source: J. von Neumann, Ann. Math. Stat. 12 (1941) 367 (from memory).
#[must_use]
pub fn noise_from_successive_differences(values: &[f64]) -> Option<f64> {
    if values.len() < 3 {
        return None;
    }
    let differences: Vec<f64> = values.windows(2).map(|pair| pair[1] - pair[0]).collect();
    // A steady rise gives every difference the same offset; its mean is taken
    // out so that it does not count as noise.
    let deviation = digits::sums::standard_deviation(&differences)?;
    Some(deviation / core::f64::consts::SQRT_2)
}

/// Noise that the sensor puts into the rise read by [`read`] from the last
/// measure stage of a trace, Pa.
#[must_use]
pub fn rise_noise_pa(sensor: &PressureSensor, trace: &PressureTrace) -> f64 {
    let last = trace.stages.iter().rev().find(|span| span.stage == Stage::Measure);
    let n = last.map_or(2, |span| trace.samples_between(span.start_s, span.end_s).len());
    rise_noise_of_samples_pa(sensor, n)
}

/// As [`rise_noise_pa`], in the measure stage of one tier.
#[must_use]
pub fn rise_noise_in_tier_pa(sensor: &PressureSensor, trace: &PressureTrace, tier: u16) -> f64 {
    let span = trace.span(Stage::Measure, tier);
    let n = span.map_or(2, |span| trace.samples_between(span.start_s, span.end_s).len());
    rise_noise_of_samples_pa(sensor, n)
}

/// Noise that the sensor puts into the rise over a stage of `n` samples, Pa.
///
/// White noise and resolution average down with the number of samples of a
/// level; flicker noise does not.
#[must_use]
pub fn rise_noise_of_samples_pa(sensor: &PressureSensor, n: usize) -> f64 {
    let k = level_samples(n).min(n / 2).max(1) as f64;
    let white = sensor.white_noise.pa();
    let step = sensor.resolution.pa() / 12.0_f64.sqrt();
    let flicker = sensor.flicker_noise.pa();
    (2.0 * (white * white + step * step) / k + 2.0 * flicker * flicker).sqrt().max(1e-9)
}

#[cfg(test)]
mod tests {
    use super::*;
    use physics::trace::StageSpan;

    fn ramp(n: usize, slope: f64) -> PressureTrace {
        let times_s: Vec<f64> = (0..n).map(|i| i as f64 * 0.1).collect();
        PressureTrace {
            pressures_pa: times_s.iter().map(|t| 100.0 + slope * t).collect(),
            stages: vec![StageSpan { stage: Stage::Measure, tier: 1, start_s: 0.0, end_s: 1e9 }],
            times_s,
            temperatures_k: Vec::new(),
        }
    }

    #[test]
    fn a_straight_rise_is_read_as_it_is() {
        let features = read(&ramp(101, 2.0), 1).unwrap();
        // Levels are means of 10 samples at each end: 9.1 s apart.
        assert!((features.rise_pa - 2.0 * 9.1).abs() < 1e-9);
        assert!((features.slope_pa_per_s.unwrap() - 2.0).abs() < 1e-9);
        assert!(features.noise_pa.unwrap() < 1e-9);
    }

    /// Full from half of the stage on, the rise up to there is known; full from
    /// the first samples on, nothing is.
    #[test]
    fn a_full_gauge_bounds_the_rise_from_below() {
        let full = |range_pa: f64| {
            let mut trace = ramp(101, 2.0);
            trace.pressures_pa.iter_mut().for_each(|pa| *pa = pa.min(range_pa));
            let features = read(&trace, 1).unwrap();
            let from = first_at(&trace, 1, range_pa)?;
            Some(rise_at_least_pa(&trace, &features, from))
        };
        assert_eq!(full(200.0), None);
        // The start level is 100.9 Pa, the mean of ten samples 0.2 Pa apart.
        assert!((full(110.0).unwrap() - 9.1).abs() < 1e-9);
        assert_eq!(full(101.0), Some(0.0));
    }

    #[test]
    fn a_stage_with_one_sample_says_nothing() {
        assert_eq!(read(&ramp(1, 2.0), 1), None);
        assert_eq!(read(&ramp(50, 2.0), 2), None);
    }

    #[test]
    fn an_evacuation_of_one_sample_is_told_by_the_next() {
        let at = |end_s: f64| {
            let trace = PressureTrace {
                times_s: vec![0.0, 0.1, 0.2, 0.3, 0.4],
                pressures_pa: vec![101_325.0, 5000.0, 400.0, 120.0, 121.0],
                stages: vec![StageSpan { stage: Stage::Evacuate, tier: 1, start_s: 0.0, end_s }],
                temperatures_k: Vec::new(),
            };
            reached_pa(&trace, 1)
        };
        // Over before the second sample: the room's pressure was not reached.
        assert_eq!(at(0.04), Some(5000.0));
        assert_eq!(at(0.3), Some(120.0));
    }
}
