//! Nested random effects with any number of levels: site, day, run, reading.
//!
//! Variances by the analysis of variance, negative ones included, and by
//! restricted likelihood beside them. Balanced data carry modified-large-sample
//! intervals, others Satterthwaite's.

use super::intervals::{
    Term, modified_large_sample, modified_large_sample_difference, satterthwaite_df,
};
use super::random_factors::{Factor, RandomFactors, random_factors};
use crate::account::{Account, Counted};
use crate::cannot_say::{self, CannotSay};
use crate::note::{Assumption, Note};
use std::collections::BTreeMap;

/// One level of the nest; the residual stands last.
#[derive(Debug, Clone, PartialEq)]
#[non_exhaustive]
pub struct NestedLevel {
    /// Name.
    pub name: String,
    /// Groups of this level in all; for the residual the number of values.
    pub groups: usize,
    /// Degrees of freedom.
    pub degrees_of_freedom: f64,
    /// Mean square.
    pub mean_square: f64,
    /// Variance by the analysis of variance; may be negative.
    pub variance: f64,
    /// Variance by restricted likelihood.
    pub restricted: f64,
    /// Interval of the variance: modified large sample for balanced data,
    /// Satterthwaite otherwise; `None` where it has none.
    pub interval: Option<(f64, f64)>,
}

/// Variance of one value at new levels throughout.
#[derive(Debug, Clone, PartialEq)]
pub struct NestedTotal {
    /// The variance.
    pub variance: f64,
    /// Lower limit.
    pub lower: f64,
    /// Upper limit.
    pub upper: f64,
    /// Degrees of freedom after Satterthwaite.
    pub degrees_of_freedom: f64,
    /// Name of the method.
    pub method: &'static str,
}

/// Components of variance of nested levels.
#[derive(Debug, Clone, PartialEq)]
#[non_exhaustive]
pub struct NestedLevels {
    /// Levels, outer first, the residual last.
    pub levels: Vec<NestedLevel>,
    /// Variance of one value.
    pub total: NestedTotal,
    /// Whether all groups of a level are of one size.
    pub balanced: bool,
    /// Mean by generalised least squares.
    pub mean: f64,
    /// Groups of the outer level: what counts for its variance.
    pub n: usize,
    /// Number of values.
    pub readings: usize,
    /// The same data by restricted likelihood.
    pub restricted: RandomFactors,
    /// Confidence of the intervals.
    pub confidence: f64,
    /// Name of the method.
    pub method: &'static str,
    /// Assumptions with their outcome.
    pub assumptions: Vec<Assumption>,
    /// Remarks with next steps.
    pub notes: Vec<Note>,
}

