//! Random factors in any arrangement: crossed, nested, unbalanced.
//!
//! `y = mean + sum of one random effect per factor + error`, by restricted
//! maximum likelihood, with the estimates of the analysis of variance (which
//! may be negative) beside it. Source: H. D. Patterson and R. Thompson,
//! Biometrika 58 (1971) 545; S. R. Searle, G. Casella and C. E. McCulloch,
//! Variance Components (1992).

use super::mixed_equations::{Equations, Point};
use super::negative_note;
use super::sequential_squares::{Share, shares};
use crate::account::{Account, Counted};
use crate::assumptions;
use crate::assumptions::about_cells::equal_scatter;
use crate::cannot_say::{self, CannotSay};
use crate::distributions::chi_squared;
use crate::note::{Assumption, Note};
use digits::scalar::ln;
use digits::sums;
use std::collections::BTreeMap;

/// Levels beyond which the equations are refused.
const MOST_LEVELS: usize = 3000;

/// A factor: its name, and the level of each value as any whole number.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Factor<'a> {
    /// Name, for notes.
    pub name: &'a str,
    /// Level of each value.
    pub levels: &'a [usize],
}

/// One component of variance.
#[derive(Debug, Clone, PartialEq)]
#[non_exhaustive]
pub struct FactorVariance {
    /// Name of the factor; "residual" for the last.
    pub name: String,
    /// Different levels; for the residual the number of values.
    pub levels: usize,
    /// Variance by restricted likelihood; zero is an estimate at the boundary.
    pub variance: f64,
    /// Standard error of it from the expected information; `None` at the
    /// boundary.
    pub standard_error: Option<f64>,
    /// Interval after Satterthwaite from that error, rough with few levels;
    /// `None` at the boundary.
    pub interval: Option<(f64, f64)>,
    /// Variance by the analysis of variance, factors in the order given; may
    /// be negative.
    pub anova: f64,
    /// Sum of squares of that analysis.
    pub sum_of_squares: f64,
    /// Its degrees of freedom.
    pub degrees_of_freedom: f64,
}

/// Components of variance of random factors.
#[derive(Debug, Clone, PartialEq)]
#[non_exhaustive]
pub struct RandomFactors {
    /// Components in the order of the factors, the residual last.
    pub components: Vec<FactorVariance>,
    /// Variance of one value at new levels of every factor.
    pub total: f64,
    /// Degrees of freedom of the total after Satterthwaite.
    pub total_df: f64,
    /// Interval of the total after Satterthwaite.
    pub total_interval: (f64, f64),
    /// Mean by generalised least squares.
    pub mean: f64,
    /// Its standard error.
    pub mean_standard_error: f64,
    /// Minus twice the restricted log-likelihood.
    pub criterion: f64,
    /// Gain in half the criterion that Newton's method still promises: how far
    /// from the optimum the estimates may be.
    pub remaining_gain: f64,
    /// Smallest number of levels of a factor: what counts for its variance.
    pub n: usize,
    /// Number of values.
    pub readings: usize,
    /// Confidence of the intervals.
    pub confidence: f64,
    /// Name of the method.
    pub method: &'static str,
    /// Assumptions with their outcome.
    pub assumptions: Vec<Assumption>,
    /// Remarks with next steps.
    pub notes: Vec<Note>,
}

/// Levels counted from zero in the order of their first value.
fn counted(levels: &[usize]) -> (Vec<usize>, usize) {
    let mut known = BTreeMap::new();
    let column = levels
        .iter()
        .map(|level| {
            let next = known.len();
            *known.entry(*level).or_insert(next)
        })
        .collect();
    (column, known.len())
}

