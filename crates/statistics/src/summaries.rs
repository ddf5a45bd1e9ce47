//! Groups known only by their mean, standard deviation and number.

use crate::account::{Account, Counted};
use crate::cannot_say::{self, CannotSay};
use crate::distributions::f;
use crate::note::{Assumption, Note};
use digits::sums;

/// A group as a table prints it.
#[derive(Debug, Clone, PartialEq)]
pub struct GroupSummary {
    /// Name of the group.
    pub label: String,
    /// Mean of the group.
    pub mean: f64,
    /// Standard deviation within the group, divisor `n - 1`.
    pub standard_deviation: f64,
    /// Number of values in the group.
    pub n: usize,
}

/// All groups taken as one.
#[derive(Debug, Clone, PartialEq)]
#[non_exhaustive]
pub struct Pooled {
    /// Mean of all values.
    pub mean: f64,
    /// Standard deviation of all values, between-group part included.
    pub standard_deviation: f64,
    /// Standard deviation within groups, weighted by degrees of freedom.
    pub within_standard_deviation: f64,
    /// Number of values.
    pub n: usize,
    /// Name of the method.
    pub method: &'static str,
    /// Remarks with next steps.
    pub notes: Vec<Note>,
}

impl Account for Pooled {
    fn method(&self) -> &str {
        self.method
    }

    fn counted(&self) -> Counted {
        Counted::of(self.n, "values")
    }

    fn assumptions(&self) -> Vec<Assumption> {
        vec![
            Assumption::looked_at(
                "groups share one mean",
                "F test of the group means",
                !self.notes.iter().any(|note| note.code == "groups-differ"),
                if self.notes.iter().any(|note| note.code == "groups-differ") {
                    "They differ by more than their scatter.".to_owned()
                } else {
                    "Nothing spoke against it.".to_owned()
                },
            ),
            Assumption::unchecked("normal values", "Shapiro-Wilk", "only summaries were given"),
        ]
    }

    fn notes(&self) -> Vec<Note> {
        self.notes.clone()
    }
}

/// Whether group means differ by more than their scatter explains.
#[derive(Debug, Clone, PartialEq)]
#[non_exhaustive]
pub struct GroupsDiffer {
    /// F ratio of the test reported.
    pub f: f64,
    /// Degrees of freedom of the numerator.
    pub numerator_df: f64,
    /// Degrees of freedom of the denominator.
    pub denominator_df: f64,
    /// Probability of so large a ratio if the means were equal.
    pub p_value: f64,
    /// F ratio of the classical test with one common standard deviation.
    pub classical_f: f64,
    /// Probability value of the classical test.
    pub classical_p_value: f64,
    /// Probability value of the test that the standard deviations are equal
    /// (Bartlett).
    pub equal_spread_p_value: f64,
    /// Name of the method reported in `f` and `p_value`.
    pub method: &'static str,
    /// Number of values that count.
    pub n: usize,
    /// Remarks with next steps.
    pub notes: Vec<Note>,
}

impl Account for GroupsDiffer {
    fn method(&self) -> &str {
        self.method
    }

    fn counted(&self) -> Counted {
        Counted::of(self.n, "values")
    }

    fn assumptions(&self) -> Vec<Assumption> {
        vec![
            Assumption::tested(
                "equal scatter in all groups",
                "Bartlett",
                self.equal_spread_p_value,
                0.05,
                format!(
                    "p = {:.4}; where it speaks, Welch's test is reported.",
                    self.equal_spread_p_value
                ),
            ),
            Assumption::unchecked(
                "normal values in each group",
                "Shapiro-Wilk",
                "only summaries were given",
            ),
            Assumption::unchecked(
                "units independent of each other",
                "from the plan",
                "numbers do not show it; state how the units were drawn",
            ),
        ]
    }

    fn notes(&self) -> Vec<Note> {
        self.notes.clone()
    }
}

