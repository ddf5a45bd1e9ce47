//! A slope in time whose error allows for noise that remembers.

use super::unknown_correlation::Unknown;
use crate::account::{Account, Counted};
use crate::cannot_say::{self, CannotSay};
use crate::distributions::student_t;
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
    correlation: Correlation,
}

/// How well a record knows the correlation of its noise.
#[derive(Debug, Clone, PartialEq)]
enum Correlation {
    /// Without noise, so that it does not matter.
    Known,
    /// What it may be counts.
    Unknown(Unknown),
    /// Too short, and the computer's numbers do not hold what it may be.
    Lost,
}

impl SlopeEstimate {
    /// Two-sided interval of the slope.
    ///
    /// What the correlation of the noise may be counts: the interval comes from the
    /// generalised least-squares slopes at all correlations, each weighed by its
    /// restricted likelihood and a prior that was set, by simulation and for each
    /// length of the record, so that the interval holds as often as it says
    /// (`prior.rs`). It need not lie evenly about the slope. Coverage:
    /// `docs/coverage.md`.
    ///
    /// # Errors
    /// A confidence that does not lie between 0 and 1, or an interval beyond
    /// the computer's numbers.
    ///
    /// ```
    /// let times: Vec<f64> = (0..12).map(f64::from).collect();
    /// let noise = [0.3, 0.5, 0.1, -0.2, -0.4, -0.1, 0.2, 0.4, 0.1, -0.3, -0.4, -0.2];
    /// let values: Vec<f64> = times.iter().zip(noise).map(|(t, e)| 2.0 * t + e).collect();
    /// let found = statistics::autocorrelation::slope_with_autocorrelation(&times, &values)?;
    /// let (low, high) = found.interval(0.95)?;
    /// assert!(low < 2.0 && 2.0 < high);
    /// # Ok::<(), statistics::CannotSay>(())
    /// ```
    pub fn interval(&self, confidence: f64) -> Result<(f64, f64), CannotSay> {
        if !(confidence > 0.0 && confidence < 1.0) {
            return Err(CannotSay::OutOfRange {
                what: "the confidence".into(),
                value: confidence,
                allowed: "between 0 and 1".into(),
            });
        }
        let (low, high) = match &self.correlation {
            Correlation::Unknown(unknown) => {
                let end = |chance| unknown.quantile(chance).unwrap_or(f64::NAN);
                (end(0.5 * (1.0 - confidence)), end(0.5 * (1.0 + confidence)))
            }
            Correlation::Lost => (f64::NAN, f64::NAN),
            Correlation::Known => {
                let freedom = (self.effective_n - 2.0).max(1.0);
                let half =
                    student_t::quantile(0.5 * (1.0 + confidence), freedom) * self.standard_error;
                (-half, half)
            }
        };
        let end = |beyond| cannot_say::computed("the slope's interval", self.slope + beyond);
        Ok((end(low)?, end(high)?))
    }
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
            format!(
                "{n} values cannot fix the autocorrelation of the noise well; the interval allows \
                 for that, and may still be too narrow where neighbours are alike."
            ),
            "Record longer.",
        ));
    }
    let share = if standard_error > 0.0 { naive / standard_error } else { 1.0 };
    let effective_n = count * share * share;
    let correlation = if rss > 0.0 {
        let centred: Vec<f64> = times.iter().map(|t| t - mean_t).collect();
        Unknown::of(&centred, &residuals, rho_used).map_or(Correlation::Lost, Correlation::Unknown)
    } else {
        Correlation::Known
    };
    Ok(SlopeEstimate {
        slope,
        intercept: cannot_say::computed("the intercept", mean_y - slope * mean_t)?,
        standard_error: cannot_say::computed("the standard error", standard_error)?,
        naive_standard_error: naive,
        lag_one: rho_used,
        residual_sd: residual_variance.sqrt(),
        n,
        effective_n,
        correlation,
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

#[cfg(test)]
mod tests {
    use super::*;

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

    /// Both computed with numpy and scipy 1.17 from whole covariance matrices
    /// at 4001 correlations.
    #[test]
    fn a_short_record_against_whole_matrices() {
        let times: Vec<f64> = (0..12).map(f64::from).collect();
        let noise = [0.3, 0.5, 0.1, -0.2, -0.4, -0.1, 0.2, 0.4, 0.1, -0.3, -0.4, -0.2];
        let values: Vec<f64> = times.iter().zip(noise).map(|(t, e)| 2.0 * t + e).collect();
        let even = slope_with_autocorrelation(&times, &values).unwrap().interval(0.95).unwrap();
        assert!((even.0 - 1.773_008_3).abs() < 5e-4, "{even:?}");
        assert!((even.1 - 2.136_115_5).abs() < 5e-4, "{even:?}");

        let times = [0.0, 1.0, 2.5, 3.0, 4.2, 5.0, 6.1, 7.0];
        let values = [1.0, 1.4, 1.2, 0.9, 1.3, 1.9, 1.7, 1.2];
        let odd = slope_with_autocorrelation(&times, &values).unwrap().interval(0.9).unwrap();
        assert!((odd.0 + 0.238_101_2).abs() < 5e-4, "{odd:?}");
        assert!((odd.1 - 0.301_562_2).abs() < 5e-4, "{odd:?}");
    }

    /// With the correlation known to be zero the interval is that of Student, and a
    /// long record of independent noise comes to it.
    #[test]
    fn a_long_record_of_independent_noise_has_students_interval() {
        let mut wider = Vec::new();
        for unit in 0..40 {
            let mut stream = digits::RandomStream::new(4, unit);
            let times: Vec<f64> = (0..1000).map(f64::from).collect();
            let values: Vec<f64> = times.iter().map(|_| stream.normal()).collect();
            let found = slope_with_autocorrelation(&times, &values).unwrap();
            let (low, high) = found.interval(0.95).unwrap();
            let half = student_t::quantile(0.975, 998.0) * found.naive_standard_error;
            wider.push((high - low) / (2.0 * half));
        }
        let mean = sums::mean(&wider).unwrap();
        assert!((mean - 1.0).abs() < 0.02, "{mean}");
    }

    /// Units must not matter, however large or small the numbers are.
    #[test]
    fn an_interval_in_other_units() {
        let times: Vec<f64> = (0..9).map(f64::from).collect();
        let values = [0.1, 0.4, 0.3, 0.1, 0.2, 0.5, 0.6, 0.4, 0.5];
        let (low, high) =
            slope_with_autocorrelation(&times, &values).unwrap().interval(0.95).unwrap();
        let (t, y) = (1e-70, 1e80);
        let times: Vec<f64> = times.iter().map(|x| x * t).collect();
        let values: Vec<f64> = values.iter().map(|x| x * y).collect();
        let far = slope_with_autocorrelation(&times, &values).unwrap().interval(0.95).unwrap();
        assert!((far.0 * (t / y) / low - 1.0).abs() < 1e-9, "{far:?}");
        assert!((far.1 * (t / y) / high - 1.0).abs() < 1e-9, "{far:?}");
    }
}
