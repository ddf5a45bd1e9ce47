//! Two nested levels: days and runs, batches and casks, sites and days.

use super::intervals::{Term, modified_large_sample};
use super::negative_note;
use crate::account::{Account, Counted};
use crate::assumptions::about_cells::AboutCells;
use crate::cannot_say::{self, CannotSay};
use crate::note::{Assumption, Note};
use digits::sums;

/// Nested analysis of variance with its components.
#[derive(Debug, Clone, PartialEq)]
#[non_exhaustive]
pub struct Nested {
    /// Mean squares: outer level, inner level, residual.
    pub mean_squares: [f64; 3],
    /// Degrees of freedom of those.
    pub degrees_of_freedom: [f64; 3],
    /// Variance of the outer level as estimated; may be negative.
    pub outer: f64,
    /// Variance of the inner level as estimated; may be negative.
    pub inner: f64,
    /// Variance of repeats.
    pub residual: f64,
    /// Grand mean.
    pub mean: f64,
    /// Number of values.
    pub n: usize,
    /// Whether all groups have equal numbers.
    pub balanced: bool,
    /// Numbers of values per inner and per outer group, as the expected mean
    /// squares use them: inner in the inner square, inner and outer in the
    /// outer square.
    pub sizes: [f64; 3],
    /// Name of the method.
    pub method: &'static str,
    /// Remarks with next steps.
    pub notes: Vec<Note>,
    about_cells: AboutCells,
    /// Means of the outer groups less the grand mean.
    outer_means: Vec<f64>,
}

impl Account for Nested {
    fn method(&self) -> &str {
        self.method
    }

    fn counted(&self) -> Counted {
        Counted::of(
            self.degrees_of_freedom[0] as usize + 1,
            format!("groups of the outer level ({} values)", self.n),
        )
    }

    fn assumptions(&self) -> Vec<Assumption> {
        let mut list = self.about_cells.checks();
        list.push(crate::assumptions::normal(
            "normal effects of the outer level",
            &self.outer_means,
        ));
        list.push(Assumption::looked_at(
            "equal numbers in all groups",
            "count",
            self.balanced,
            if self.balanced {
                "All equal.".to_owned()
            } else {
                "They differ; the estimates depend on the method.".to_owned()
            },
        ));
        list
    }

    fn notes(&self) -> Vec<Note> {
        let mut notes = self.notes.clone();
        if self.degrees_of_freedom[0] < 5.0 {
            notes.push(Note::new(
        "few-groups",
        format!(
            "{} groups of the outer level leave {} degrees of freedom for the variance between \
             them.",
            self.degrees_of_freedom[0] + 1.0,
            self.degrees_of_freedom[0]
        ),
        "Give the interval with the estimate; add groups, not values.",
    ));
        }
        notes
    }
}

/// Nested analysis of variance of `values[outer][inner][repeat]`.
///
/// Unequal numbers use the expected mean squares of the sequential sums of
/// squares (S. R. Searle, Linear Models, 1971, from memory).
///
/// # Errors
/// Fewer than two outer groups, no outer group with two inner ones, no
/// repeats, values that are not finite, no scatter of repeats.
pub fn nested(values: &[Vec<Vec<f64>>]) -> Result<Nested, CannotSay> {
    cannot_say::at_least("outer groups", 2, values.len())?;
    for (i, outer) in values.iter().enumerate() {
        cannot_say::at_least(&format!("inner groups of group {}", i + 1), 1, outer.len())?;
        for inner in outer {
            cannot_say::at_least(&format!("values in group {}", i + 1), 1, inner.len())?;
        }
    }
    let cells: usize = values.iter().map(Vec::len).sum();
    let count: usize = values.iter().flatten().map(Vec::len).sum();
    let (a, n) = (values.len() as f64, count as f64);
    cannot_say::at_least("inner groups", values.len() + 1, cells)?;
    cannot_say::at_least("values", cells + 1, count)?;
    // One pass over the values, each cell read twice while it is near: its
    // mean from a common origin, then its squares about that mean.
    let origin = values[0][0][0];
    let mut summaries = Vec::with_capacity(cells);
    let mut within = Vec::with_capacity(cells);
    for cell in values.iter().flatten() {
        let (own, squares) = about_own_mean(cell, origin);
        summaries.push((cell.len() as f64, own));
        within.push(squares);
    }
    if summaries.iter().any(|(_, own)| !own.is_finite()) {
        let all: Vec<f64> = values.iter().flatten().flatten().copied().collect();
        cannot_say::all_finite("values", &all)?;
    }
    let shift = sums::sum(summaries.iter().map(|(size, own)| size / n * own));
    let mean = cannot_say::computed("the grand mean", origin + shift)?;
    let mut inner_squares = Vec::with_capacity(cells);
    let mut outer_squares = Vec::with_capacity(values.len());
    let mut outer_means = Vec::with_capacity(values.len());
    let (mut cell_over_outer, mut cell_squares, mut outer_sizes) = (0.0, 0.0, 0.0);
    let mut rest = summaries.as_slice();
    for outer in values {
        let (group, later) = rest.split_at(outer.len());
        rest = later;
        let size: f64 = group.iter().map(|(size, _)| size).sum();
        let own = sums::sum(group.iter().map(|(count, own)| count / size * own));
        outer_means.push(own - shift);
        outer_squares.push(size * (own - shift) * (own - shift));
        outer_sizes += size * size;
        for (count, cell) in group {
            inner_squares.push(count * (cell - own) * (cell - own));
            cell_over_outer += count * count / size;
            cell_squares += count * count;
        }
    }
    let df = [a - 1.0, cells as f64 - a, n - cells as f64];
    let about_cells = AboutCells::of(values.iter().flatten(), Some(&within));
    let total = |list: Vec<f64>| sums::sum(list);
    let ms = [total(outer_squares) / df[0], total(inner_squares) / df[1], total(within) / df[2]];
    if ms[2] == 0.0 {
        return Err(CannotSay::NoSpread { what: "the repeats".into() });
    }
    for value in ms {
        cannot_say::computed("a mean square", value)?;
    }
    let sizes = [
        (n - cell_over_outer) / df[1],
        (cell_over_outer - cell_squares / n) / df[0],
        (n - outer_sizes / n) / df[0],
    ];
    let inner = (ms[1] - ms[2]) / sizes[0];
    let outer = (ms[0] - ms[2] - sizes[1] * inner) / sizes[2];
    let first = values[0].len();
    let repeats = values[0][0].len();
    let balanced = values
        .iter()
        .all(|outer| outer.len() == first && outer.iter().all(|cell| cell.len() == repeats));
    let mut notes = Vec::new();
    notes.extend(negative_note("the outer level", outer));
    notes.extend(negative_note("the inner level", inner));
    if !balanced {
        notes.push(Note::new(
            "unequal-numbers",
            "The groups are of unequal size; the estimates depend on the method.",
            "Compare with the restricted-likelihood estimates.",
        ));
    }
    Ok(Nested {
        mean_squares: ms,
        degrees_of_freedom: df,
        outer,
        inner,
        residual: ms[2],
        mean,
        n: count,
        balanced,
        sizes,
        method: "nested random effects by the analysis of variance",
        notes,
        about_cells,
        outer_means,
    })
}

