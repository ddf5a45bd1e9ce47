//! Bounds of one proportion.

use crate::account::{Account, Counted};
use crate::cannot_say::{self, CannotSay};
use crate::distributions::{beta, normal};
use crate::note::{Assumption, Note};

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

impl Account for ProportionBounds {
    fn method(&self) -> &str {
        self.method
    }

    fn counted(&self) -> Counted {
        Counted::effective(self.of as f64, "independent trials")
    }

    fn assumptions(&self) -> Vec<Assumption> {
        vec![Assumption::unchecked(
            "trials independent, with one probability",
            "from the plan",
            "counts do not show it; state how the units were drawn, and count units and not \
                 repeated readings",
        )]
    }

    fn notes(&self) -> Vec<Note> {
        self.notes.clone()
    }
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

/// Bounds of a proportion by inverting the score test (Wilson).
///
/// Right on average rather than always: shorter than the exact bounds, and
/// below nominal for some proportions. Source: E. B. Wilson, J. Am. Stat.
/// Assoc. 22 (1927) 209; R. G. Newcombe, Stat. Med. 17 (1998) 857.
///
/// # Errors
/// As [`clopper_pearson`].
pub fn wilson(hits: u64, of: u64, confidence: f64) -> Result<ProportionBounds, CannotSay> {
    check(hits, of, confidence)?;
    let z_two = -normal::quantile(0.5 * (1.0 - confidence));
    let z_one = -normal::quantile(1.0 - confidence);
    let (lower, upper) = score_limits(hits, of, z_two);
    let one = score_limits(hits, of, z_one.abs());
    let (one_sided_lower, one_sided_upper) = if z_one >= 0.0 { one } else { (one.1, one.0) };
    Ok(ProportionBounds {
        hits,
        of,
        lower,
        upper,
        one_sided_lower,
        one_sided_upper,
        confidence,
        method: "score interval (Wilson)",
        notes: vec![
            independence_note(of),
            Note::new(
                "average-coverage",
                "The score interval holds its confidence on average, not for every proportion.",
                "Use the exact bounds for a guaranteed claim.",
            ),
        ],
    })
}

fn score_limits(hits: u64, of: u64, z: f64) -> (f64, f64) {
    let (x, n) = (hits as f64, of as f64);
    let p = x / n;
    let centre = x + 0.5 * z * z;
    let half = z * (n * p * (1.0 - p) + 0.25 * z * z).sqrt();
    let whole = n + z * z;
    let lower = if hits == 0 { 0.0 } else { (centre - half) / whole };
    let upper = if hits == of { 1.0 } else { (centre + half) / whole };
    (lower.max(0.0), upper.min(1.0))
}

/// Bounds of a proportion from the Jeffreys prior: quantiles of the beta
/// distribution with shapes `hits + 1/2` and `misses + 1/2`, with the ends
/// set to 0 and 1 where there are no hits or no misses.
///
/// Source: L. D. Brown, T. T. Cai and A. DasGupta, Stat. Sci. 16 (2001) 101.
///
/// # Errors
/// As [`clopper_pearson`].
pub fn jeffreys(hits: u64, of: u64, confidence: f64) -> Result<ProportionBounds, CannotSay> {
    check(hits, of, confidence)?;
    let (a, b) = (hits as f64 + 0.5, (of - hits) as f64 + 0.5);
    let error = 1.0 - confidence;
    let lower = |e: f64| if hits == 0 { 0.0 } else { beta::quantile(e, a, b) };
    let upper = |e: f64| if hits == of { 1.0 } else { beta::upper_quantile(e, a, b) };
    Ok(ProportionBounds {
        hits,
        of,
        lower: lower(0.5 * error),
        upper: upper(0.5 * error),
        one_sided_lower: lower(error),
        one_sided_upper: upper(error),
        confidence,
        method: "credible interval, Jeffreys prior",
        notes: vec![independence_note(of)],
    })
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
    fn score_limits_solve_the_score_equation() {
        let bounds = wilson(3, 20, 0.95).unwrap();
        for p in [bounds.lower, bounds.upper] {
            let z = (0.15 - p) / (p * (1.0 - p) / 20.0).sqrt();
            assert!((z.abs() - 1.959_963_984_540_054).abs() < 1e-10);
        }
        assert_eq!(jeffreys(0, 9, 0.95).unwrap().lower, 0.0);
    }

    #[test]
    fn refusals() {
        assert!(clopper_pearson(0, 0, 0.95).is_err());
        assert!(clopper_pearson(3, 2, 0.95).is_err());
        assert!(clopper_pearson(1, 2, f64::NAN).is_err());
    }
}