pub(crate) fn check(groups: &[GroupSummary], least_n: usize) -> Result<(), CannotSay> {
    for group in groups {
        cannot_say::finite(&format!("the mean of {}", group.label), group.mean)?;
        cannot_say::not_negative(
            &format!("the standard deviation of {}", group.label),
            group.standard_deviation,
        )?;
        cannot_say::at_least(&format!("values in {}", group.label), least_n, group.n)?;
    }
    Ok(())
}

/// Mean and standard deviation of all groups taken as one population.
///
/// The total sum of squares is the sum within groups plus the sum between
/// group means, so differences between groups widen the result.
///
/// # Errors
/// No group, an empty group, fewer than two values in all, or a figure that
/// is not finite.
pub fn pooled(groups: &[GroupSummary]) -> Result<Pooled, CannotSay> {
    cannot_say::at_least("groups", 1, groups.len())?;
    check(groups, 1)?;
    let n: usize = groups.iter().map(|group| group.n).sum();
    cannot_say::at_least("values", 2, n)?;
    let count = n as f64;
    let mean = sums::sum(groups.iter().map(|g| g.n as f64 / count * g.mean));
    let within = sums::sum(
        groups.iter().map(|g| (g.n as f64 - 1.0) * g.standard_deviation * g.standard_deviation),
    );
    let between = sums::sum(groups.iter().map(|g| g.n as f64 * (g.mean - mean) * (g.mean - mean)));
    let total = cannot_say::computed("the pooled variance", (within + between) / (count - 1.0))?;
    let within_df = count - groups.len() as f64;
    let mut notes = Vec::new();
    if groups.len() > 1 && within_df > 0.0 && between > 0.0 {
        let ratio = (between / (groups.len() as f64 - 1.0)) / (within / within_df);
        let p = f::survival(ratio, groups.len() as f64 - 1.0, within_df);
        if within == 0.0 || p < 0.05 {
            notes.push(Note::new(
                "groups-differ",
                format!(
                    "The means of the {} groups differ by more than their scatter ({}); they are \
                     not one population.",
                    groups.len(),
                    if ratio.is_finite() {
                        format!("F {ratio:.1}")
                    } else {
                        "they have none".to_owned()
                    }
                ),
                "Give each group its own limit, or treat groups as random and use a limit for a \
                 future group.",
            ));
        }
    }
    Ok(Pooled {
        mean: cannot_say::computed("the pooled mean", mean)?,
        standard_deviation: total.sqrt(),
        within_standard_deviation: if within_df > 0.0 { (within / within_df).sqrt() } else { 0.0 },
        n,
        method: "groups pooled, total sum of squares = within groups + between group means",
        notes,
    })
}

/// One-way analysis of variance from summaries.
///
/// Welch's test is reported when the standard deviations differ (Bartlett,
/// 5 %), the classical F test otherwise; both are returned. Source: B. L.
/// Welch, Biometrika 38 (1951) 330 (from memory).
///
/// # Errors
/// Fewer than two groups, a group with fewer than two values, or groups
/// without any spread.
pub fn groups_differ(groups: &[GroupSummary]) -> Result<GroupsDiffer, CannotSay> {
    cannot_say::at_least("groups", 2, groups.len())?;
    check(groups, 2)?;
    let k = groups.len() as f64;
    let n: usize = groups.iter().map(|group| group.n).sum();
    let count = n as f64;
    let mean = sums::sum(groups.iter().map(|g| g.n as f64 / count * g.mean));
    let within = sums::sum(
        groups.iter().map(|g| (g.n as f64 - 1.0) * g.standard_deviation * g.standard_deviation),
    );
    let between = sums::sum(groups.iter().map(|g| g.n as f64 * (g.mean - mean) * (g.mean - mean)));
    if within == 0.0 {
        return Err(CannotSay::NoSpread { what: "the values within the groups".into() });
    }
    let (df1, df2) = (k - 1.0, count - k);
    let classical_f = cannot_say::computed("the F ratio", (between / df1) / (within / df2))?;
    let classical_p_value = f::survival(classical_f, df1, df2);
    let mut notes = Vec::new();
    let no_spread = groups.iter().filter(|g| g.standard_deviation == 0.0).count();
    let equal_spread_p_value = if no_spread > 0 { 0.0 } else { bartlett(groups) };
    if no_spread > 0 {
        notes.push(Note::new(
            "group-without-spread",
            format!("{no_spread} of {} groups have a standard deviation of zero.", groups.len()),
            "Check for capped or aborted readings: such values are censored, not equal.",
        ));
    }
    let welch = if no_spread == 0 && equal_spread_p_value < 0.05 { welch(groups) } else { None };
    let (ratio, numerator_df, denominator_df, p_value, method) = match welch {
        Some((ratio, df)) => {
            (ratio, df1, df, f::survival(ratio, df1, df), "Welch's test of equal means")
        }
        None => (classical_f, df1, df2, classical_p_value, "one-way analysis of variance"),
    };
    if p_value >= 0.05 {
        notes.push(Note::new(
            "not-significant",
            "No difference was shown. That is not proof that the groups are equal.",
            "To claim equality, test equivalence against a margin fixed beforehand.",
        ));
    }
    Ok(GroupsDiffer {
        f: ratio,
        numerator_df,
        denominator_df,
        p_value,
        classical_f,
        classical_p_value,
        equal_spread_p_value,
        method,
        n,
        notes,
    })
}

