//! Segments of a trace about whose stages nothing is known: stretches that
//! fall, rise or stay level, with level, slope and noise of each.

use physics::PressureTrace;

use crate::trace_features::noise_from_successive_differences;

/// Which way the pressure goes in a segment.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Direction {
    /// The pressure falls.
    Falling,
    /// No change beyond noise and two percent.
    Level,
    /// The pressure rises.
    Rising,
}

impl Direction {
    /// The word that is printed.
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            Self::Falling => "falling",
            Self::Level => "level",
            Self::Rising => "rising",
        }
    }
}

/// A stretch of a trace.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Segment {
    /// Start, s.
    pub start_s: f64,
    /// End, s.
    pub end_s: f64,
    /// Which way the pressure goes.
    pub direction: Direction,
    /// Pressure of the first sample, Pa.
    pub start_pa: f64,
    /// Pressure of the last sample, Pa.
    pub end_pa: f64,
    /// Mean pressure, Pa.
    pub mean_pa: f64,
    /// Slope of a straight line, Pa/s; `None` below three samples.
    pub slope_pa_per_s: Option<f64>,
    /// Its standard error with the autocorrelation of the noise.
    pub slope_standard_error: Option<f64>,
    /// Noise from successive differences, Pa.
    pub noise_pa: Option<f64>,
    /// Number of samples.
    pub n_samples: usize,
}

/// Points to which a long trace is thinned before it is cut; the cuts are
/// placed on these, the figures are computed from every sample.
const THINNED: usize = 800;
/// Points of the first small pieces.
const FIRST_PIECE: usize = 4;
/// More segments than this say nothing to a reader.
const MOST_SEGMENTS: usize = 9;
/// Joining two pieces may cost this many noise variances for each point.
const COST_PER_POINT: f64 = 4.0;
/// Ratio of largest to smallest pressure above which the log of the pressure
/// is cut, because a pump-down is a straight line there.
const LOG_RATIO: f64 = 10.0;

/// Cuts a trace into segments by joining small pieces while a straight line
/// through the join costs no more than noise.
///
/// Returns nothing for a trace with fewer than eight samples.
#[must_use]
pub fn segments(trace: &PressureTrace) -> Vec<Segment> {
    let n = trace.n_samples();
    if n < 2 * FIRST_PIECE || trace.pressures_pa.len() != n {
        return Vec::new();
    }
    let stride = n.div_ceil(THINNED);
    let values = working_values(&trace.pressures_pa);
    let points: Vec<(f64, f64)> = (0..n)
        .step_by(stride)
        .map(|first| {
            let range = first..(first + stride).min(n);
            let mean = |of: &[f64]| digits::sums::mean(of).unwrap_or(f64::NAN);
            (mean(&trace.times_s[range.clone()]), mean(&values[range]))
        })
        .collect();
    let cuts = joined_pieces(&points);
    cuts.windows(2)
        .map(|pair| {
            let range = pair[0] * stride..(pair[1] * stride).min(n);
            describe(trace, range)
        })
        .collect()
}

/// The pressure, or its logarithm where it spans more than a decade.
fn working_values(pressures_pa: &[f64]) -> Vec<f64> {
    let low = pressures_pa.iter().copied().fold(f64::INFINITY, f64::min);
    let high = pressures_pa.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    if low > 0.0 && high / low > LOG_RATIO {
        pressures_pa.iter().map(|&p| digits::scalar::ln(p)).collect()
    } else {
        pressures_pa.to_vec()
    }
}

/// Sums that a straight line needs, for any stretch of points.
struct Sums {
    rows: Vec<[f64; 6]>,
}

impl Sums {
    fn new(points: &[(f64, f64)]) -> Self {
        // Centred on the first point, so that large offsets lose no digits.
        let (t0, v0) = points[0];
        let mut rows = vec![[0.0; 6]];
        let mut total = [0.0; 6];
        for &(time, value) in points {
            let (t, v) = (time - t0, value - v0);
            for (sum, term) in total.iter_mut().zip([1.0, t, v, t * t, t * v, v * v]) {
                *sum += term;
            }
            rows.push(total);
        }
        Self { rows }
    }

    /// Squared residuals of a straight line through points `from..to`.
    fn residual(&self, from: usize, to: usize) -> f64 {
        let mut s = self.rows[to];
        for (sum, before) in s.iter_mut().zip(self.rows[from]) {
            *sum -= before;
        }
        let [n, t, v, tt, tv, vv] = s;
        if n < 3.0 {
            return 0.0;
        }
        let (stt, stv, svv) = (tt - t * t / n, tv - t * v / n, vv - v * v / n);
        if stt <= 0.0 { svv.max(0.0) } else { (svv - stv * stv / stt).max(0.0) }
    }
}

