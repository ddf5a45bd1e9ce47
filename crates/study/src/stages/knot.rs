//! The place where one straight line gives way to another, to the sample, and
//! the stretch within which it may as well lie.
//!
//! Every split is tried: two least-squares lines, sums carried along. Splits
//! whose sum of squares is within nine variances of the least (with the memory
//! of the noise) are as good: for a normal likelihood that is three standard
//! deviations of the place.

/// Splits within so many variances of the best are as good.
const AS_GOOD: f64 = 9.0;

/// A split.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Knot {
    /// First sample of the second line.
    pub(super) at: usize,
    /// Earliest and latest place that is as good.
    pub(super) from: usize,
    pub(super) to: usize,
    /// Slope before with its standard error by the noise given, and slope after,
    /// Pa/s.
    pub(super) before: (f64, f64),
    pub(super) after: f64,
    /// What the bend explains, in variances: two lines against one.
    pub(super) gain: f64,
    /// Latest place whose two lines say as much as one line without a bend.
    pub(super) hidden_to: usize,
}

/// What the line before the bend may be.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum Before {
    Sloping,
    /// A level that is held.
    Level,
    /// A tail that dies away with this time constant, s: a line over
    /// `-exp(-t/tau)`.
    Tail(f64),
}

impl Before {
    /// What the line is drawn over, for a time since the start of the stretch.
    fn over(self, since_s: f64) -> f64 {
        match self {
            Self::Sloping | Self::Level => since_s,
            Self::Tail(tau_s) => -digits::scalar::exp(-since_s / tau_s),
        }
    }
}

/// Sums of squares that lines through growing stretches leave: entry `k` for the
/// first `k` of the points.
fn left_of_growing(points: impl Iterator<Item = (f64, f64)>, n: usize, line: Before) -> Vec<f64> {
    let mut left = Vec::with_capacity(n + 1);
    left.push(0.0);
    let (mut count, mut mean_t, mut mean_v) = (0.0, 0.0, 0.0);
    let (mut tt, mut tv, mut vv) = (0.0, 0.0, 0.0);
    for (time, value) in points {
        count += 1.0;
        let (dt, dv) = (time - mean_t, value - mean_v);
        mean_t += dt / count;
        mean_v += dv / count;
        tt += dt * (time - mean_t);
        tv += dt * (value - mean_v);
        vv += dv * (value - mean_v);
        let slopes = line != Before::Level && tt > 0.0;
        let explained: f64 = if slopes { tv * tv / tt } else { 0.0 };
        left.push(f64::max(vv - explained, 0.0));
    }
    left
}

/// The best split of a stretch of samples; `None` below six of them.
/// `least_noise` is the least that a sample may scatter, with its memory.
pub(super) fn knot(
    times: &[f64],
    values: &[f64],
    stretch: core::ops::Range<usize>,
    line: Before,
    least_noise: f64,
) -> Option<Knot> {
    /// A line of two samples leaves nothing.
    const FEWEST: usize = 3;
    let n = stretch.len();
    if n < 2 * FEWEST {
        return None;
    }
    let start_s = times[stretch.start];
    let over = |line: Before| move |at: usize| (line.over(times[at] - start_s), values[at]);
    let ahead = left_of_growing(stretch.clone().map(over(line)), n, line);
    let straight = over(Before::Sloping);
    let single = left_of_growing(stretch.clone().map(straight), n, Before::Sloping)[n];
    let back = left_of_growing(stretch.clone().rev().map(straight), n, Before::Sloping);
    let total = |k: usize| ahead[k] + back[n - k];
    let best = (FEWEST..=n - FEWEST).min_by(|a, b| total(*a).total_cmp(&total(*b)))?;
    let (times, values) = (&times[stretch.clone()], &values[stretch.clone()]);
    let before: Vec<f64> = times[..best].iter().map(|time| line.over(time - start_s)).collect();
    let (mut left, slope, spread) = line_left(&before, &values[..best]);
    let (left_after, after, _) = line_left(&times[best..], &values[best..]);
    left.extend(left_after);
    let variance = variance_of(&left).max(least_noise * least_noise).max(f64::MIN_POSITIVE);
    let limit = total(best) + AS_GOOD * variance;
    let as_good = |k: &usize| total(*k) <= limit;
    let error = if spread > 0.0 { least_noise / spread.sqrt() } else { f64::INFINITY };
    Some(Knot {
        at: stretch.start + best,
        from: stretch.start + (FEWEST..=best).find(as_good).unwrap_or(best),
        to: stretch.start + (best..=n - FEWEST).rev().find(as_good).unwrap_or(best),
        before: (slope, error),
        after,
        gain: (single - total(best)) / variance,
        hidden_to: (FEWEST..=n - FEWEST)
            .rev()
            .find(|k| total(*k) <= single + AS_GOOD * variance)
            .map_or(stretch.start, |k| stretch.start + k),
    })
}

/// Variance of what lines leave, with its memory.
fn variance_of(left: &[f64]) -> f64 {
    let squares: f64 = left.iter().map(|value| value * value).sum();
    if !(squares > 0.0) {
        return 0.0;
    }
    let products: f64 = left.windows(2).map(|two| two[0] * two[1]).sum();
    let memory = (products / squares).clamp(0.0, 0.9);
    squares / (left.len() as f64 - 4.0).max(1.0) * (1.0 + memory) / (1.0 - memory)
}

/// What a line leaves, its slope, and the spread of the times, s².
fn line_left(times: &[f64], values: &[f64]) -> (Vec<f64>, f64, f64) {
    let mean = |of: &[f64]| digits::sums::mean(of).unwrap_or(0.0);
    let (mean_t, mean_v) = (mean(times), mean(values));
    let (mut tt, mut tv) = (0.0, 0.0);
    for (time, value) in times.iter().zip(values) {
        tt += (time - mean_t) * (time - mean_t);
        tv += (time - mean_t) * (value - mean_v);
    }
    let slope = if tt > 0.0 { tv / tt } else { 0.0 };
    let left = times.iter().zip(values).map(|(t, v)| v - mean_v - slope * (t - mean_t)).collect();
    (left, slope, tt)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_place_lies_in_its_stretch_as_often_as_three_deviations_say() {
        let mut stream = digits::RandomStream::new(5, 1);
        let times: Vec<f64> = (0..200).map(f64::from).collect();
        let mut inside = 0;
        for _ in 0..300 {
            let values: Vec<f64> =
                times.iter().map(|t| 0.08 * (t - 90.0).max(0.0) + stream.normal()).collect();
            let found = knot(&times, &values, 0..200, Before::Sloping, 0.0).expect("a place");
            inside += u32::from((found.from..=found.to).contains(&90));
        }
        assert!(inside >= 291, "{inside} of 300");
    }

    #[test]
    fn a_sharp_bend_is_found_to_the_sample() {
        let times: Vec<f64> = (0..60).map(f64::from).collect();
        let values: Vec<f64> =
            times.iter().map(|&t| if t < 20.0 { 400.0 - 20.0 * t } else { 5.0 + t }).collect();
        let found = knot(&times, &values, 0..60, Before::Sloping, 1e-3).expect("a place");
        assert_eq!((found.at, found.from, found.to), (20, 20, 20));
        assert!(knot(&times, &values, 0..5, Before::Sloping, 1e-3).is_none());
    }
}
