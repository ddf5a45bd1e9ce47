//! False rejection and missed detection at one limit, looked at together.

use crate::account::{Account, Counted};
use crate::cannot_say::{self, CannotSay};
use crate::distributions::{noncentral_t, normal, student_t};
use crate::note::{Assumption, Note};

/// Share of a normal population beyond a limit, with bounds.
#[derive(Debug, Clone, PartialEq)]
#[non_exhaustive]
pub struct ShareAbove {
    /// Estimate from mean and standard deviation.
    pub share: f64,
    /// One-sided lower bound.
    pub lower: f64,
    /// One-sided upper bound.
    pub upper: f64,
    /// Confidence of each bound.
    pub confidence: f64,
    /// Number of values.
    pub n: usize,
    /// Name of the method.
    pub method: &'static str,
}

impl Account for ShareAbove {
    fn method(&self) -> &str {
        self.method
    }

    fn counted(&self) -> Counted {
        Counted::of(self.n, "values of one population")
    }

    fn assumptions(&self) -> Vec<Assumption> {
        vec![
            Assumption::unchecked(
                "normal values",
                "Shapiro-Wilk",
                "only mean, standard deviation and number were given",
            ),
            Assumption::unchecked(
                "units independent of each other",
                "from the plan",
                "numbers do not show it; state how the units were drawn",
            ),
        ]
    }

    fn notes(&self) -> Vec<Note> {
        if self.n < 20 {
            vec![Note::new(
                "few-values",
                format!(
                    "{} values leave the share wide: {:.2e} to {:.2e}.",
                    self.n, self.lower, self.upper
                ),
                "Quote the bound, not the estimate.",
            )]
        } else {
            Vec::new()
        }
    }
}

/// Share of a normal population above a limit.
///
/// With `t = sqrt(n) (mean - limit)/s` distributed as noncentral t with
/// noncentrality `sqrt(n) (mu - limit)/sigma`, the bounds are the exact ones:
/// the noncentralities for which the observed `t` has probability
/// `confidence` below or above it, carried through the normal distribution.
///
/// # Errors
/// Fewer than two values, figures that are not finite, a standard deviation of
/// zero, a confidence outside 0 to 1.
pub fn share_above(
    mean: f64,
    standard_deviation: f64,
    n: usize,
    limit: f64,
    confidence: f64,
) -> Result<ShareAbove, CannotSay> {
    cannot_say::at_least("values", 2, n)?;
    cannot_say::finite("the mean", mean)?;
    cannot_say::finite("the limit", limit)?;
    cannot_say::positive("the standard deviation", standard_deviation)?;
    cannot_say::open_probability("confidence", confidence)?;
    let root_n = (n as f64).sqrt();
    let z = cannot_say::computed("the distance to the limit", (mean - limit) / standard_deviation)?;
    let df = n as f64 - 1.0;
    let noncentrality = |probability: f64| {
        // P(T <= t) falls with the noncentrality.
        let t = z * root_n;
        let spread = 10.0 + 10.0 * (1.0 + t * t / (2.0 * df)).sqrt();
        digits::roots::between(t - spread, t + spread, 1e-12, |delta| {
            probability - noncentral_t::cumulative(t, df, delta)
        })
        .ok_or_else(|| CannotSay::Overflow { what: "the bound of the share".into() })
    };
    let lower = noncentrality(confidence)? / root_n;
    let upper = noncentrality(1.0 - confidence)? / root_n;
    Ok(ShareAbove {
        share: normal::cumulative(z),
        lower: normal::cumulative(lower),
        upper: normal::cumulative(upper),
        confidence,
        n,
        method: "share of a normal population above a limit, exact bounds by the noncentral t \
                 distribution",
    })
}

/// A limit judged by both of its errors.
#[derive(Debug, Clone, PartialEq)]
#[non_exhaustive]
pub struct TwoErrors {
    /// The limit judged.
    pub limit: f64,
    /// Share of good units above the limit (false rejection).
    pub false_rejection: ShareAbove,
    /// Share of defective units above the limit (detection).
    pub detection: ShareAbove,
    /// Remarks with next steps.
    pub notes: Vec<Note>,
}

impl Account for TwoErrors {
    fn method(&self) -> &str {
        self.false_rejection.method
    }

