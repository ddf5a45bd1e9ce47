//! Equivalence by two one-sided tests.
//!
//! "No significant difference" is not equivalence. The margin comes from the
//! decision and is fixed beforehand. Source: D. J. Schuirmann, J.
//! Pharmacokinet. Biopharm. 15 (1987) 657.

use crate::account::{Account, Counted};
use crate::cannot_say::{self, CannotSay};
use crate::distributions::student_t;
use crate::note::{Assumption, Note};
use crate::summaries::GroupSummary;
use digits::sums;

/// Result of two one-sided tests.
#[derive(Debug, Clone, PartialEq)]
#[non_exhaustive]
pub struct Equivalence {
    /// Difference.
    pub difference: f64,
    /// Standard error of the difference.
    pub standard_error: f64,
    /// Degrees of freedom.
    pub degrees_of_freedom: f64,
    /// Larger of the two one-sided probabilities.
    pub p_value: f64,
    /// Interval at confidence `1 - 2 alpha`.
    pub interval: (f64, f64),
    /// Margin.
    pub margin: f64,
    /// Error probability.
    pub alpha: f64,
    /// Whether equivalence is shown.
    pub equivalent: bool,
    /// Number of values that count.
    pub n: usize,
    /// Name of the method.
    pub method: &'static str,
    /// What `n` counts.
    pub counts: &'static str,
    /// Assumptions with the outcome of their checks.
    pub assumptions: Vec<Assumption>,
    /// Remarks with next steps.
    pub notes: Vec<Note>,
}

impl Account for Equivalence {
    fn method(&self) -> &str {
        self.method
    }

    fn counted(&self) -> Counted {
        Counted::of(self.n, self.counts)
    }

    fn assumptions(&self) -> Vec<Assumption> {
        self.assumptions.clone()
    }

    fn notes(&self) -> Vec<Note> {
        let mut notes = self.notes.clone();
        if self.equivalent {
            notes.push(Note::new(
                "margin-fixed-beforehand",
                "Equivalence within the margin was shown; that says as much as the margin \
                     does.",
                "State why the margin is harmless, and that it was fixed before the data \
                     were seen.",
            ));
        }
        notes
    }
}

fn judge(
    difference: f64,
    error: f64,
    df: f64,
    (margin, alpha): (f64, f64),
    (n, counts): (usize, &'static str),
    method: &'static str,
    assumptions: Vec<Assumption>,
) -> Result<Equivalence, CannotSay> {
    cannot_say::positive("the margin", margin)?;
    if !(alpha > 0.0 && alpha < 0.5) {
        return Err(CannotSay::OutOfRange {
            what: "alpha".into(),
            value: alpha,
            allowed: "a probability between 0 and 0.5".into(),
        });
    }
    cannot_say::finite("the difference", difference)?;
    if error == 0.0 {
        return Err(CannotSay::NoSpread { what: "the values".into() });
    }
    cannot_say::computed("the standard error", error)?;
    let upper = student_t::cumulative((difference - margin) / error, df);
    let lower = student_t::survival((difference + margin) / error, df);
    let p_value = upper.max(lower);
    let half = -student_t::quantile(alpha, df) * error;
    let equivalent = p_value < alpha;
    let mut notes = Vec::new();
    if !equivalent {
        let different = difference.abs() - half > margin;
        notes.push(if different {
            Note::new("different", "The difference lies beyond the margin.", "Find its cause.")
        } else {
            Note::new(
                "not-shown",
                "Equivalence was not shown; the interval reaches beyond the margin.",
                "Take more units; do not widen the margin.",
            )
        });
    }
    Ok(Equivalence {
        difference,
        standard_error: error,
        degrees_of_freedom: df,
        p_value,
        interval: (difference - half, difference + half),
        margin,
        alpha,
        equivalent,
        n,
        method,

        counts,
        assumptions,
        notes,
    })
}

/// Equivalence of paired readings of the same units.
///
/// # Errors
/// Lists of unequal length, fewer than two pairs, values that are not finite,
/// no scatter, a margin that is not positive, `alpha` outside 0 to 1/2.
pub fn equivalence_paired(
    first: &[f64],
    second: &[f64],
    margin: f64,
    alpha: f64,
) -> Result<Equivalence, CannotSay> {
    let differences = super::agreement::differences(first, second)?;
    let n = differences.len();
    let mean = sums::mean(&differences).unwrap_or(0.0);
    let error = sums::standard_deviation(&differences).unwrap_or(0.0) / (n as f64).sqrt();
    judge(
        mean,
        error,
        n as f64 - 1.0,
        (margin, alpha),
        (n, "units, each read by both sides"),
        "two one-sided t tests, paired (first less second)",
        vec![
            crate::assumptions::normal("normal differences", &differences),
            crate::assumptions::independent("differences independent in order", &differences),
        ],
    )
}

/// Equivalence of two independent groups from their summaries (Welch).
///
/// # Errors
/// As [`equivalence_paired`], for groups of at least two values.
pub fn equivalence_two_groups(
    first: &GroupSummary,
    second: &GroupSummary,
    margin: f64,
    alpha: f64,
) -> Result<Equivalence, CannotSay> {
    crate::summaries::check(&[first.clone(), second.clone()], 2)?;
    let part = |g: &GroupSummary| g.standard_deviation * g.standard_deviation / g.n as f64;
    let (a, b) = (part(first), part(second));
    if a + b == 0.0 {
        return Err(CannotSay::NoSpread { what: "the values of both groups".into() });
    }
    let (u, v) = (a / (a + b), b / (a + b));
    let df = 1.0 / (u * u / (first.n as f64 - 1.0) + v * v / (second.n as f64 - 1.0));
    judge(
        first.mean - second.mean,
        (a + b).sqrt(),
        df,
        (margin, alpha),
        (first.n + second.n, "values of both groups together"),
        "two one-sided t tests, two groups (Welch)",
        vec![
            Assumption::unchecked(
                "normal values in each group",
                "Shapiro-Wilk",
                "only summaries were given",
            ),
            Assumption::unchecked(
                "different units in the two groups",
                "from the plan",
                "the same units read twice are pairs: compare them as pairs",
            ),
        ],
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_interval_and_the_test_agree() {
        let first: Vec<f64> = (0..20).map(|i| 10.0 + f64::from(i % 5)).collect();
        let second: Vec<f64> = (0..20).map(|i| 10.0 + f64::from((i + 1) % 5)).collect();
        for margin in [0.3, 0.6, 0.9, 1.2] {
            let result = equivalence_paired(&first, &second, margin, 0.05).unwrap();
            let inside = result.interval.0 > -margin && result.interval.1 < margin;
            assert_eq!(inside, result.equivalent, "{margin}");
        }
        assert!(equivalence_paired(&first, &first, 1.0, 0.05).is_err());
        assert!(equivalence_paired(&first, &second, 0.0, 0.05).is_err());
    }
}
