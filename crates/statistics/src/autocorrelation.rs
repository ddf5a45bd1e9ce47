//! Values in time that depend on their neighbours.

use crate::account::{Account, Counted};
use crate::cannot_say::{self, CannotSay};
use crate::note::{Assumption, Note};
use digits::sums;

/// A slope in time with an error that allows for dependent noise.
#[derive(Debug, Clone, PartialEq)]
#[non_exhaustive]
pub struct SlopeEstimate {
    /// Slope, in the unit of the values per unit of time.
    pub slope: f64,
    /// Intercept at time zero.
    pub intercept: f64,
    /// Standard error with the dependence of neighbours allowed for.
    pub standard_error: f64,
    /// Standard error as if the values were independent.
    pub naive_standard_error: f64,
    /// Autocorrelation of neighbouring residuals, corrected for the bias that
    /// fitting the line puts into it.
    pub lag_one: f64,
    /// Standard deviation of the residuals.
    pub residual_sd: f64,
    /// Number of values.
    pub n: usize,
    /// Number of independent values that would give the same error.
    pub effective_n: f64,
    /// Name of the method.
    pub method: &'static str,
    /// Remarks with next steps.
    pub notes: Vec<Note>,
}

impl Account for SlopeEstimate {
    fn method(&self) -> &str {
        self.method
    }

    fn counted(&self) -> Counted {
        Counted::effective(
            self.effective_n,
            format!("independent values ({} readings in order)", self.n),
        )
    }

    fn assumptions(&self) -> Vec<Assumption> {
        vec![
            Assumption::looked_at(
                "values independent of their neighbours",
                "lag-1 autocorrelation of the residuals",
                self.lag_one.abs() <= 2.0 / (self.n as f64).sqrt(),
                format!("Lag-1 {:.2}; allowed for in the standard error.", self.lag_one),
            ),
            Assumption::unchecked(
                "noise of first order (each value depends on the one before)",
                "autocorrelation at longer lags",
                "only neighbours were looked at; slow drift makes the error larger still",
            ),
            Assumption::unchecked(
                "a straight line in time",
                "residuals against time",
                "the residuals are not kept",
            ),
        ]
    }

    fn notes(&self) -> Vec<Note> {
        self.notes.clone()
    }
}

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

