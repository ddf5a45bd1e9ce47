//! Upper limits that a stated share of a population stays below, with stated
//! confidence.
//!
//! A limit from few values must allow for the error of the mean and of the
//! standard deviation; "mean + 3 s" does not. Sources: ISO 16269-6:2014;
//! R. E. Odeh and D. B. Owen, Tables for Normal Tolerance Limits (1980).

use crate::cannot_say::{self, CannotSay};
use crate::distributions::{noncentral_t, normal};
use crate::note::Note;
use digits::scalar::{ln, ln_1p};
use digits::sums;

/// Why a tolerance limit cannot be given.
pub type ToleranceError = CannotSay;

/// An upper tolerance limit with everything needed to recompute it.
#[derive(Debug, Clone, PartialEq)]
#[non_exhaustive]
pub struct UpperLimit {
    /// Name of the method, fit for a report.
    pub method: String,
    /// Number of values that count.
    pub n: usize,
    /// Mean of the values.
    pub mean: f64,
    /// Standard deviation of the values, divisor `n - 1`.
    pub standard_deviation: f64,
    /// Tolerance factor `k` in `limit = mean + k * standard_deviation`.
    pub factor: f64,
    /// The limit, in the unit of the values.
    pub limit: f64,
    /// Share of the population below the limit.
    pub content: f64,
    /// Confidence in that share.
    pub confidence: f64,
    /// Remarks with next steps.
    pub notes: Vec<Note>,
}

/// One-sided factor `k` of the normal tolerance limit `mean + k s`.
///
/// `k = t'(confidence; n - 1, z sqrt(n)) / sqrt(n)` with `t'` the quantile of
/// the noncentral t distribution and `z` the normal quantile of `content`.
/// Source: ISO 16269-6:2014; Odeh and Owen 1980.
///
/// # Errors
/// Fewer than two values; `content` or `confidence` outside 0 to 1.
///
/// ```
/// let k = statistics::tolerance_limits::one_sided_normal_factor(30, 0.99, 0.95)?;
/// assert!((k - 3.0639).abs() < 1e-4);
/// # Ok::<(), statistics::CannotSay>(())
/// ```
pub fn one_sided_normal_factor(
    n: usize,
    content: f64,
    confidence: f64,
) -> Result<f64, ToleranceError> {
    cannot_say::open_probability("content", content)?;
    factor_from_quantile(n, normal::quantile(content), confidence)
}

/// The same factor for a small excluded share `1 - content`.
///
/// A double holds 1e-9 to sixteen digits, but `1 - 1e-9` only to seven digits
/// of the tail; for contents beyond 0.999999 this form keeps them.
///
/// # Errors
/// As [`one_sided_normal_factor`].
pub fn one_sided_normal_factor_excluding(
    n: usize,
    excluded: f64,
    confidence: f64,
) -> Result<f64, ToleranceError> {
    cannot_say::open_probability("the excluded share", excluded)?;
    factor_from_quantile(n, -normal::quantile(excluded), confidence)
}

fn factor_from_quantile(n: usize, z: f64, confidence: f64) -> Result<f64, ToleranceError> {
    cannot_say::at_least("values", 2, n)?;
    cannot_say::open_probability("confidence", confidence)?;
    let root_n = (n as f64).sqrt();
    let factor = noncentral_t::quantile(confidence, n as f64 - 1.0, z * root_n) / root_n;
    cannot_say::computed("the tolerance factor", factor)
}

/// Upper tolerance limit of a normal population from a mean, a standard
/// deviation and a number of values.
///
/// Nothing can be checked on a summary; the notes say so.
///
/// # Errors
/// As [`one_sided_normal_factor`]; a mean that is not finite; a standard
/// deviation that is negative or not finite.
pub fn upper_limit_from_summary(
    mean: f64,
    standard_deviation: f64,
    n: usize,
    content: f64,
    confidence: f64,
) -> Result<UpperLimit, ToleranceError> {
    let mut result = bare_limit(mean, standard_deviation, n, content, confidence)?;
    result.notes.push(Note::new(
        "summary-only",
        "Only the mean, the standard deviation and the number of values were given, so normality, \
         outliers, drift and differences between groups could not be checked.",
        "Give the single values, with their group, to have the assumptions checked.",
    ));
    Ok(result)
}

/// Upper tolerance limit of a normal population from single values, with the
/// checks that single values allow.
///
/// # Errors
/// As [`one_sided_normal_factor`]; a value that is not finite; values that do
/// not vary.
pub fn upper_limit_from_values(
    values: &[f64],
    content: f64,
    confidence: f64,
) -> Result<UpperLimit, ToleranceError> {
    cannot_say::at_least("values", 2, values.len())?;
    cannot_say::all_finite("values", values)?;
    let too_few = || CannotSay::TooFew { what: "values".into(), needed: 2, got: values.len() };
    let mean = sums::mean(values).ok_or_else(too_few)?;
    let deviation = sums::standard_deviation(values).ok_or_else(too_few)?;
    if deviation == 0.0 {
        return Err(CannotSay::NoSpread { what: "the values".into() });
    }
    let mut result = bare_limit(mean, deviation, values.len(), content, confidence)?;
    check_skewness(values, mean, &mut result.notes);
    check_order(values, mean, &mut result.notes);
    if values.len() < 20 {
        result.notes.push(Note::new(
            "few-values",
            format!(
                "{} values cannot show that a population is normal; no check here has the power \
                 to.",
                values.len()
            ),
            "Take more values, or state from other evidence why the population is normal.",
        ));
    }
    Ok(result)
}

