//! Two nested levels: days and runs, batches and casks, sites and days.

use super::intervals::{Term, modified_large_sample};
use super::negative_note;
use crate::cannot_say::{self, CannotSay};
use crate::note::Note;
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
    let all: Vec<f64> = values.iter().flatten().flatten().copied().collect();
    cannot_say::all_finite("values", &all)?;
    for (i, outer) in values.iter().enumerate() {
        cannot_say::at_least(&format!("inner groups of group {}", i + 1), 1, outer.len())?;
        for inner in outer {
            cannot_say::at_least(&format!("values in group {}", i + 1), 1, inner.len())?;
        }
    }
    let cells: usize = values.iter().map(Vec::len).sum();
    let (a, n) = (values.len() as f64, all.len() as f64);
    cannot_say::at_least("inner groups", values.len() + 1, cells)?;
    cannot_say::at_least("values", cells + 1, all.len())?;
    let mean = cannot_say::computed("the grand mean", sums::mean(&all).unwrap_or(f64::NAN))?;
    let (mut residual, mut inner_squares, mut outer_squares) = (Vec::new(), Vec::new(), Vec::new());
    let (mut cell_over_outer, mut cell_squares, mut outer_sizes) = (0.0, 0.0, 0.0);
    for outer in values {
        let flat: Vec<f64> = outer.iter().flatten().map(|v| v - mean).collect();
        let size = flat.len() as f64;
        let own = sums::mean(&flat).unwrap_or(0.0);
        outer_squares.push(size * own * own);
        outer_sizes += size * size;
        for inner in outer {
            let centred: Vec<f64> = inner.iter().map(|v| v - mean).collect();
            let cell = sums::mean(&centred).unwrap_or(0.0);
            let count = inner.len() as f64;
            inner_squares.push(count * (cell - own) * (cell - own));
            residual.extend(centred.iter().map(|v| (v - cell) * (v - cell)));
            cell_over_outer += count * count / size;
            cell_squares += count * count;
        }
    }
    let df = [a - 1.0, cells as f64 - a, n - cells as f64];
    let total = |list: Vec<f64>| sums::sum(list);
    let ms = [total(outer_squares) / df[0], total(inner_squares) / df[1], total(residual) / df[2]];
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
        n: all.len(),
        balanced,
        sizes,
        method: "nested random effects by the analysis of variance",
        notes,
    })
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