/// Mean of a cell less `origin`, and its squares about that mean.
fn about_own_mean(cell: &[f64], origin: f64) -> (f64, f64) {
    let n = cell.len() as f64;
    if cell.len() > 256 {
        // Long cells carry their rounding along.
        let own = sums::sum(cell.iter().map(|v| v - origin)) / n;
        let rest = sums::sum(cell.iter().map(|v| v - origin - own)) / n;
        let own = own + rest;
        return (own, sums::sum(cell.iter().map(|v| (v - origin - own) * (v - origin - own))));
    }
    let own = four_sums(cell, |v| v - origin) / n;
    let rest = four_sums(cell, |v| v - origin - own);
    let squares = four_sums(cell, |v| (v - origin - own) * (v - origin - own));
    (own + rest / n, squares - rest * rest / n)
}

/// Sum in four interleaved parts, in a fixed order.
#[inline(always)]
fn four_sums(cell: &[f64], value: impl Fn(f64) -> f64) -> f64 {
    let mut parts = [0.0; 4];
    let mut blocks = cell.chunks_exact(4);
    for block in &mut blocks {
        for (part, v) in parts.iter_mut().zip(block) {
            *part += value(*v);
        }
    }
    for (part, v) in parts.iter_mut().zip(blocks.remainder()) {
        *part += value(*v);
    }
    (parts[0] + parts[2]) + (parts[1] + parts[3])
}

impl Nested {
    /// Variance of one value in a new outer and inner group (intermediate
    /// precision), with its modified-large-sample interval.
    ///
    /// # Errors
    /// A confidence outside 0 to 1; unequal numbers, for which the interval is
    /// not defined.
    pub fn total(&self, confidence: f64) -> Result<(f64, f64, f64), CannotSay> {
        if !self.balanced {
            return Err(CannotSay::not_determined(
                "the interval of the total variance needs groups of equal size",
                "Report the restricted-likelihood estimates without interval, or balance the data.",
            ));
        }
        let [n, _, bn] = self.sizes;
        let coefficients = [1.0 / bn, 1.0 / n - 1.0 / bn, 1.0 - 1.0 / n];
        let terms: Vec<Term> = (0..3)
            .map(|i| Term {
                coefficient: coefficients[i].max(0.0),
                mean_square: self.mean_squares[i],
                degrees_of_freedom: self.degrees_of_freedom[i],
            })
            .collect();
        let value = terms.iter().map(|t| t.coefficient * t.mean_square).sum();
        let (low, high) = modified_large_sample(&terms, confidence)?;
        Ok((value, low, high))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn by_hand() {
        // Inner means 1, 3 | 7, 9: outer means 2, 8; residual variance 2.
        let table =
            nested(&[vec![vec![0.0, 2.0], vec![2.0, 4.0]], vec![vec![6.0, 8.0], vec![8.0, 10.0]]])
                .unwrap();
        assert_eq!(table.mean_squares, [72.0, 4.0, 2.0]);
        assert_eq!((table.outer, table.inner, table.residual), (17.0, 1.0, 2.0));
        assert!((table.total(0.95).unwrap().0 - 20.0).abs() < 1e-12);
        assert!(nested(&[vec![vec![1.0, 2.0]], vec![vec![1.0, 2.0]]]).is_err());
    }
}
