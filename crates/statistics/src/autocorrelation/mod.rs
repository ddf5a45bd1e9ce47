//! Values in time that depend on their neighbours.

mod prior;
mod slope;
mod unknown_correlation;

use crate::cannot_say::{self, CannotSay};
use digits::sums;
pub use slope::{SlopeEstimate, slope_with_autocorrelation};

/// Lag-1 autocorrelation of evenly spaced values.
///
/// `sum (x_i - m)(x_{i+1} - m) / sum (x_i - m)^2`.
///
/// # Errors
/// Fewer than three values, values that are not finite or do not vary.
pub fn lag_one(values: &[f64]) -> Result<f64, CannotSay> {
    cannot_say::at_least("values", 3, values.len())?;
    cannot_say::all_finite("values", values)?;
    let mean = sums::mean(values).unwrap_or(0.0);
    let total = sums::sum(values.iter().map(|v| (v - mean) * (v - mean)));
    if total == 0.0 {
        return Err(CannotSay::NoSpread { what: "the values".into() });
    }
    let products = sums::sum(values.windows(2).map(|w| (w[0] - mean) * (w[1] - mean)));
    cannot_say::computed("the autocorrelation", products / total)
}

/// Standard deviation of the noise from successive differences, insensitive
/// to drift and to single spikes.
///
/// Median of the absolute successive differences over `sqrt(2)` times the
/// normal median 0.6745. It is the noise of independent values; dependent
/// noise gives a smaller figure.
///
/// # Errors
/// Fewer than three values, or values that are not finite.
pub fn noise_from_differences(values: &[f64]) -> Result<f64, CannotSay> {
    cannot_say::at_least("values", 3, values.len())?;
    cannot_say::all_finite("values", values)?;
    let mut steps: Vec<f64> = values.windows(2).map(|w| (w[1] - w[0]).abs()).collect();
    steps.sort_by(f64::total_cmp);
    let middle = steps.len() / 2;
    let median = if steps.len() % 2 == 1 {
        steps[middle]
    } else {
        0.5 * (steps[middle - 1] + steps[middle])
    };
    cannot_say::computed(
        "the noise",
        median / (core::f64::consts::SQRT_2 * 0.674_489_750_196_081_7),
    )
}

/// Allan deviation of evenly spaced readings at averaging over `span` of them,
/// overlapping.
///
/// `sqrt( sum (m_{i+span} - m_i)^2 / (2 (N - 2 span + 1)) )` with `m_i` the
/// mean of `span` readings from `i` on. Source: NIST SP 1065 (2008).
///
/// # Errors
/// A span of zero, fewer than `2 span + 1` readings, or values that are not
/// finite.
pub fn overlapping_allan_deviation(readings: &[f64], span: usize) -> Result<f64, CannotSay> {
    cannot_say::at_least("readings in a span", 1, span)?;
    cannot_say::at_least("readings", span.saturating_mul(2).saturating_add(1), readings.len())?;
    cannot_say::all_finite("readings", readings)?;
    let n = readings.len();
    // Sums of `span` differences, centred first so that a large offset costs
    // no digits.
    let mean = sums::mean(readings).unwrap_or(0.0);
    let mut running = Vec::with_capacity(n + 1);
    let mut total = 0.0;
    running.push(0.0);
    for value in readings {
        total += value - mean;
        running.push(total);
    }
    let width = span as f64;
    let count = n + 1 - 2 * span;
    let squares = sums::sum((0..count).map(|i| {
        let step = (running[i + 2 * span] - 2.0 * running[i + span] + running[i]) / width;
        step * step
    }));
    cannot_say::computed("the Allan deviation", (squares / (2.0 * count as f64)).sqrt())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn lag_one_by_hand() {
        // Deviations -1, 0, 1: products 0 + 0 over 2.
        assert_eq!(lag_one(&[1.0, 2.0, 3.0]).unwrap(), 0.0);
        assert!(lag_one(&[1.0, 1.0, 1.0]).is_err());
    }

    #[test]
    fn allan_deviation_by_hand() {
        // Differences 1, 1, -2: sum of squares 6 over 2 * 3.
        let value = overlapping_allan_deviation(&[0.0, 1.0, 2.0, 0.0], 1).unwrap();
        assert!((value - 1.0).abs() < 1e-15);
        assert!(overlapping_allan_deviation(&[0.0, 1.0], 1).is_err());
    }

    #[test]
    fn a_spike_does_not_move_the_noise() {
        let mut stream = digits::RandomStream::new(3, 0);
        let mut values: Vec<f64> = (0..400).map(|i| 0.1 * f64::from(i) + stream.normal()).collect();
        values[100] = 1e6;
        let noise = noise_from_differences(&values).unwrap();
        assert!((noise - 1.0).abs() < 0.15, "{noise}");
    }
}
