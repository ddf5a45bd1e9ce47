//! Proportions: how often, of how many, and what that proves.

use crate::cannot_say::{self, CannotSay};
use crate::distributions::beta;
use crate::note::Note;

/// Bounds of a proportion.
#[derive(Debug, Clone, PartialEq)]
#[non_exhaustive]
pub struct ProportionBounds {
    /// Number of hits.
    pub hits: u64,
    /// Number of independent trials.
    pub of: u64,
    /// Lower end of the two-sided interval.
    pub lower: f64,
    /// Upper end of the two-sided interval.
    pub upper: f64,
    /// Lower bound with all the error on one side.
    pub one_sided_lower: f64,
    /// Upper bound with all the error on one side.
    pub one_sided_upper: f64,
    /// Confidence of the interval and of each one-sided bound.
    pub confidence: f64,
    /// Name of the method.
    pub method: &'static str,
    /// Remarks with next steps.
    pub notes: Vec<Note>,
}

/// Exact bounds of a proportion (Clopper and Pearson).
///
/// Lower bound: beta quantile of `alpha` with shapes `hits`, `of - hits + 1`;
/// upper bound: beta quantile of `1 - alpha` with shapes `hits + 1`,
/// `of - hits`. Coverage is never below the confidence. Source: C. J. Clopper
/// and E. S. Pearson, Biometrika 26 (1934) 404.
///
/// # Errors
/// No trial, more hits than trials, confidence outside 0 to 1.
///
/// ```
/// let bounds = statistics::proportions::clopper_pearson(29, 29, 0.95)?;
/// assert!((bounds.one_sided_lower - 0.9019).abs() < 1e-4);
/// # Ok::<(), statistics::CannotSay>(())
/// ```
pub fn clopper_pearson(hits: u64, of: u64, confidence: f64) -> Result<ProportionBounds, CannotSay> {
    check(hits, of, confidence)?;
    let error = 1.0 - confidence;
    Ok(ProportionBounds {
        hits,
        of,
        lower: exact_lower(hits, of, 0.5 * error),
        upper: exact_upper(hits, of, 0.5 * error),
        one_sided_lower: exact_lower(hits, of, error),
        one_sided_upper: exact_upper(hits, of, error),
        confidence,
        method: "exact binomial bounds (Clopper-Pearson)",
        notes: vec![independence_note(of)],
    })
}

pub(crate) fn check(hits: u64, of: u64, confidence: f64) -> Result<(), CannotSay> {
    cannot_say::open_probability("confidence", confidence)?;
    cannot_say::at_least("trials", 1, usize::try_from(of).unwrap_or(usize::MAX))?;
    if hits > of {
        return Err(CannotSay::OutOfRange {
            what: "the number of hits".into(),
            value: hits as f64,
            allowed: format!("a whole number from 0 to {of}"),
        });
    }
    Ok(())
}

pub(crate) fn independence_note(of: u64) -> Note {
    Note::new(
        "independent-trials",
        format!(
            "The bound counts {of} independent trials. Repeated readings of one unit, or of one \
             defect, count once."
        ),
        "State the number of different units; with several readings per unit, count units.",
    )
}

pub(crate) fn exact_lower(hits: u64, of: u64, error: f64) -> f64 {
    if hits == 0 {
        return 0.0;
    }
    beta::quantile(error, hits as f64, (of - hits) as f64 + 1.0)
}

pub(crate) fn exact_upper(hits: u64, of: u64, error: f64) -> f64 {
    if hits == of {
        return 1.0;
    }
    beta::upper_quantile(error, hits as f64 + 1.0, (of - hits) as f64)
}

/// Number of trials that must all succeed to claim a reliability.
///
/// Smallest `n` with `reliability^n <= 1 - confidence`: 29, 59, 299 for 0.90,
/// 0.95, 0.99 at 95 %.
///
/// # Errors
/// A reliability or confidence outside 0 to 1.
pub fn success_run_sample_size(reliability: f64, confidence: f64) -> Result<u64, CannotSay> {
    cannot_say::open_probability("reliability", reliability)?;
    cannot_say::open_probability("confidence", confidence)?;
    Ok(crate::tolerance_limits::nonparametric_sample_size(reliability, confidence) as u64)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn one_trial_by_hand() {
        // One hit of one: the lower bound is the error probability itself.
        let bounds = clopper_pearson(1, 1, 0.95).unwrap();
        assert!((bounds.one_sided_lower - 0.05).abs() < 1e-15);
        assert_eq!(bounds.upper, 1.0);
        let bounds = clopper_pearson(0, 1, 0.95).unwrap();
        assert!((bounds.one_sided_upper - 0.95).abs() < 1e-15);
        assert_eq!(bounds.lower, 0.0);
    }

    #[test]
    fn refusals() {
        assert!(clopper_pearson(0, 0, 0.95).is_err());
        assert!(clopper_pearson(3, 2, 0.95).is_err());
        assert!(clopper_pearson(1, 2, f64::NAN).is_err());
        assert!(success_run_sample_size(1.0, 0.95).is_err());
    }
}
