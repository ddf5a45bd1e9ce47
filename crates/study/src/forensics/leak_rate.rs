//! Leak rate with an interval over every sum that the record allows.

use super::circumstances::Circumstances;
use super::findings::LeakRate;
use super::mixture::{Mixture, Part, quantile};
use super::window::Window;

/// Confidence of the interval, two-sided.
const CONFIDENCE: f64 = 0.95;
/// What is left out on each side.
pub(super) const TAIL: f64 = 0.5 * (1.0 - CONFIDENCE);

/// Mean leak rate over the measure stage.
///
/// The interval has equal tails of the mixture of every sum with a leak; for
/// its lower end the sums without one count as well, at zero. The sign of the
/// leak is left free; a rate below zero is then cut at zero, and the upper end
/// is not taken lower than for an estimate of zero: a limit below what the
/// record can see would only show that chance went the other way (G. Cowan and
/// others, Power-Constrained Limits, arXiv:1105.3166, from memory). A gauge
/// that drifts by no more than stated moves both ends by as much. Where nothing
/// is stated, all of a steady rise may be drift: unless the leak shows by how
/// its flow falls, only the upper end is then said, and it stands alone at
/// 97.5 %.
pub(super) fn leak_rate(mixture: &Mixture, about: &Circumstances) -> Option<LeakRate> {
    let parts = &mixture.parts;
    if parts.is_empty() {
        return None;
    }
    let drift = about.gauge_drift.map(|rate| rate.pa_per_s().abs());
    let as_read = |part: &Part| part.rate;
    let by_drift = drift.unwrap_or(0.0);
    let rise = (quantile(parts, TAIL, as_read), quantile(parts, 1.0 - TAIL, as_read));
    let upper = quantile(parts, 1.0 - TAIL, |part| part.rate.max(0.0) + by_drift);
    let steady: f64 = parts.iter().filter(|p| p.bore.is_none()).map(|p| p.weight).sum();
    let one_sided = drift.is_none() && steady > TAIL;
    // The share of the sums with a leak that is left for the lower tail.
    let tail = (TAIL - mixture.without) / (1.0 - mixture.without);
    let lower = if one_sided || !(tail > 0.0) {
        0.0
    } else {
        quantile(parts, tail, |part| part.rate - by_drift).max(0.0)
    };
    Some(LeakRate {
        estimate_pa_per_s: quantile(parts, 0.5, as_read).max(0.0),
        lower_pa_per_s: lower,
        upper_pa_per_s: upper,
        confidence: if one_sided { 1.0 - TAIL } else { CONFIDENCE },
        one_sided,
        rise_lower_pa_per_s: rise.0,
        rise_upper_pa_per_s: rise.1,
    })
}

/// What a column rises by over the measure stage, per second.
pub(super) fn mean_rate(window: &Window, column: &[f64]) -> f64 {
    let (from, to) = window.measure_s;
    let at = |time: f64| value_at(&window.times_s, column, time);
    if to > from { (at(to) - at(from)) / (to - from) } else { 0.0 }
}

/// A column at a time, straight between its points and beyond the last ones.
pub(super) fn value_at(times_s: &[f64], column: &[f64], time: f64) -> f64 {
    if times_s.len() < 2 {
        return column.first().copied().unwrap_or(0.0);
    }
    let after = times_s.partition_point(|&t| t < time).clamp(1, times_s.len() - 1);
    let (t0, t1) = (times_s[after - 1], times_s[after]);
    let (v0, v1) = (column[after - 1], column[after]);
    if t1 > t0 { v0 + (v1 - v0) * (time - t0) / (t1 - t0) } else { v1 }
}
