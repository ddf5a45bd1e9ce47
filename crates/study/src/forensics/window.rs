//! The stretch of a trace that is fitted.

use physics::PressureTrace;
use physics::trace::Stage;

/// Times of the isolated chamber within a trace.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct RiseSpan {
    /// Start of pumping, where it is known: outgassing counts from there.
    pub pumped_from_s: Option<f64>,
    /// The chamber is isolated: settling begins.
    pub isolated_s: f64,
    /// Measuring begins.
    pub measured_from_s: f64,
    /// Measuring ends.
    pub measured_to_s: f64,
}

impl RiseSpan {
    /// The span of a tier whose stages are known.
    #[must_use]
    pub fn of_tier(trace: &PressureTrace, tier: u16) -> Option<Self> {
        let measure = trace.span(Stage::Measure, tier)?;
        let settle = trace.span(Stage::Settle, tier);
        let pumped_from_s =
            trace.stages.iter().find(|span| span.stage == Stage::Evacuate).map(|span| span.start_s);
        Some(Self {
            pumped_from_s,
            isolated_s: settle.map_or(measure.start_s, |span| span.start_s),
            measured_from_s: measure.start_s,
            measured_to_s: measure.end_s,
        })
    }
}

/// Samples of the span, averaged to so many points at most.
const MOST_POINTS: usize = 200;

/// No law of this module is believed closer than this share of the record's
/// range (working value): a gauge of little noise would otherwise tell causes
/// apart by the third digit of a flow law.
const BELIEVED_SHARE: f64 = 5e-4;

/// The points that are fitted; times count from isolation.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Window {
    pub(super) times_s: Vec<f64>,
    pub(super) pressures_pa: Vec<f64>,
    /// Temperatures, K; empty where there are none.
    pub(super) temperatures_k: Vec<f64>,
    /// Time under vacuum before isolation, where it is known.
    pub(super) age_s: Option<f64>,
    /// Measuring begins and ends, seconds from isolation.
    pub(super) measure_s: (f64, f64),
    /// Variance of a point that no fit can go below: the steps of the gauge and
    /// what the laws are believed to.
    pub(super) floor_variance: f64,
    /// Samples in a point.
    pub(super) stride: usize,
    /// Usual time between two samples.
    pub(super) interval_s: f64,
}

impl Window {
    /// The points of a span, up to a sample that is not to be used any more.
    pub(super) fn of(trace: &PressureTrace, span: &RiseSpan, end: usize) -> Self {
        let range = trace.samples_between(span.isolated_s, span.measured_to_s);
        let range = range.start..range.end.min(end).max(range.start);
        let n = range.len();
        let stride = n.div_ceil(MOST_POINTS).max(1);
        let warm = trace.temperatures_k.len() == trace.times_s.len();
        let mut window = Self {
            times_s: Vec::with_capacity(n / stride + 1),
            pressures_pa: Vec::with_capacity(n / stride + 1),
            temperatures_k: Vec::new(),
            age_s: span.pumped_from_s.map(|start| (span.isolated_s - start).max(0.0)),
            measure_s: (
                span.measured_from_s - span.isolated_s,
                span.measured_to_s - span.isolated_s,
            ),
            floor_variance: 0.0,
            stride,
            interval_s: 0.0,
        };
        let mean = |values: &[f64]| digits::sums::mean(values).unwrap_or(0.0);
        let mut first = range.start;
        // A short last group would weigh as much as a full one: it is left out.
        while first + stride <= range.end {
            let group = first..first + stride;
            window.times_s.push(mean(&trace.times_s[group.clone()]) - span.isolated_s);
            window.pressures_pa.push(mean(&trace.pressures_pa[group.clone()]));
            if warm {
                window.temperatures_k.push(mean(&trace.temperatures_k[group]));
            }
            first += stride;
        }
        let samples = &trace.pressures_pa[range.clone()];
        let step = smallest_step(samples);
        let low = samples.iter().copied().fold(f64::INFINITY, f64::min);
        let high = samples.iter().copied().fold(f64::NEG_INFINITY, f64::max);
        let believed = BELIEVED_SHARE * (high - low).max(0.0) + high.abs() * 1e-12;
        window.floor_variance = step * step / 12.0 / stride as f64 + believed * believed;
        if n > 1 {
            window.interval_s =
                (trace.times_s[range.end - 1] - trace.times_s[range.start]) / (n - 1) as f64;
        }
        window
    }

    pub(super) fn n(&self) -> usize {
        self.times_s.len()
    }

    /// Length of the fitted stretch.
    pub(super) fn length_s(&self) -> f64 {
        self.times_s.last().copied().unwrap_or(0.0)
    }
}

/// The step of a gauge that reads in steps: zero where the values are finer
/// than their noise, which is where few of them repeat.
fn smallest_step(samples: &[f64]) -> f64 {
    let mut sorted = samples.to_vec();
    sorted.sort_by(f64::total_cmp);
    let n_repeated = sorted.windows(2).filter(|pair| pair[0] == pair[1]).count();
    if n_repeated * 4 < sorted.len() {
        return 0.0;
    }
    let smallest = sorted
        .windows(2)
        .map(|pair| pair[1] - pair[0])
        .filter(|step| *step > 0.0)
        .fold(f64::INFINITY, f64::min);
    if smallest.is_finite() { smallest } else { 0.0 }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn points_are_means_and_count_from_isolation() {
        let times_s: Vec<f64> = (0..1000).map(|i| f64::from(i) * 0.1).collect();
        let trace = PressureTrace {
            pressures_pa: times_s.iter().map(|t| 100.0 + t).collect(),
            times_s,
            ..PressureTrace::default()
        };
        let span = RiseSpan {
            pumped_from_s: Some(2.0),
            isolated_s: 10.0,
            measured_from_s: 20.0,
            measured_to_s: 90.0,
        };
        let window = Window::of(&trace, &span, usize::MAX);
        assert!(window.n() <= MOST_POINTS && window.stride == 5);
        assert_eq!(window.age_s, Some(8.0));
        assert!((window.pressures_pa[0] - (110.0 + window.times_s[0])).abs() < 1e-9);
    }

    #[test]
    fn steps_are_seen_where_values_repeat() {
        let stepped: Vec<f64> = (0..100).map(|i| f64::from(i / 10) * 0.5).collect();
        assert_eq!(smallest_step(&stepped), 0.5);
        let fine: Vec<f64> = (0..100).map(|i| f64::from(i) * 0.013).collect();
        assert_eq!(smallest_step(&fine), 0.0);
    }
}
