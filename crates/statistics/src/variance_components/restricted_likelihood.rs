//! Restricted maximum likelihood for nested levels of any sizes.
//!
//! The likelihood needs only the mean and number of each cell and the sum of
//! squares within cells, so a thousand readings cost no more than ten. Source:
//! H. D. Patterson and R. Thompson, Biometrika 58 (1971) 545.

use crate::account::{Account, Counted};
use crate::assumptions::about_cells::AboutCells;
use crate::cannot_say::{self, CannotSay};
use crate::note::{Assumption, Note};
use digits::scalar::{exp, ln};
use digits::sums;

/// Variances by restricted maximum likelihood.
#[derive(Debug, Clone, PartialEq)]
#[non_exhaustive]
pub struct Restricted {
    /// Variance of the outer level; zero is an estimate at the boundary.
    pub outer: f64,
    /// Variance of the inner level; zero for one-way data.
    pub inner: f64,
    /// Variance within cells.
    pub residual: f64,
    /// Mean by generalised least squares.
    pub mean: f64,
    /// Minus twice the restricted log-likelihood.
    pub criterion: f64,
    /// Number of values.
    pub n: usize,
    /// Number of groups of the outer level.
    pub groups: usize,
    /// Name of the method.
    pub method: &'static str,
    /// Remarks with next steps.
    pub notes: Vec<Note>,
    about_cells: AboutCells,
}

impl Account for Restricted {
    fn method(&self) -> &str {
        self.method
    }

    fn counted(&self) -> Counted {
        Counted::of(self.groups, format!("groups of the outer level ({} values)", self.n))
    }

    fn assumptions(&self) -> Vec<Assumption> {
        let mut list = self.about_cells.checks();
        list.push(Assumption::looked_at(
            "variances away from zero",
            "estimates at the boundary",
            self.outer > 0.0,
            if self.outer > 0.0 {
                "None of the outer level lies there.".to_owned()
            } else {
                "The outer variance is estimated as zero; that is a limit and no measurement."
                    .to_owned()
            },
        ));
        list
    }

    fn notes(&self) -> Vec<Note> {
        self.notes.clone()
    }
}

struct Cells {
    /// Number and mean of each cell, outer group by outer group.
    groups: Vec<Vec<(f64, f64)>>,
    within: f64,
    n: f64,
}

struct Value {
    criterion: f64,
    mean: f64,
    residual: f64,
}

impl Cells {
    /// Criterion at the ratios of inner and outer variance to the residual.
    fn at(&self, inner: f64, outer: f64) -> Value {
        let mut log_determinant = 0.0;
        let (mut weight, mut weighted) = (0.0, 0.0);
        let mut parts = Vec::with_capacity(self.groups.len());
        for group in &self.groups {
            let (mut w_sum, mut wy_sum, mut wyy_sum) = (0.0, 0.0, 0.0);
            let mut product = 1.0;
            for (n, y) in group {
                let scale = 1.0 + n * inner;
                product *= scale;
                if product > 1e200 {
                    log_determinant += ln(product);
                    product = 1.0;
                }
                let w = n / scale;
                w_sum += w;
                wy_sum += w * y;
                wyy_sum += w * y * y;
            }
            let shrink = 1.0 + outer * w_sum;
            log_determinant += ln(product * shrink);
            weight += w_sum / shrink;
            weighted += wy_sum / shrink;
            parts.push((w_sum, wy_sum, wyy_sum, shrink));
        }
        let mean = weighted / weight;
        let mut quadratic = self.within;
        for (w, wy, wyy, shrink) in parts {
            let residual = wy - mean * w;
            quadratic +=
                wyy - 2.0 * mean * wy + mean * mean * w - outer * residual * residual / shrink;
        }
        let df = self.n - 1.0;
        let residual = quadratic / df;
        let criterion =
            df * (1.0 + ln(2.0 * core::f64::consts::PI * residual)) + log_determinant + ln(weight);
        Value { criterion, mean, residual }
    }
}

