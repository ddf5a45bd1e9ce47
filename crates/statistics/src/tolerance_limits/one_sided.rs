//! One-sided limits of a normal population.

use crate::account::{Account, Counted};
use crate::cannot_say::{self, CannotSay};
use crate::distributions::{noncentral_t, normal};
use crate::note::{Assumption, Note};
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
    /// Assumptions checked, with their outcome.
    pub assumptions: Vec<Assumption>,
    /// Remarks with next steps.
    pub notes: Vec<Note>,
}

impl Account for UpperLimit {
    fn method(&self) -> &str {
        &self.method
    }

    fn counted(&self) -> Counted {
        Counted::of(self.n, "values, taken as independent units of one population")
    }

    fn assumptions(&self) -> Vec<Assumption> {
        self.assumptions.clone()
    }

    fn notes(&self) -> Vec<Note> {
        self.notes.clone()
    }
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
    result.assumptions = [
        ("normal distribution", "Shapiro-Wilk"),
        ("no single outlier", "Grubbs"),
        ("independent in order of measurement", "von Neumann ratio"),
    ]
    .map(|(name, test)| {
        Assumption::unchecked(name, test, "only mean, standard deviation and number were given")
    })
    .into();
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
    cannot_say::all_in_range("values", values)?;
    let too_few = || CannotSay::TooFew { what: "values".into(), needed: 2, got: values.len() };
    let mean = sums::mean(values).ok_or_else(too_few)?;
    let deviation = sums::standard_deviation(values).ok_or_else(too_few)?;
    if deviation == 0.0 || cannot_say::only_rounding(values) {
        return Err(CannotSay::NoSpread { what: "the values".into() });
    }
    let mut result = bare_limit(mean, deviation, values.len(), content, confidence)?;
    let (assumptions, mut notes) = crate::assumptions::of_independent_normal_values(values);
    result.assumptions = assumptions;
    result.notes.append(&mut notes);
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
        result.notes.extend(in_two_groups(values));
    }
    Ok(result)
}

/// Few values that part more clearly than four of five normal samples do; tests
/// of normality have no power there.
fn in_two_groups(values: &[f64]) -> Option<Note> {
    let found = crate::assumptions::two_groups::two_groups(values)?;
    Some(Note::new(
        "two-groups",
        format!(
            "The values stand in two groups: {} up to {:.3e} and {} from {:.3e}; only one in five \
             samples of one normal population parts as clearly.",
            found.n_lower,
            found.lower_end,
            values.len() - found.n_lower,
            found.upper_start
        ),
        "Find what tells the groups apart; a limit that takes them as one population holds for \
         neither.",
    ))
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
    cannot_say::one_in_range("the mean", mean)?;
    cannot_say::one_in_range("the standard deviation", standard_deviation)?;
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
        assumptions: Vec::new(),
        notes,
    })
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
}
