//! One-way random effects: groups and values within them.

use super::intervals::{Term, modified_large_sample, satterthwaite, satterthwaite_df};
use super::negative_note;
use crate::account::{Account, Counted};
use crate::cannot_say::{self, CannotSay};
use crate::distributions::f;
use crate::note::{Assumption, Note};
use crate::summaries::{GroupSummary, groups_differ};
use digits::sums;

/// One-way analysis of variance with its components.
#[derive(Debug, Clone, PartialEq)]
#[non_exhaustive]
pub struct OneWay {
    /// Sum of squares between groups.
    pub sum_squares_between: f64,
    /// Sum of squares within groups.
    pub sum_squares_within: f64,
    /// Mean square between groups.
    pub mean_square_between: f64,
    /// Mean square within groups.
    pub mean_square_within: f64,
    /// Degrees of freedom between groups.
    pub df_between: f64,
    /// Degrees of freedom within groups.
    pub df_within: f64,
    /// F ratio.
    pub f: f64,
    /// Probability of so large a ratio without differences.
    pub p_value: f64,
    /// Variance between groups as estimated; may be negative.
    pub between: f64,
    /// Variance within groups.
    pub within: f64,
    /// Mean number of values per group as the estimate uses it.
    pub effective_group_size: f64,
    /// Grand mean.
    pub mean: f64,
    /// Number of groups.
    pub groups: usize,
    /// Number of values.
    pub n: usize,
    /// Name of the method.
    pub method: &'static str,
    /// Assumptions with the outcome of their checks.
    pub assumptions: Vec<Assumption>,
    /// Remarks with next steps.
    pub notes: Vec<Note>,
}

impl Account for OneWay {
    fn method(&self) -> &str {
        self.method
    }

    fn counted(&self) -> Counted {
        Counted::of(self.groups, format!("groups ({} values)", self.n))
    }

    fn assumptions(&self) -> Vec<Assumption> {
        self.assumptions.clone()
    }

    fn notes(&self) -> Vec<Note> {
        self.notes.clone()
    }
}

/// One-way analysis of variance.
///
/// Values are centred on the grand mean before anything is squared, so that
/// readings near 100 000 that differ by 0.1 keep their digits.
///
/// # Errors
/// Fewer than two groups, an empty group, no repeats, values that are not
/// finite, no spread within groups.
pub fn one_way(groups: &[Vec<f64>]) -> Result<OneWay, CannotSay> {
    cannot_say::at_least("groups", 2, groups.len())?;
    for (i, group) in groups.iter().enumerate() {
        cannot_say::at_least(&format!("values of group {}", i + 1), 1, group.len())?;
        cannot_say::all_finite(&format!("values of group {}", i + 1), group)?;
    }
    let n: usize = groups.iter().map(Vec::len).sum();
    cannot_say::at_least("values", groups.len() + 1, n)?;
    let all: Vec<f64> = groups.iter().flatten().copied().collect();
    let mean = cannot_say::computed("the grand mean", sums::mean(&all).unwrap_or(f64::NAN))?;
    let (mut within, mut between) = (Vec::new(), Vec::new());
    for group in groups {
        let centred: Vec<f64> = group.iter().map(|v| v - mean).collect();
        let own = sums::mean(&centred).unwrap_or(0.0);
        within.push(sums::sum(centred.iter().map(|v| (v - own) * (v - own))));
        between.push(own);
    }
    // The grand mean of the centred values is zero but for rounding.
    let rest = sums::sum(groups.iter().zip(&between).map(|(group, own)| group.len() as f64 * own))
        / n as f64;
    let ssb = sums::sum(
        groups.iter().zip(&between).map(|(g, own)| g.len() as f64 * (own - rest) * (own - rest)),
    );
    let ssw = sums::sum(within.iter().copied());
    let (df1, df2) = (groups.len() as f64 - 1.0, (n - groups.len()) as f64);
    if ssw == 0.0 {
        return Err(CannotSay::NoSpread { what: "the values within the groups".into() });
    }
    let (msb, msw) = (
        cannot_say::computed("the mean square between", ssb / df1)?,
        cannot_say::computed("the mean square within", ssw / df2)?,
    );
    let squares = sums::sum(groups.iter().map(|g| (g.len() as f64) * (g.len() as f64)));
    let size = (n as f64 - squares / n as f64) / df1;
    let component = (msb - msw) / size;
    let ratio = msb / msw;
    let mut notes = Vec::new();
    notes.extend(negative_note("the groups", component));
    if groups.len() < 6 {
        notes.push(Note::new(
            "few-groups",
            format!(
                "{} groups leave {df1} degrees of freedom for the variance between them.",
                groups.len()
            ),
            "Give the interval with the estimate; add groups, not values.",
        ));
    }
    Ok(OneWay {
        sum_squares_between: ssb,
        sum_squares_within: ssw,
        mean_square_between: msb,
        mean_square_within: msw,
        df_between: df1,
        df_within: df2,
        f: cannot_say::computed("the F ratio", ratio)?,
        p_value: f::survival(ratio, df1, df2),
        between: component,
        within: msw,
        effective_group_size: size,
        mean,
        groups: groups.len(),
        n,
        method: "one-way random effects by the analysis of variance",

        assumptions: checks(groups, &all, &between, mean),
        notes,
    })
}