/// Restricted maximum likelihood of `values[outer][inner][repeat]`.
///
/// One-way data are given with one inner group per outer group.
///
/// # Errors
/// Fewer than two outer groups, an empty cell, no repeats, values that are not
/// finite, no scatter within cells.
pub fn restricted_likelihood(values: &[Vec<Vec<f64>>]) -> Result<Restricted, CannotSay> {
    cannot_say::at_least("outer groups", 2, values.len())?;
    let n: usize = values.iter().flatten().map(Vec::len).sum();
    let cells: usize = values.iter().map(Vec::len).sum();
    cannot_say::at_least("values", cells + 1, n)?;
    let mut total = 0.0;
    for cell in values.iter().flatten() {
        cannot_say::at_least("values of a cell", 1, cell.len())?;
        cannot_say::all_finite("values", cell)?;
        total += sums::sum(cell.iter().copied()) / n as f64;
    }
    let centre = cannot_say::computed("the grand mean", total)?;
    let mut within = 0.0;
    let groups: Vec<Vec<(f64, f64)>> = values
        .iter()
        .map(|group| {
            group
                .iter()
                .map(|cell| {
                    let count = cell.len() as f64;
                    let mean = sums::sum(cell.iter().map(|v| v - centre)) / count;
                    within +=
                        cell.iter().map(|v| (v - centre - mean) * (v - centre - mean)).sum::<f64>();
                    (count, mean)
                })
                .collect()
        })
        .collect();
    if within == 0.0 {
        return Err(CannotSay::NoSpread { what: "the values within the cells".into() });
    }
    cannot_say::computed("the sum of squares", within)?;
    let one_way = values.iter().all(|group| group.len() == 1);
    let data = Cells { groups, within, n: n as f64 };
    let (inner, outer) = minimise(&data, one_way);
    let best = data.at(inner, outer);
    let mut notes = Vec::new();
    for (name, ratio) in [("outer", outer), ("inner", inner)] {
        if ratio == 0.0 && !(one_way && name == "inner") {
            notes.push(Note::new(
                "at-the-boundary",
                format!("The variance of the {name} level is estimated at its boundary, zero."),
                "Look at the estimate of the analysis of variance, which may be negative.",
            ));
        }
    }
    Ok(Restricted {
        outer: cannot_say::computed("the outer variance", outer * best.residual)?,
        inner: cannot_say::computed("the inner variance", inner * best.residual)?,
        residual: best.residual,
        mean: cannot_say::computed("the mean", centre + best.mean)?,
        criterion: cannot_say::computed("the criterion", best.criterion)?,
        n,
        groups: values.len(),
        method: "nested random effects by restricted maximum likelihood",
        notes,
        about_cells: AboutCells::of(values.iter().flatten(), None),
    })
}

/// Ratios at the smallest criterion: one variable at a time, then Newton's
/// method on the logarithms.
fn minimise(data: &Cells, one_way: bool) -> (f64, f64) {
    let value = |inner: f64, outer: f64| data.at(inner, outer).criterion;
    let line = |f: &dyn Fn(f64) -> f64, near: f64, wide: bool| -> f64 {
        // Smallest value over the logarithm of the ratio, zero included.
        let (mut low, mut high) =
            if wide || near <= 0.0 { (-14.0, 14.0) } else { (ln(near) - 1.0, ln(near) + 1.0) };
        let golden = 0.618_033_988_749_894_9;
        for _ in 0..if wide { 26 } else { 16 } {
            let a = high - golden * (high - low);
            let b = low + golden * (high - low);
            if f(exp(a)) < f(exp(b)) {
                high = b;
            } else {
                low = a;
            }
        }
        let best = exp(0.5 * (low + high));
        if f(0.0) <= f(best) { 0.0 } else { best }
    };
    let (mut inner, mut outer) = (if one_way { 0.0 } else { 1.0 }, 1.0);
    for sweep in 0..6 {
        let before = (inner, outer);
        outer = line(&|x| value(inner, x), outer, sweep < 2);
        if !one_way {
            inner = line(&|x| value(x, outer), inner, sweep < 2);
        }
        if (inner - before.0).abs() < 1e-2 * inner && (outer - before.1).abs() < 1e-2 * outer {
            break;
        }
    }
    newton(&value, inner, outer)
}