/// Bartlett's test on the groups.
fn bartlett(groups: &[GroupSummary]) -> f64 {
    let cells: Vec<(f64, f64)> = groups
        .iter()
        .map(|g| {
            let df = g.n as f64 - 1.0;
            (df, df * g.standard_deviation * g.standard_deviation)
        })
        .collect();
    crate::assumptions::about_cells::bartlett(&cells)
}

fn welch(groups: &[GroupSummary]) -> Option<(f64, f64)> {
    let k = groups.len() as f64;
    let weight = |g: &GroupSummary| g.n as f64 / (g.standard_deviation * g.standard_deviation);
    let total = sums::sum(groups.iter().map(weight));
    let mean = sums::sum(groups.iter().map(|g| weight(g) / total * g.mean));
    let between =
        sums::sum(groups.iter().map(|g| weight(g) * (g.mean - mean) * (g.mean - mean))) / (k - 1.0);
    let lambda = sums::sum(groups.iter().map(|g| {
        let rest = 1.0 - weight(g) / total;
        rest * rest / (g.n as f64 - 1.0)
    }));
    let ratio = between / (1.0 + 2.0 * (k - 2.0) / (k * k - 1.0) * lambda);
    let df = (k * k - 1.0) / (3.0 * lambda);
    (ratio.is_finite() && df.is_finite()).then_some((ratio, df))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn group(mean: f64, standard_deviation: f64, n: usize) -> GroupSummary {
        GroupSummary { label: format!("{mean}"), mean, standard_deviation, n }
    }

    #[test]
    fn two_pairs_by_hand() {
        // Values 0, 2 and 4, 6: mean 3, total sum of squares 20 over 3.
        let all = [group(1.0, 2.0_f64.sqrt(), 2), group(5.0, 2.0_f64.sqrt(), 2)];
        let result = pooled(&all).unwrap();
        assert!((result.mean - 3.0).abs() < 1e-15);
        assert!((result.standard_deviation - (20.0_f64 / 3.0).sqrt()).abs() < 1e-14);
        // F = 16 / 2 with 1 and 2 degrees of freedom.
        let test = groups_differ(&all).unwrap();
        assert!((test.f - 8.0).abs() < 1e-13);
        assert!((test.p_value - 0.105_572_809_000_084).abs() < 1e-12);
    }

    #[test]
    fn refusals() {
        assert!(pooled(&[]).is_err());
        assert!(groups_differ(&[group(1.0, 0.0, 5), group(2.0, 0.0, 5)]).is_err());
        assert!(groups_differ(&[group(1.0, 1.0, 5), group(f64::NAN, 1.0, 5)]).is_err());
    }
}