    fn counted(&self) -> Counted {
        Counted::of(
            self.false_rejection.n.min(self.detection.n),
            format!(
                "values of the smaller group ({} good, {} with the leak)",
                self.false_rejection.n, self.detection.n
            ),
        )
    }

    fn assumptions(&self) -> Vec<Assumption> {
        vec![
            Assumption::unchecked(
                "normal good units",
                "Shapiro-Wilk",
                "only mean, standard deviation and number were given",
            ),
            Assumption::unchecked(
                "normal units with the leak",
                "Shapiro-Wilk",
                "only mean, standard deviation and number were given",
            ),
            Assumption::looked_at(
                "the leak reads above the limit",
                "mean of the units with the leak",
                self.detection.share > 0.5,
                format!("Estimated share found {:.4}.", self.detection.share),
            ),
        ]
    }

    fn notes(&self) -> Vec<Note> {
        self.notes.clone()
    }
}

/// Mean, standard deviation and number of one population.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Population {
    /// Mean.
    pub mean: f64,
    /// Standard deviation.
    pub standard_deviation: f64,
    /// Number of values.
    pub n: usize,
}

/// Both errors of a limit between good and defective units.
///
/// # Errors
/// As [`share_above`].
pub fn judge_limit(
    limit: f64,
    good: Population,
    defective: Population,
    confidence: f64,
) -> Result<TwoErrors, CannotSay> {
    let share = |p: Population| share_above(p.mean, p.standard_deviation, p.n, limit, confidence);
    let false_rejection = share(good)?;
    let detection = share(defective)?;
    let mut notes = vec![Note::new(
        "same-data",
        "A limit chosen on these values and judged on them is judged kindly.",
        "Confirm both errors on units that took no part in choosing the limit.",
    )];
    if defective.mean <= limit {
        notes.push(Note::new(
            "limit-above-signal",
            "The limit lies above the mean of the defective units: more than half of them pass.",
            "Lower the noise, lengthen the measurement, or claim a larger defect.",
        ));
    }
    Ok(TwoErrors { limit, false_rejection, detection, notes })
}

/// Limit between two populations at which both errors have equal bounds.
///
/// # Errors
/// As [`share_above`]; populations in the wrong order.
pub fn balanced_limit(
    good: Population,
    defective: Population,
    confidence: f64,
) -> Result<TwoErrors, CannotSay> {
    if !(defective.mean > good.mean) {
        return Err(CannotSay::not_determined(
            "the defective units do not read higher than the good ones",
            "Check the populations, or use a larger defect.",
        ));
    }
    let difference = |limit: f64| -> f64 {
        let good = share_above(good.mean, good.standard_deviation, good.n, limit, confidence);
        let bad = share_above(
            defective.mean,
            defective.standard_deviation,
            defective.n,
            limit,
            confidence,
        );
        match (good, bad) {
            (Ok(good), Ok(bad)) => (1.0 - bad.lower) - good.upper,
            _ => f64::NAN,
        }
    };
    let limit =
        digits::roots::between(good.mean, defective.mean, 1e-12, difference).ok_or_else(|| {
            CannotSay::not_determined(
                "no limit between the two means balances the bounds of the two errors",
                "Take more units of both kinds.",
            )
        })?;
    judge_limit(limit, good, defective, confidence)
}

/// What a limit of "mean + multiplier s" from `n` values really costs.
#[derive(Debug, Clone, PartialEq)]
#[non_exhaustive]
pub struct SimpleRule {
    /// Share of good units above the limit, averaged over repetitions.
    pub mean_false_rejection: f64,
    /// Share of good units above the limit that is not exceeded with the
    /// confidence.
    pub bound_false_rejection: f64,
    /// Share a known mean and deviation would give.
    pub believed_false_rejection: f64,
    /// Confidence of the bound.
    pub confidence: f64,
    /// Number of values the rule is set on.
    pub n: usize,
}

impl Account for SimpleRule {
    fn method(&self) -> &str {
        "share above mean + multiplier x s: Student's t in the average, noncentral t for the bound"
    }

    fn counted(&self) -> Counted {
        Counted::of(self.n, "values the rule is set on, as stated; no data")
    }

