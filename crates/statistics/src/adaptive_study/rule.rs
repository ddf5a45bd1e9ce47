//! A stopping rule and its error rates.

use super::next_size::next_size;
use crate::account::{Account, Counted};
use crate::cannot_say::{self, CannotSay};
use crate::detection::{HitMiss, Link, fit_hit_miss};
use crate::note::{Assumption, Note};
use digits::RandomStream;
use digits::scalar::ln;

/// A rule fixed before testing.
#[derive(Debug, Clone, PartialEq)]
pub struct Rule {
    /// Sizes that can be made.
    pub available: Vec<f64>,
    /// Link of the analysis.
    pub link: Link,
    /// Probability of detection that counts, usually 0.9.
    pub probability: f64,
    /// Confidence of the bound.
    pub confidence: f64,
    /// Size that must be shown to be found: the study passes when the upper
    /// bound reaches it.
    pub critical_size: f64,
    /// Fewest units before the study may pass.
    pub fewest_units: u64,
    /// Units after which it ends without passing.
    pub most_units: u64,
}

/// A true curve for simulation, `link(POD) = intercept + slope ln size`.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct TrueCurve {
    /// Link.
    pub link: Link,
    /// Intercept.
    pub intercept: f64,
    /// Slope in the natural logarithm of size.
    pub slope: f64,
}

/// How a rule behaves under a true curve.
#[derive(Debug, Clone, PartialEq)]
#[non_exhaustive]
pub struct OperatingCharacteristics {
    /// Share of studies that passed.
    pub passed: f64,
    /// Standard error of that share.
    pub standard_error: f64,
    /// Mean number of units used.
    pub mean_units: f64,
    /// Share of studies that ended without a curve.
    pub without_curve: f64,
    /// Size truly found with the probability that counts.
    pub true_size: f64,
    /// Whether passing is an error under this curve.
    pub passing_is_wrong: bool,
    /// Number of studies simulated.
    pub studies: u64,
    /// Remarks with next steps.
    pub notes: Vec<Note>,
}

impl Account for OperatingCharacteristics {
    fn method(&self) -> &str {
        "simulated studies under a stated true curve, bound by the profile likelihood at every look"
    }

    fn counted(&self) -> Counted {
        Counted::effective(
            self.studies as f64,
            "simulated studies under a stated curve; no unit of a product",
        )
    }

    fn assumptions(&self) -> Vec<Assumption> {
        vec![
            Assumption::unchecked(
                "the true curve is the one stated",
                "a range of stated curves",
                "it is an input; repeat with flatter and steeper curves",
            ),
            Assumption::unchecked(
                "units independent of each other",
                "from the plan",
                "the simulation draws them so; plan the real study to match",
            ),
        ]
    }

    fn notes(&self) -> Vec<Note> {
        let mut notes = self.notes.clone();
        if self.standard_error > 0.01 {
            notes.push(Note::new(
        "few-studies",
        format!(
            "{} studies fix the share that passes to no better than {:.3} (standard error).",
            self.studies, self.standard_error
        ),
        "Simulate more studies before a rule is chosen on small differences.",
    ));
        }
        notes
    }
}

fn check(rule: &Rule) -> Result<(), CannotSay> {
    cannot_say::positive("the critical size", rule.critical_size)?;
    cannot_say::open_probability("the probability", rule.probability)?;
    cannot_say::open_probability("confidence", rule.confidence)?;
    cannot_say::at_least("available sizes", 2, rule.available.len())?;
    if rule.most_units < rule.fewest_units || rule.most_units > 100_000 {
        return Err(CannotSay::OutOfRange {
            what: "the largest number of units".into(),
            value: rule.most_units as f64,
            allowed: format!("a number from {} to 100000", rule.fewest_units),
        });
    }
    Ok(())
}