/// Straight line in time with a standard error that allows for noise of the
/// first-order autoregressive kind.
///
/// The least-squares slope keeps its value; its variance is
/// `s^2 sum_ij w_i w_j rho^|i-j|`, with `w` the weights of the slope and `rho`
/// the lag-1 autocorrelation of the residuals, raised by `(1 + 4 rho) / n` for
/// the bias of a short record (M. G. Kendall, Biometrika 41 (1954) 403, from
/// memory) and for the fitted line. Times are taken in order; the lags are
/// counted in values, so the spacing should be even.
///
/// # Errors
/// Lists of unequal length, fewer than four values, times that do not rise, or
/// values that are not finite.
pub fn slope_with_autocorrelation(
    times: &[f64],
    values: &[f64],
) -> Result<SlopeEstimate, CannotSay> {
    if times.len() != values.len() {
        return Err(CannotSay::LengthsDiffer {
            left: "times".into(),
            left_count: times.len(),
            right: "values".into(),
            right_count: values.len(),
        });
    }
    cannot_say::at_least("values", 4, values.len())?;
    cannot_say::all_finite("times", times)?;
    cannot_say::all_finite("values", values)?;
    if let Some(place) = times.windows(2).position(|w| w[1] <= w[0]) {
        return Err(CannotSay::OutOfRange {
            what: format!("time number {}", place + 2),
            value: times[place + 1],
            allowed: format!("a time after {}", times[place]),
        });
    }
    let n = values.len();
    let mean_t = cannot_say::computed("the mean time", sums::mean(times).unwrap_or(f64::NAN))?;
    let mean_y = cannot_say::computed("the mean value", sums::mean(values).unwrap_or(f64::NAN))?;
    let sxx = cannot_say::computed(
        "the spread of times",
        sums::sum(times.iter().map(|t| (t - mean_t) * (t - mean_t))),
    )?;
    let sxy = sums::sum(times.iter().zip(values).map(|(t, y)| (t - mean_t) * (y - mean_y)));
    let slope = cannot_say::computed("the slope", sxy / sxx)?;
    let residuals: Vec<f64> =
        times.iter().zip(values).map(|(t, y)| (y - mean_y) - slope * (t - mean_t)).collect();
    let rss = cannot_say::computed("the residuals", sums::sum(residuals.iter().map(|r| r * r)))?;
    let count = n as f64;
    let residual_variance = rss / (count - 2.0);
    let naive = (residual_variance / sxx).sqrt();
    let mut notes = Vec::new();
    let raw =
        if rss > 0.0 { sums::sum(residuals.windows(2).map(|w| w[0] * w[1])) / rss } else { 0.0 };
    // A fitted line takes about (2 + 4 rho)/n out of the autocorrelation.
    let rho = ((raw + 2.0 / count) / (1.0 - 4.0 / count).max(0.2)).clamp(-0.95, 0.99);
    // An exact line has no residuals to be correlated.
    let rho_used = match (rss > 0.0, n < 8) {
        (false, _) => 0.0,
        (true, true) => raw.clamp(-0.95, 0.99),
        (true, false) => rho,
    };
    let inflation = weighted_inflation(times, mean_t, sxx, rho_used);
    // The residual variance of dependent noise is too small as well: the line
    // follows part of it.
    let absorbed = (1.0 - (mean_inflation(count, rho_used) + inflation) / count).max(0.05)
        / (1.0 - 2.0 / count).max(0.05);
    let standard_error = if rho_used > 0.0 { naive * (inflation / absorbed).sqrt() } else { naive };
    if rho_used > 0.2 {
        notes.push(Note::new(
            "dependent-noise",
            format!(
                "Neighbouring residuals are correlated (lag-1 {rho_used:.2}); the plain standard \
                 error is too small by a factor of {:.1}.",
                standard_error / naive
            ),
            "Use the larger error; a longer record helps more than faster sampling.",
        ));
    }
    if n < 20 {
        notes.push(Note::new(
            "short-record",
            format!("{n} values cannot fix the autocorrelation of the noise well."),
            "Record longer.",
        ));
    }
    let share = if standard_error > 0.0 { naive / standard_error } else { 1.0 };
    Ok(SlopeEstimate {
        slope,
        intercept: cannot_say::computed("the intercept", mean_y - slope * mean_t)?,
        standard_error: cannot_say::computed("the standard error", standard_error)?,
        naive_standard_error: naive,
        lag_one: rho_used,
        residual_sd: residual_variance.sqrt(),
        n,
        effective_n: count * share * share,
        method: "least-squares slope, standard error for first-order autoregressive noise",
        notes,
    })
}

/// Variance of the slope over its variance with independent noise.
fn weighted_inflation(times: &[f64], mean: f64, sxx: f64, rho: f64) -> f64 {
    // sum_ij w_i w_j rho^|i-j| in one pass: carry the discounted past.
    let mut past = 0.0;
    let mut total = 0.0;
    for t in times {
        let w = t - mean;
        total += w * (w + 2.0 * past);
        past = rho * (past + w);
    }
    (total / sxx).max(1e-6)
}

/// Variance of the mean over its variance with independent noise.
fn mean_inflation(n: f64, rho: f64) -> f64 {
    let whole = n as i32;
    let tail = digits::scalar::powi(rho, whole);
    ((1.0 + rho) / (1.0 - rho) - 2.0 * rho * (1.0 - tail) / (n * (1.0 - rho) * (1.0 - rho)))
        .max(1e-6)
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
    fn dependent_noise_widens_the_error() {
        // 400 records of autoregressive noise with rho 0.8 and no slope: the
        // spread of the slopes is the true error.
        let (mut slopes, mut errors, mut naive) = (Vec::new(), Vec::new(), Vec::new());
        for unit in 0..400 {
            let mut stream = digits::RandomStream::new(11, unit);
            let mut level = stream.normal();
            let times: Vec<f64> = (0..200).map(f64::from).collect();
            let values: Vec<f64> = times
                .iter()
                .map(|_| {
                    level = 0.8 * level + 0.6 * stream.normal();
                    level
                })
                .collect();
            let estimate = slope_with_autocorrelation(&times, &values).unwrap();
            slopes.push(estimate.slope);
            errors.push(estimate.standard_error);
            naive.push(estimate.naive_standard_error);
        }
        let truth = sums::standard_deviation(&slopes).unwrap();
        let stated = sums::mean(&errors).unwrap();
        let plain = sums::mean(&naive).unwrap();
        assert!((stated / truth - 1.0).abs() < 0.12, "{stated} {truth}");
        assert!(plain < 0.5 * truth, "{plain} {truth}");
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