fn newton(value: &dyn Fn(f64, f64) -> f64, inner: f64, outer: f64) -> (f64, f64) {
    let free = [inner > 0.0, outer > 0.0];
    let mut place = [if free[0] { ln(inner) } else { 0.0 }, if free[1] { ln(outer) } else { 0.0 }];
    let at = |p: [f64; 2]| {
        value(if free[0] { exp(p[0]) } else { 0.0 }, if free[1] { exp(p[1]) } else { 0.0 })
    };
    let mut best = at(place);
    for _ in 0..8 {
        let h = 1e-3;
        let mut gradient = [0.0; 2];
        let mut bend = [0.0; 2];
        for j in 0..2 {
            if !free[j] {
                continue;
            }
            let (mut up, mut down) = (place, place);
            up[j] += h;
            down[j] -= h;
            let (u, d) = (at(up), at(down));
            gradient[j] = (u - d) / (2.0 * h);
            bend[j] = (u - 2.0 * best + d) / (h * h);
        }
        let mixed = if free[0] && free[1] {
            let corner = |a: f64, b: f64| at([place[0] + a * h, place[1] + b * h]);
            (corner(1.0, 1.0) - corner(1.0, -1.0) - corner(-1.0, 1.0) + corner(-1.0, -1.0))
                / (4.0 * h * h)
        } else {
            0.0
        };
        let determinant = bend[0] * bend[1] - mixed * mixed;
        let step = match free {
            [true, true] if determinant > 0.0 && bend[0] > 0.0 => [
                (bend[1] * gradient[0] - mixed * gradient[1]) / determinant,
                (bend[0] * gradient[1] - mixed * gradient[0]) / determinant,
            ],
            [true, false] if bend[0] > 0.0 => [gradient[0] / bend[0], 0.0],
            [false, true] if bend[1] > 0.0 => [0.0, gradient[1] / bend[1]],
            _ => break,
        };
        let next = [place[0] - step[0], place[1] - step[1]];
        let there = at(next);
        let small = step[0].abs() + step[1].abs() < 1e-9;
        if there > best + 1e-10 || !there.is_finite() {
            break;
        }
        place = next;
        best = there;
        if small {
            break;
        }
    }
    (if free[0] { exp(place[0]) } else { 0.0 }, if free[1] { exp(place[1]) } else { 0.0 })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::variance_components::nested;

    #[test]
    fn balanced_data_give_the_analysis_of_variance() {
        let values: Vec<Vec<Vec<f64>>> = (0..8)
            .map(|i| {
                let mut outer = digits::RandomStream::new(5, i);
                let shift = 2.0 * outer.normal();
                (0..4)
                    .map(|_| {
                        let inner = shift + 1.5 * outer.normal();
                        (0..3).map(|_| 50.0 + inner + outer.normal()).collect()
                    })
                    .collect()
            })
            .collect();
        let table = nested(&values).unwrap();
        let fit = restricted_likelihood(&values).unwrap();
        assert!(table.outer > 0.0 && table.inner > 0.0);
        assert!((fit.outer / table.outer - 1.0).abs() < 1e-6, "{fit:?} {table:?}");
        assert!((fit.inner / table.inner - 1.0).abs() < 1e-6);
        assert!((fit.residual / table.residual - 1.0).abs() < 1e-6);
    }

    #[test]
    fn a_negative_component_ends_at_the_boundary() {
        let values = vec![vec![vec![0.0, 2.0]], vec![vec![0.1, 1.9]], vec![vec![-0.1, 2.1]]];
        let fit = restricted_likelihood(&values).unwrap();
        assert_eq!(fit.outer, 0.0);
        assert!(fit.notes.iter().any(|note| note.code == "at-the-boundary"));
    }
}