/// Analyses nested levels, the outer one first.
///
/// A level is told by its own name and those above it: run "a" of day 1 is not
/// run "a" of day 2.
///
/// # Errors
/// As [`random_factors`].
pub fn nested_levels(
    values: &[f64],
    factors: &[Factor<'_>],
    confidence: f64,
) -> Result<NestedLevels, CannotSay> {
    let mut columns: Vec<Vec<usize>> = Vec::new();
    for factor in factors {
        if factor.levels.len() != values.len() {
            return Err(CannotSay::LengthsDiffer {
                left: "values".into(),
                left_count: values.len(),
                right: format!("levels of {}", factor.name),
                right_count: factor.levels.len(),
            });
        }
        let mut known = BTreeMap::new();
        let column = (0..values.len())
            .map(|i| {
                let above = columns.last().map_or(0, |column| column[i]);
                let next = known.len();
                *known.entry((above, factor.levels[i])).or_insert(next)
            })
            .collect();
        columns.push(column);
    }
    let own: Vec<Factor<'_>> = factors
        .iter()
        .zip(&columns)
        .map(|(factor, levels)| Factor { name: factor.name, levels })
        .collect();
    let fit = random_factors(values, &own, confidence)?;
    let sizes = equal_sizes(&columns);
    let mean_square =
        |k: usize| fit.components[k].sum_of_squares / fit.components[k].degrees_of_freedom;
    let term = |k: usize, coefficient: f64| Term {
        coefficient,
        mean_square: mean_square(k),
        degrees_of_freedom: fit.components[k].degrees_of_freedom,
    };
    let last = factors.len();
    let levels = (0..=last)
        .map(|k| {
            let component = &fit.components[k];
            let interval = match &sizes {
                Some(_) if k == last => modified_large_sample(&[term(k, 1.0)], confidence).ok(),
                Some(sizes) => {
                    let part = 1.0 / sizes[k];
                    modified_large_sample_difference(term(k, part), term(k + 1, part), confidence)
                        .ok()
                }
                None => component.interval,
            };
            NestedLevel {
                name: component.name.clone(),
                groups: component.levels,
                degrees_of_freedom: component.degrees_of_freedom,
                mean_square: mean_square(k),
                variance: component.anova,
                restricted: component.variance,
                interval,
            }
        })
        .collect();
    let total = match &sizes {
        Some(sizes) => {
            // Coefficients of the mean squares in the total: all positive.
            let terms: Vec<Term> = (0..=last)
                .map(|k| {
                    let own = sizes.get(k).map_or(1.0, |size| 1.0 / size);
                    let above = if k == 0 { 0.0 } else { 1.0 / sizes[k - 1] };
                    term(k, (own - above).max(0.0))
                })
                .collect();
            let (lower, upper) = modified_large_sample(&terms, confidence)?;
            NestedTotal {
                variance: terms.iter().map(|t| t.coefficient * t.mean_square).sum(),
                lower,
                upper,
                degrees_of_freedom: satterthwaite_df(&terms)?,
                method: "sum of mean squares, modified large sample",
            }
        }
        None => NestedTotal {
            variance: fit.total,
            lower: fit.total_interval.0,
            upper: fit.total_interval.1,
            degrees_of_freedom: fit.total_df,
            method: "restricted likelihood, Satterthwaite",
        },
    };
    let mut notes = fit.notes.clone();
    if sizes.is_none() {
        notes.push(Note::new(
            "unbalanced",
            "Groups differ in size; the intervals are Satterthwaite's on the restricted \
             likelihood and narrow with few groups.",
            "Balance the data where the interval decides.",
        ));
    }
    let groups = fit.components[0].levels;
    Ok(NestedLevels {
        levels,
        total,
        balanced: sizes.is_some(),
        mean: cannot_say::computed("the mean", fit.mean)?,
        n: groups,
        readings: values.len(),
        confidence,
        method: "nested random effects by the analysis of variance, any number of levels",
        assumptions: fit.assumptions.clone(),
        notes,
        restricted: fit,
    })
}

/// Values of each group of each level, where all of a level are equal.
fn equal_sizes(columns: &[Vec<usize>]) -> Option<Vec<f64>> {
    columns
        .iter()
        .map(|column| {
            let mut sizes = vec![0_usize; column.iter().max()? + 1];
            column.iter().for_each(|level| sizes[*level] += 1);
            sizes.iter().all(|size| *size == sizes[0]).then_some(sizes[0] as f64)
        })
        .collect()
}

impl Account for NestedLevels {
    fn method(&self) -> &str {
        self.method
    }

    fn counted(&self) -> Counted {
        Counted::of(self.n, format!("groups of the outer level ({} readings)", self.readings))
    }

    fn assumptions(&self) -> Vec<Assumption> {
        self.assumptions.clone()
    }

    fn notes(&self) -> Vec<Note> {
        self.notes.clone()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::variance_components::nested;

    /// Values of a nest of these sizes with these deviations, outer first.
    fn nest(sizes: [usize; 4], deviations: [f64; 4], seed: u64) -> (Vec<f64>, [Vec<usize>; 3]) {
        let mut stream = digits::RandomStream::new(seed, 0);
        let mut values = Vec::new();
        let mut names = [Vec::new(), Vec::new(), Vec::new()];
        for i in 0..sizes[0] {
            let a = deviations[0] * stream.normal();
            for j in 0..sizes[1] {
                let b = a + deviations[1] * stream.normal();
                for k in 0..sizes[2] {
                    let c = b + deviations[2] * stream.normal();
                    for _ in 0..sizes[3] {
                        values.push(20.0 + c + deviations[3] * stream.normal());
                        names[0].push(i);
                        names[1].push(j);
                        names[2].push(k);
                    }
                }
            }
        }
        (values, names)
    }

    fn ask(values: &[f64], names: &[Vec<usize>; 3]) -> Result<NestedLevels, CannotSay> {
        let factors =
            ["site", "day", "run"].iter().zip(names).map(|(name, levels)| Factor { name, levels });
        nested_levels(values, &factors.collect::<Vec<_>>(), 0.95)
    }

    #[test]
    fn by_hand() {
        // Run means 0, 2 | 4, 6 || 10, 12 | 14, 16, repeats +-1: day means 1, 5
        // | 11, 15, site means 3, 13.
        let runs = [0.0, 2.0, 4.0, 6.0, 10.0, 12.0, 14.0, 16.0];
        let values: Vec<f64> = runs.iter().flat_map(|m| [m - 1.0, m + 1.0]).collect();
        let of = |width: usize, modulus: usize| -> Vec<usize> {
            (0..16).map(|i| i / width % modulus).collect()
        };
        let fit = ask(&values, &[of(8, 2), of(4, 2), of(2, 2)]).unwrap();
        let squares: Vec<f64> = fit.levels.iter().map(|level| level.mean_square).collect();
        for (own, by_hand) in squares.iter().zip([400.0, 32.0, 4.0, 2.0]) {
            assert!((own - by_hand).abs() < 1e-9, "{squares:?}");
        }
        let variances: Vec<f64> = fit.levels.iter().map(|level| level.variance).collect();
        for (own, by_hand) in variances.iter().zip([46.0, 7.0, 1.0, 2.0]) {
            assert!((own - by_hand).abs() < 1e-9, "{variances:?}");
        }
        assert!((fit.total.variance - 56.0).abs() < 1e-9);
        assert_eq!((fit.n, fit.readings, fit.balanced), (2, 16, true));
    }

    #[test]
    fn two_levels_are_the_nested_analysis() {
        let (values, names) = nest([6, 3, 1, 4], [2.0, 1.0, 0.0, 0.5], 3);
        let factors = [
            Factor { name: "outer", levels: &names[0] },
            Factor { name: "inner", levels: &names[1] },
        ];
        let fit = nested_levels(&values, &factors, 0.95).unwrap();
        let cells: Vec<Vec<Vec<f64>>> =
            values.chunks(12).map(|group| group.chunks(4).map(<[f64]>::to_vec).collect()).collect();
        let table = nested(&cells).unwrap();
        assert!((fit.levels[0].variance - table.outer).abs() < 1e-9);
        assert!((fit.levels[1].variance - table.inner).abs() < 1e-9);
        let (value, low, high) = table.total(0.95).unwrap();
        assert!((fit.total.variance / value - 1.0).abs() < 1e-9);
        assert!((fit.total.lower / low - 1.0).abs() < 1e-9);
        assert!((fit.total.upper / high - 1.0).abs() < 1e-9);
    }

    #[test]
    fn intervals_hold_their_confidence() {
        let deviations = [1.0, 0.7, 0.5, 0.6];
        let truth: Vec<f64> = deviations.iter().map(|s| s * s).collect();
        let runs = 400;
        let (mut total, mut held) = (0, [0; 4]);
        for run in 0..runs {
            let (values, names) = nest([5, 2, 2, 2], deviations, 100 + run);
            let fit = ask(&values, &names).unwrap();
            let sum: f64 = truth.iter().sum();
            total += u32::from(fit.total.lower <= sum && fit.total.upper >= sum);
            for (k, level) in fit.levels.iter().enumerate() {
                let (low, high) = level.interval.unwrap();
                held[k] += u32::from(low <= truth[k] && high >= truth[k]);
            }
        }
        // Standard error of a share of 0.95 of 400: 0.011.
        println!("total {total}, levels {held:?} of {runs}");
        assert!(total >= 366, "{total}");
        assert!(held.iter().all(|count| *count >= 366), "{held:?}");
    }

    #[test]
    fn groups_of_unequal_size_take_the_likelihood() {
        let (mut values, mut names) = nest([5, 2, 2, 3], [2.0, 1.0, 0.7, 0.5], 8);
        values.truncate(53);
        names.iter_mut().for_each(|column| column.truncate(53));
        let fit = ask(&values, &names).unwrap();
        assert!(!fit.balanced && fit.notes.iter().any(|note| note.code == "unbalanced"));
        assert!(fit.total.lower < fit.total.variance && fit.total.upper > fit.total.variance);
        assert!(ask(&values[..52], &names).is_err());
    }
}