/// Bounds of the pieces that are left after joining: `0 .. points.len()`.
fn joined_pieces(points: &[(f64, f64)]) -> Vec<usize> {
    let sums = Sums::new(points);
    let variance = noise_variance(points);
    let mut cuts: Vec<usize> = (0..points.len()).step_by(FIRST_PIECE).collect();
    if points.len() - cuts[cuts.len() - 1] < FIRST_PIECE && cuts.len() > 1 {
        cuts.pop();
    }
    cuts.push(points.len());
    // What it costs to drop a cut depends on its two neighbours alone.
    let cost_of = |cuts: &[usize], index: usize| {
        let (a, b, c) = (cuts[index - 1], cuts[index], cuts[index + 1]);
        sums.residual(a, c) - sums.residual(a, b) - sums.residual(b, c)
    };
    let mut costs: Vec<f64> = (1..cuts.len() - 1).map(|index| cost_of(&cuts, index)).collect();
    while cuts.len() > 2 {
        let cheapest = costs.iter().copied().enumerate().min_by(|a, b| a.1.total_cmp(&b.1));
        let Some((place, cost)) = cheapest else { break };
        let index = place + 1;
        let n = cuts[index + 1] - cuts[index - 1];
        let too_many = cuts.len() - 1 > MOST_SEGMENTS;
        if !too_many && cost > COST_PER_POINT * variance * n as f64 {
            break;
        }
        cuts.remove(index);
        costs.remove(place);
        for neighbour in [index - 1, index] {
            if neighbour > 0 && neighbour + 1 < cuts.len() {
                costs[neighbour - 1] = cost_of(&cuts, neighbour);
            }
        }
    }
    cuts
}

/// Variance of the noise from the middle of the squared second differences,
/// which neither a slope nor a few jumps enter.
fn noise_variance(points: &[(f64, f64)]) -> f64 {
    let mut squares: Vec<f64> = points
        .windows(3)
        .map(|three| {
            let second = three[0].1 - 2.0 * three[1].1 + three[2].1;
            second * second / 6.0
        })
        .collect();
    squares.sort_by(f64::total_cmp);
    // The median of a squared normal value is 0.4549 of its variance.
    let median = squares[squares.len() / 2] / 0.4549;
    median.max(1e-12)
}

fn describe(trace: &PressureTrace, range: core::ops::Range<usize>) -> Segment {
    let times = &trace.times_s[range.clone()];
    let pressures = &trace.pressures_pa[range];
    let last = pressures.len() - 1;
    let mean_pa = digits::sums::mean(pressures).unwrap_or(pressures[0]);
    let noise_pa = noise_from_successive_differences(pressures);
    let slope = statistics::autocorrelation::slope_with_autocorrelation(times, pressures).ok();
    let change = pressures[last] - pressures[0];
    let noticeable = (3.0 * noise_pa.unwrap_or(0.0)).max(0.02 * mean_pa.abs());
    let direction = if change.abs() <= noticeable {
        Direction::Level
    } else if change < 0.0 {
        Direction::Falling
    } else {
        Direction::Rising
    };
    Segment {
        start_s: times[0],
        end_s: times[last],
        direction,
        start_pa: pressures[0],
        end_pa: pressures[last],
        mean_pa,
        slope_pa_per_s: slope.as_ref().map(|slope| slope.slope),
        slope_standard_error: slope.as_ref().map(|slope| slope.standard_error),
        noise_pa,
        n_samples: pressures.len(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn trace(pressures_pa: Vec<f64>) -> PressureTrace {
        let times_s = (0..pressures_pa.len()).map(|i| i as f64).collect();
        PressureTrace { times_s, pressures_pa, ..Default::default() }
    }

    #[test]
    fn a_pump_down_and_a_rise_are_told_apart() {
        let mut stream = digits::RandomStream::new(3, 1);
        let mut pressures: Vec<f64> =
            (0..60).map(|i| 1.0e5 * digits::scalar::exp(-0.1 * f64::from(i))).collect();
        let bottom = pressures[59];
        pressures.extend((0..60).map(|i| bottom + 20.0 * f64::from(i)));
        for pressure in &mut pressures {
            *pressure *= 1.0 + 1e-3 * stream.normal();
        }
        let found = segments(&trace(pressures));
        assert!(found.len() >= 2, "{found:?}");
        assert_eq!(found[0].direction, Direction::Falling);
        assert_eq!(found[found.len() - 1].direction, Direction::Rising);
        let turn = found.iter().find(|s| s.direction == Direction::Rising).unwrap();
        assert!((turn.start_s - 60.0).abs() <= 6.0, "{turn:?}");
    }

    #[test]
    fn noise_alone_is_one_level_segment() {
        let mut stream = digits::RandomStream::new(4, 1);
        let found = segments(&trace((0..2000).map(|_| 97_284.0 + 4.0 * stream.normal()).collect()));
        assert_eq!(found.len(), 1, "{found:?}");
        assert_eq!(found[0].direction, Direction::Level);
        assert!((found[0].noise_pa.unwrap() - 4.0).abs() < 0.4);
    }

    #[test]
    fn a_block_at_the_end_is_cut_off() {
        let mut pressures = vec![0.02; 500];
        pressures.extend(vec![1.0e5; 40]);
        let found = segments(&trace(pressures));
        let last = found[found.len() - 1];
        assert!(last.start_pa > 9.0e4 && last.n_samples >= 36, "{found:?}");
    }

    #[test]
    fn too_short_a_trace_has_no_segments() {
        assert!(segments(&trace(vec![1.0; 5])).is_empty());
    }
}