/// Simulates studies under a true curve.
///
/// # Errors
/// A rule out of range, a curve that does not rise, no studies.
pub fn operating_characteristics(
    rule: &Rule,
    truth: TrueCurve,
    studies: u64,
    seed: u64,
) -> Result<OperatingCharacteristics, CannotSay> {
    check(rule)?;
    cannot_say::at_least("studies", 1, usize::try_from(studies).unwrap_or(usize::MAX))?;
    cannot_say::positive("the slope of the true curve", truth.slope)?;
    cannot_say::finite("the intercept of the true curve", truth.intercept)?;
    let (mut passed, mut units, mut without) = (0_u64, 0_u64, 0_u64);
    for study in 0..studies {
        let mut stream = RandomStream::new(seed, study);
        let mut results: Vec<HitMiss> = Vec::new();
        let mut used = 0;
        let mut has_curve = false;
        let mut won = false;
        while used < rule.most_units {
            let size = next_size(&results, &rule.available, rule.link, rule.probability)?.size;
            let share = truth.link.probability(truth.intercept + truth.slope * ln(size));
            let hit = u64::from(stream.uniform() < share);
            match results.iter_mut().find(|row| row.size == size) {
                Some(row) => {
                    row.hits += hit;
                    row.of += 1;
                }
                None => results.push(HitMiss { size, hits: hit, of: 1 }),
            }
            used += 1;
            if used >= rule.fewest_units && results.len() >= 2 {
                let fit = fit_hit_miss(&results, rule.link, true, rule.confidence)?;
                has_curve = fit.slope.is_some();
                if fit.upper_bound(rule.probability).is_some_and(|b| b <= rule.critical_size) {
                    won = true;
                    break;
                }
            }
        }
        passed += u64::from(won);
        units += used;
        without += u64::from(!has_curve);
    }
    let count = studies as f64;
    let share = passed as f64 / count;
    let true_size = cannot_say::computed(
        "the size truly found",
        digits::scalar::exp((truth.link.line(rule.probability) - truth.intercept) / truth.slope),
    )?;
    let wrong = true_size > rule.critical_size;
    let error = (share * (1.0 - share) / count).sqrt();
    let mut notes = Vec::new();
    if wrong && share - 2.0 * error > 1.0 - rule.confidence {
        notes.push(Note::new(
            "looks-inflate-the-error",
            format!(
                "Under this curve the study passes wrongly in {:.1} % of cases, more than the {:.1} % \
                 its confidence promises: stopping at the first pass counts every look.",
                100.0 * share,
                100.0 * (1.0 - rule.confidence)
            ),
            "Raise the confidence of the bound or fix the number of units, and simulate again.",
        ));
    }
    Ok(OperatingCharacteristics {
        passed: share,
        standard_error: error,
        mean_units: units as f64 / count,
        without_curve: without as f64 / count,
        true_size,
        passing_is_wrong: wrong,
        studies,
        notes,
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn looking_often_inflates_the_error_and_is_said() {
        let rule = Rule {
            available: vec![1.0, 2.0, 3.0, 4.0, 6.0, 8.0, 12.0],
            link: Link::Logit,
            probability: 0.9,
            confidence: 0.95,
            critical_size: 6.0,
            fewest_units: 15,
            most_units: 60,
        };
        // True a90 a little above the critical size: every pass is wrong.
        let slope = 3.0;
        let intercept = Link::Logit.line(0.9) - slope * ln(6.1);
        let truth = TrueCurve { link: Link::Logit, intercept, slope };
        let result = operating_characteristics(&rule, truth, 25, 1).unwrap();
        assert!(result.passing_is_wrong);
        // A far better curve passes nearly always, with fewer units.
        let good = TrueCurve { link: Link::Logit, intercept: intercept + 2.0, slope };
        let better = operating_characteristics(&rule, good, 25, 1).unwrap();
        assert!(better.passed > result.passed, "{better:?} {result:?}");
        assert!(operating_characteristics(&rule, truth, 0, 1).is_err());
    }
}