fn bare_limit(
    mean: f64,
    standard_deviation: f64,
    n: usize,
    content: f64,
    confidence: f64,
) -> Result<UpperLimit, ToleranceError> {
    cannot_say::finite("the mean", mean)?;
    cannot_say::not_negative("the standard deviation", standard_deviation)?;
    let factor = one_sided_normal_factor(n, content, confidence)?;
    let limit = cannot_say::computed("the limit", mean + factor * standard_deviation)?;
    let mut notes = Vec::new();
    if standard_deviation == 0.0 {
        notes.push(Note::new(
            "no-spread",
            "The standard deviation is zero; the limit equals the mean and protects nothing.",
            "Record the values with more digits, or check whether they were capped.",
        ));
    }
    Ok(UpperLimit {
        method: "one-sided normal tolerance limit, exact factor by the noncentral t distribution"
            .into(),
        n,
        mean,
        standard_deviation,
        factor,
        limit,
        content,
        confidence,
        notes,
    })
}

/// Flags skewness beyond what a normal sample of this size shows.
fn check_skewness(values: &[f64], mean: f64, notes: &mut Vec<Note>) {
    let n = values.len() as f64;
    if values.len() < 8 {
        return;
    }
    let second = sums::sum(values.iter().map(|v| (v - mean) * (v - mean))) / n;
    let third = sums::sum(values.iter().map(|v| (v - mean) * (v - mean) * (v - mean))) / n;
    let skewness = third / (second * second.sqrt());
    // Exact variance of the sample skewness of a normal population.
    let error = (6.0 * (n - 2.0) / ((n + 1.0) * (n + 3.0))).sqrt();
    if skewness.is_finite() && skewness.abs() > 2.576 * error {
        notes.push(Note::new(
            "skewed",
            format!(
                "The values are skewed ({skewness:.2}, more than 2.58 standard errors of {error:.2}); \
                 a normal limit is then {} for the upper tail.",
                if skewness > 0.0 { "too low" } else { "too high" }
            ),
            "Look for a second population or a wet unit; otherwise use a limit on the log scale \
             or a nonparametric limit.",
        ));
    }
}

/// Flags values whose order carries information: drift or carry-over.
fn check_order(values: &[f64], mean: f64, notes: &mut Vec<Note>) {
    let n = values.len();
    if n < 8 {
        return;
    }
    let total = sums::sum(values.iter().map(|v| (v - mean) * (v - mean)));
    let steps = sums::sum(values.windows(2).map(|w| (w[1] - w[0]) * (w[1] - w[0])));
    // Von Neumann's ratio: 2 for independent values, smaller with drift.
    let ratio = steps / total;
    let count = n as f64;
    let error = (4.0 * (count - 2.0) / ((count - 1.0) * (count + 1.0))).sqrt();
    let z = (ratio - 2.0) / error;
    if z.is_finite() && z < -2.576 {
        notes.push(Note::new(
            "not-independent",
            format!(
                "Neighbouring values are alike (von Neumann ratio {ratio:.2}, 2 expected): the \
                 record drifts or carries over, and {n} values count for fewer."
            ),
            "Check the order of the runs against temperature and time; use values from separate \
             days or lots.",
        ));
    }
}

/// Number of values whose largest is an upper tolerance limit without any
/// assumption on the distribution.
///
/// Smallest `n` with `content^n <= 1 - confidence`. Source: S. S. Wilks, Ann.
/// Math. Statist. 12 (1941) 91; ISO 16269-6:2014. Returns `usize::MAX` where
/// no number is enough or an argument is not a probability.
///
/// ```
/// assert_eq!(statistics::tolerance_limits::nonparametric_sample_size(0.95, 0.95), 59);
/// ```
#[must_use]
pub fn nonparametric_sample_size(content: f64, confidence: f64) -> usize {
    if !(content >= 0.0 && content < 1.0 && (0.0..1.0).contains(&confidence)) {
        return usize::MAX;
    }
    if content == 0.0 {
        return 1;
    }
    let needed = ln_1p(-confidence) / ln(content);
    // Rounding must not turn an exact whole number into the next one.
    let nearest = (needed + 0.5).floor();
    let n = if (needed - nearest).abs() < 1e-9 { nearest } else { needed.ceil() };
    n.max(1.0) as usize
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn two_values_median_is_the_mean() {
        // With content one half the factor is t(confidence; n-1) / sqrt(n).
        let k = one_sided_normal_factor(2, 0.5, 0.75).unwrap();
        assert!((k - 1.0 / 2.0_f64.sqrt()).abs() < 1e-12, "{k}");
    }

    #[test]
    fn refusals() {
        assert!(one_sided_normal_factor(1, 0.9, 0.9).is_err());
        assert!(one_sided_normal_factor(5, 1.0, 0.9).is_err());
        assert!(upper_limit_from_values(&[2.0; 9], 0.9, 0.9).is_err());
        assert!(upper_limit_from_values(&[1.0, f64::INFINITY], 0.9, 0.9).is_err());
        assert!(upper_limit_from_summary(f64::NAN, 1.0, 9, 0.9, 0.9).is_err());
        assert!(upper_limit_from_summary(1.0, -1.0, 9, 0.9, 0.9).is_err());
    }

    #[test]
    fn drift_is_caught() {
        let drifting: Vec<f64> = (0..40).map(|i| f64::from(i) + f64::from(i % 3)).collect();
        let limit = upper_limit_from_values(&drifting, 0.99, 0.95).unwrap();
        assert!(limit.notes.iter().any(|note| note.code == "not-independent"));
    }

    #[test]
    fn sizes_by_hand() {
        // 0.5^n <= 0.5 needs one value.
        assert_eq!(nonparametric_sample_size(0.5, 0.5), 1);
        assert_eq!(nonparametric_sample_size(0.5, 0.75), 2);
        assert_eq!(nonparametric_sample_size(1.0, 0.5), usize::MAX);
    }
}