    fn assumptions(&self) -> Vec<Assumption> {
        vec![Assumption::unchecked(
            "normal values, independent of each other",
            "Shapiro-Wilk",
            "the rule is judged for a stated number and not for data",
        )]
    }

    fn notes(&self) -> Vec<Note> {
        if self.mean_false_rejection > 1.5 * self.believed_false_rejection {
            vec![Note::new(
                "rule-costs-more",
                format!(
                    "The rule rejects {:.2e} of good units in the average where a known deviation would \
             reject {:.2e}.",
                    self.mean_false_rejection, self.believed_false_rejection
                ),
                "Use a tolerance factor for the number of values at hand.",
            )]
        } else {
            Vec::new()
        }
    }
}

/// Cost of the rule "mean + multiplier s" set on `n` values.
///
/// Average: upper tail of Student's t at `multiplier / sqrt(1 + 1/n)`. Bound:
/// the content whose exact tolerance factor is the multiplier.
///
/// # Errors
/// Fewer than two values; a multiplier that is not finite; a confidence
/// outside 0 to 1.
pub fn simple_rule(n: usize, multiplier: f64, confidence: f64) -> Result<SimpleRule, CannotSay> {
    cannot_say::finite("the multiplier", multiplier)?;
    let share = share_above(0.0, 1.0, n, multiplier, confidence)?;
    let count = n as f64;
    Ok(SimpleRule {
        mean_false_rejection: student_t::survival(
            multiplier / (1.0 + 1.0 / count).sqrt(),
            count - 1.0,
        ),
        bound_false_rejection: share.upper,
        believed_false_rejection: normal::survival(multiplier),
        confidence,
        n,
    })
}

/// Limit drawn in by a guard band, so that a true value beyond `limit` is
/// accepted with at most the stated risk.
///
/// `limit - z(1 - risk) u`, with `u` the standard uncertainty of one reading.
/// Source: JCGM 106:2012 (from memory).
///
/// # Errors
/// Figures that are not finite, a negative uncertainty, a risk outside 0 to 0.5:
/// a larger one would move the limit outward, and guard nothing.
pub fn guarded_limit(limit: f64, uncertainty: f64, risk: f64) -> Result<f64, CannotSay> {
    cannot_say::finite("the limit", limit)?;
    cannot_say::not_negative("the standard uncertainty", uncertainty)?;
    cannot_say::open_probability("the risk", risk)?;
    if risk > 0.5 {
        return Err(CannotSay::OutOfRange {
            what: "the risk of the guard band".into(),
            value: risk,
            allowed: "a number above 0 and at most 0.5".into(),
        });
    }
    cannot_say::computed("the guarded limit", limit + normal::quantile(risk) * uncertainty)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::tolerance_limits::one_sided_normal_factor;

    #[test]
    fn bound_undoes_the_tolerance_factor() {
        // A limit at k s above the mean leaves at most 1 % above it.
        let k = one_sided_normal_factor(30, 0.99, 0.95).unwrap();
        let share = share_above(0.0, 1.0, 30, k, 0.95).unwrap();
        assert!((share.upper - 0.01).abs() < 1e-10, "{share:?}");
        assert!(share.lower < share.share && share.share < share.upper);
    }

    #[test]
    fn three_s_of_ten_is_no_three_sigma() {
        let cost = simple_rule(10, 3.0, 0.95).unwrap();
        assert!(cost.believed_false_rejection < 0.0014);
        assert!(cost.mean_false_rejection > 5.0 * cost.believed_false_rejection);
        assert!(cost.bound_false_rejection > 0.03);
    }

    #[test]
    fn balanced_between_equal_populations() {
        let good = Population { mean: 0.0, standard_deviation: 1.0, n: 50 };
        let bad = Population { mean: 8.0, standard_deviation: 1.0, n: 50 };
        let result = balanced_limit(good, bad, 0.95).unwrap();
        assert!((result.limit - 4.0).abs() < 1e-6);
        assert!(balanced_limit(bad, good, 0.95).is_err());
        assert!((guarded_limit(10.0, 1.0, 0.5).unwrap() - 10.0).abs() < 1e-15);
        // A risk beyond a half would widen the limit.
        assert!(guarded_limit(10.0, 1.0, 0.9).is_err());
    }
}