/// Shape of the residuals and equality of the scatter in the groups.
fn checks(groups: &[Vec<f64>], all: &[f64], means: &[f64], mean: f64) -> Vec<Assumption> {
    let centres = groups.iter().zip(means).flat_map(|(g, own)| std::iter::repeat_n(own, g.len()));
    let residuals: Vec<f64> = all.iter().zip(centres).map(|(v, own)| v - mean - own).collect();
    let summaries: Option<Vec<GroupSummary>> = groups
        .iter()
        .zip(means)
        .map(|(group, own)| {
            Some(GroupSummary {
                label: String::new(),
                mean: *own,
                standard_deviation: sums::standard_deviation(group)?,
                n: group.len(),
            })
        })
        .collect();
    let (name, test) = ("equal scatter in all groups", "Bartlett");
    let reason = "a group has fewer than two values";
    let scatter = match summaries.map(|list| groups_differ(&list)) {
        None => Assumption::unchecked(name, test, reason),
        Some(Err(refusal)) => Assumption::refused(name, test, &refusal),
        Some(Ok(found)) => {
            let p = found.equal_spread_p_value;
            Assumption::tested(name, test, p, 0.05, format!("p = {p:.4}."))
        }
    };
    vec![
        crate::assumptions::normal("normal values within groups", &residuals),
        scatter,
        Assumption::unchecked(
            "groups drawn from those to come",
            "from the plan",
            "values do not show it; state how the groups were chosen",
        ),
    ]
}

impl OneWay {
    /// Mean squares that add up to the total variance of one value.
    fn total_terms(&self) -> [Term; 2] {
        let size = self.effective_group_size;
        [
            Term {
                coefficient: 1.0 / size,
                mean_square: self.mean_square_between,
                degrees_of_freedom: self.df_between,
            },
            Term {
                coefficient: 1.0 - 1.0 / size,
                mean_square: self.mean_square_within,
                degrees_of_freedom: self.df_within,
            },
        ]
    }

    /// Total variance of one value from a new group.
    #[must_use]
    pub fn total(&self) -> f64 {
        self.total_terms().iter().map(|t| t.coefficient * t.mean_square).sum()
    }

    /// Degrees of freedom of the total variance after Satterthwaite.
    ///
    /// # Errors
    /// All mean squares zero.
    pub fn total_df(&self) -> Result<f64, CannotSay> {
        satterthwaite_df(&self.total_terms())
    }

    /// Interval of the total variance, modified large sample (the default).
    ///
    /// # Errors
    /// A confidence outside 0 to 1.
    pub fn total_interval(&self, confidence: f64) -> Result<(f64, f64), CannotSay> {
        modified_large_sample(&self.total_terms(), confidence)
    }

    /// Interval of the total variance after Satterthwaite, for comparison.
    ///
    /// # Errors
    /// A confidence outside 0 to 1.
    pub fn total_interval_satterthwaite(&self, confidence: f64) -> Result<(f64, f64), CannotSay> {
        satterthwaite(&self.total_terms(), confidence)
    }

    /// Share of the variance that lies between groups, with its exact interval
    /// for groups of equal size.
    ///
    /// # Errors
    /// A confidence outside 0 to 1.
    pub fn intraclass(&self, confidence: f64) -> Result<(f64, f64, f64), CannotSay> {
        cannot_say::open_probability("confidence", confidence)?;
        let half = 0.5 * (1.0 - confidence);
        let share = |ratio: f64| (ratio - 1.0) / (ratio - 1.0 + self.effective_group_size);
        let low = self.f / f::upper_quantile(half, self.df_between, self.df_within);
        let high = self.f / f::quantile(half, self.df_between, self.df_within);
        Ok((share(self.f), share(low), share(high)))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn two_pairs_by_hand() {
        let table = one_way(&[vec![0.0, 2.0], vec![4.0, 6.0]]).unwrap();
        assert!((table.f - 8.0).abs() < 1e-14);
        assert!((table.between - 7.0).abs() < 1e-14);
        assert!((table.total() - 9.0).abs() < 1e-14);
    }

    #[test]
    fn a_large_offset_costs_nothing() {
        let far = one_way(&[vec![1e9, 1e9 + 2.0], vec![1e9 + 4.0, 1e9 + 6.0]]).unwrap();
        assert_eq!(far.f, 8.0);
        assert!(one_way(&[vec![1.0, 1.0], vec![2.0, 2.0]]).is_err());
        assert!(one_way(&[vec![1.0], vec![2.0]]).is_err());
    }
}