/// Components of variance by restricted maximum likelihood.
///
/// An interaction is a factor of its own, whose levels are the pairs met. The
/// analysis of variance takes the factors in the order given, so an outer
/// factor comes before the one nested in it.
///
/// # Errors
/// No factor, lists of unequal length, values that are not finite, a factor of
/// one level, a factor that others already give, no repeats, no scatter of the
/// repeats, more than 3000 levels.
pub fn random_factors(
    values: &[f64],
    factors: &[Factor<'_>],
    confidence: f64,
) -> Result<RandomFactors, CannotSay> {
    cannot_say::open_probability("confidence", confidence)?;
    cannot_say::at_least("factors", 1, factors.len())?;
    cannot_say::all_finite("values", values)?;
    cannot_say::at_least("values", 3, values.len())?;
    let (mut columns, mut levels) = (Vec::new(), Vec::new());
    for factor in factors {
        if factor.levels.len() != values.len() {
            return Err(CannotSay::LengthsDiffer {
                left: "values".into(),
                left_count: values.len(),
                right: format!("levels of {}", factor.name),
                right_count: factor.levels.len(),
            });
        }
        let (column, count) = counted(factor.levels);
        cannot_say::at_least(&format!("levels of {}", factor.name), 2, count)?;
        columns.push(column);
        levels.push(count);
    }
    if levels.iter().sum::<usize>() > MOST_LEVELS {
        return Err(CannotSay::OutOfRange {
            what: "the number of levels of all factors".into(),
            value: levels.iter().sum::<usize>() as f64,
            allowed: format!("a number up to {MOST_LEVELS}"),
        });
    }
    let centre = cannot_say::computed("the mean", sums::mean(values).unwrap_or(f64::NAN))?;
    let scale =
        cannot_say::computed("the scatter", sums::standard_deviation(values).unwrap_or(f64::NAN))?;
    if !(scale > 0.0) {
        return Err(CannotSay::NoSpread { what: "the values".into() });
    }
    let scaled: Vec<f64> = values.iter().map(|v| (v - centre) / scale).collect();
    let anova = shares(&scaled, factors, &columns, &levels)?;
    if !(anova[factors.len()].variance > 1e-18) {
        return Err(CannotSay::NoSpread { what: "the repeats at one set of levels".into() });
    }
    let equations = Equations::new(&scaled, &columns, &levels);
    let (ratios, point, gain) = equations.minimise().ok_or_else(|| {
        CannotSay::not_determined(
            "the restricted likelihood has no maximum that could be reached",
            "Leave out a factor that hardly differs from another one.",
        )
    })?;
    let found = Found { equations, ratios, point, gain, anova, levels, columns, centre, scale };
    found.describe(&scaled, factors, confidence)
}

struct Found {
    equations: Equations,
    ratios: Vec<f64>,
    point: Point,
    gain: f64,
    anova: Vec<Share>,
    levels: Vec<usize>,
    columns: Vec<Vec<usize>>,
    centre: f64,
    scale: f64,
}

impl Found {
    fn describe(
        self,
        scaled: &[f64],
        factors: &[Factor<'_>],
        confidence: f64,
    ) -> Result<RandomFactors, CannotSay> {
        let (point, ratios) = (&self.point, &self.ratios);
        let square = self.scale * self.scale;
        let residual = point.residual * square;
        let covariance = self.equations.covariance(ratios, point).ok_or_else(|| {
            CannotSay::not_determined(
                "two variances cannot be told apart by these data",
                "Leave out one of the factors, or add levels.",
            )
        })?;
        let half = 0.5 * (1.0 - confidence);
        let around = |variance: f64, df: f64| {
            let end = |q: f64| cannot_say::computed("a limit", df * variance / q);
            Ok::<_, CannotSay>((
                end(chi_squared::upper_quantile(half, df))?,
                end(chi_squared::quantile(half, df))?,
            ))
        };
        let mut row = 0;
        let mut components = Vec::new();
        let mut notes = Vec::new();
        for (k, share) in self.anova.iter().enumerate() {
            let last = k == factors.len();
            let name = if last { "residual" } else { factors[k].name };
            let variance = if last { residual } else { ratios[k] * residual };
            let (mut standard_error, mut interval) = (None, None);
            if variance > 0.0 {
                let error = covariance[(row, row)].max(0.0).sqrt() * residual;
                row += 1;
                standard_error = Some(cannot_say::computed("a standard error", error)?);
                let df = 2.0 * variance * variance / (error * error);
                interval = around(variance, df).ok();
            } else {
                notes.push(Note::new(
                    "at-the-boundary",
                    format!("The variance of {name} is estimated at its boundary, zero."),
                    "Look at the estimate of the analysis of variance, which may be negative.",
                ));
            }
            if !last {
                notes.extend(negative_note(name, share.variance * square));
            }
            components.push(FactorVariance {
                name: name.to_owned(),
                levels: if last { scaled.len() } else { self.levels[k] },
                variance: cannot_say::computed("a variance", variance)?,
                standard_error,
                interval,
                anova: share.variance * square,
                sum_of_squares: share.sum_of_squares * square,
                degrees_of_freedom: share.degrees_of_freedom,
            });
        }
        let fewest = self.levels.iter().copied().min().unwrap_or(0);
        if fewest < 6 {
            notes.push(Note::new(
                "few-groups",
                format!("A factor has {fewest} levels: that is what counts for its variance."),
                "Give the interval with the estimate; add levels, not repeats.",
            ));
        }
        let total: f64 = components.iter().map(|c| c.variance).sum();
        let error = covariance.sum() * residual * residual;
        let total_df = 2.0 * total * total / error;
        Ok(RandomFactors {
            total: cannot_say::computed("the total variance", total)?,
            total_df: cannot_say::computed("the degrees of freedom", total_df)?,
            total_interval: around(total, total_df)?,
            mean: self.centre + self.scale * point.mean,
            mean_standard_error: self.scale * (point.residual / point.weight).sqrt(),
            criterion: point.criterion + 2.0 * (scaled.len() as f64 - 1.0) * ln(self.scale),
            remaining_gain: self.gain,
            n: fewest,
            readings: scaled.len(),
            confidence,
            method: "random effects by restricted maximum likelihood, any arrangement",
            assumptions: vec![self.normal(scaled), self.even(scaled)],
            notes,
            components,
        })
    }

    /// Normal errors: what is left when the estimated effects are taken off.
    fn normal(&self, scaled: &[f64]) -> Assumption {
        let mut start = 0;
        let mut rest: Vec<f64> = scaled.iter().map(|v| v - self.point.mean).collect();
        for (k, column) in self.columns.iter().enumerate() {
            for (value, level) in rest.iter_mut().zip(column) {
                *value -= self.ratios[k] * self.point.rest[start + level];
            }
            start += self.levels[k];
        }
        assumptions::normal("normal errors, effects taken off", &rest)
    }
}

impl Found {
    /// Equal scatter of the repeats, values at one set of levels.
    fn even(&self, scaled: &[f64]) -> Assumption {
        let mut cells: BTreeMap<Vec<usize>, Vec<f64>> = BTreeMap::new();
        for (i, value) in scaled.iter().enumerate() {
            let levels = self.columns.iter().map(|column| column[i]).collect();
            cells.entry(levels).or_default().push(*value);
        }
        let squares: Vec<(f64, f64)> = cells
            .values()
            .filter(|cell| cell.len() > 1)
            .map(|cell| (cell.len() as f64 - 1.0, sums::squared_deviations(cell).unwrap_or(0.0)))
            .collect();
        equal_scatter("equal scatter of repeats at all sets of levels", &squares)
    }
}

impl Account for RandomFactors {
    fn method(&self) -> &str {
        self.method
    }

    fn counted(&self) -> Counted {
        Counted::of(self.n, format!("levels of the smallest factor ({} readings)", self.readings))
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
    use crate::variance_components::restricted_likelihood::restricted_likelihood;
    use crate::variance_components::{crossed, nested};

    /// Rows by columns by repeats, effects drawn.
    fn table(rows: u64, columns: u64, repeats: u64) -> Vec<Vec<Vec<f64>>> {
        let effect = |kind, i| digits::RandomStream::new(kind, i).normal();
        (0..rows)
            .map(|i| {
                (0..columns)
                    .map(|j| {
                        let place =
                            1e4 + 2.0 * effect(1, i) + effect(2, j) + 0.8 * effect(3, i * 100 + j);
                        (0..repeats)
                            .map(|r| place + 0.5 * effect(4, (i * 100 + j) * 100 + r))
                            .collect()
                    })
                    .collect()
            })
            .collect()
    }

    fn flat(table: &[Vec<Vec<f64>>]) -> (Vec<f64>, [Vec<usize>; 3]) {
        let mut values = Vec::new();
        let mut names = [Vec::new(), Vec::new(), Vec::new()];
        for (i, row) in table.iter().enumerate() {
            for (j, cell) in row.iter().enumerate() {
                for value in cell {
                    values.push(*value);
                    names[0].push(i);
                    names[1].push(j);
                    names[2].push(i * 1000 + j);
                }
            }
        }
        (values, names)
    }

    #[test]
    fn balanced_crossed_data_give_the_analysis_of_variance() {
        let cells = table(7, 5, 3);
        let (values, names) = flat(&cells);
        let factors = [
            Factor { name: "rows", levels: &names[0] },
            Factor { name: "columns", levels: &names[1] },
            Factor { name: "interaction", levels: &names[2] },
        ];
        let fit = random_factors(&values, &factors, 0.95).unwrap();
        let anova = crossed(&cells).unwrap();
        let expected = [anova.kept.0, anova.kept.1, anova.kept.2, anova.kept.3];
        for (component, expected) in fit.components.iter().zip(expected) {
            assert!((component.anova / expected - 1.0).abs() < 1e-9, "{component:?} {expected}");
            assert!((component.variance / expected - 1.0).abs() < 1e-6, "{component:?} {expected}");
        }
        assert!(fit.remaining_gain < 1e-11 && fit.n == 5);
        assert!((fit.total_interval.0 < fit.total) && (fit.total_interval.1 > fit.total));
    }

    #[test]
    fn unbalanced_nested_data_agree_with_the_other_two_routes() {
        let mut cells = table(5, 4, 4);
        cells[0].pop();
        cells[1][2].truncate(1);
        cells[3][0].truncate(2);
        let (values, names) = flat(&cells);
        let factors = [
            Factor { name: "outer", levels: &names[0] },
            Factor { name: "inner", levels: &names[2] },
        ];
        let fit = random_factors(&values, &factors, 0.95).unwrap();
        let (by_squares, by_likelihood) =
            (nested(&cells).unwrap(), restricted_likelihood(&cells).unwrap());
        let pairs = [
            (&fit.components[0], by_squares.outer, by_likelihood.outer),
            (&fit.components[1], by_squares.inner, by_likelihood.inner),
            (&fit.components[2], by_squares.residual, by_likelihood.residual),
        ];
        for (component, squares, likelihood) in pairs {
            assert!((component.anova / squares - 1.0).abs() < 1e-8, "{component:?} {squares}");
            assert!((component.variance / likelihood - 1.0).abs() < 1e-5, "{component:?}");
        }
        assert!((fit.criterion - by_likelihood.criterion).abs() < 1e-8);
        assert!((fit.mean - by_likelihood.mean).abs() < 1e-6);
    }

    #[test]
    fn a_negative_component_is_shown_as_such() {
        // Row means all equal, repeats apart.
        let values = [0.0, 2.0, 0.1, 1.9, -0.1, 2.1, 0.05, 1.95];
        let rows = [0, 0, 1, 1, 2, 2, 3, 3];
        let fit = random_factors(&values, &[Factor { name: "rows", levels: &rows }], 0.95).unwrap();
        assert_eq!(fit.components[0].variance, 0.0);
        assert!(fit.components[0].anova < 0.0 && fit.components[0].interval.is_none());
        let codes: Vec<&str> = fit.notes.iter().map(|note| note.code).collect();
        assert!(codes.contains(&"negative-component") && codes.contains(&"at-the-boundary"));
    }

    #[test]
    fn refusals() {
        let values = [1.0, 2.0, 3.0, 4.5];
        let ask = |factors: &[Factor<'_>]| random_factors(&values, factors, 0.95);
        let (a, b) = ([0, 0, 1, 1], [5, 5, 9, 9]);
        assert!(ask(&[]).is_err());
        assert!(ask(&[Factor { name: "one", levels: &[0; 4] }]).is_err());
        assert!(ask(&[Factor { name: "short", levels: &[0, 1] }]).is_err());
        let twice = [Factor { name: "a", levels: &a }, Factor { name: "b", levels: &b }];
        assert!(ask(&twice).unwrap_err().to_string().contains("levels of b"));
        assert!(ask(&[Factor { name: "each", levels: &[0, 1, 2, 3] }]).is_err());
        let equal = [1.0, 1.0, 2.0, 2.0];
        assert!(random_factors(&equal, &[twice[0]], 0.95).is_err());
    }
}
