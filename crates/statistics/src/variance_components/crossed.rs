//! Two crossed factors, every part met by every appraiser.

use super::negative_note;
use crate::account::{Account, Counted};
use crate::cannot_say::{self, CannotSay};
use crate::distributions::f;
use crate::note::{Assumption, Note};
use digits::sums;

/// Crossed analysis of variance, balanced.
#[derive(Debug, Clone, PartialEq)]
#[non_exhaustive]
pub struct Crossed {
    /// Sums of squares: rows, columns, interaction, repeats (`None` without
    /// repeats).
    pub sums_of_squares: (f64, f64, f64, Option<f64>),
    /// Mean squares in the same order.
    pub mean_squares: (f64, f64, f64, Option<f64>),
    /// Degrees of freedom in the same order.
    pub degrees_of_freedom: (f64, f64, f64, f64),
    /// F ratio of the interaction and its probability, with repeats.
    pub interaction: Option<(f64, f64)>,
    /// Variances with the interaction kept: rows, columns, interaction,
    /// repeats. Without repeats the interaction is the error and stands last.
    pub kept: (f64, f64, f64, f64),
    /// Variances with the interaction pooled into the error: rows, columns,
    /// error.
    pub pooled: (f64, f64, f64),
    /// Degrees of freedom of the pooled error.
    pub pooled_df: f64,
    /// Numbers of rows, columns and repeats.
    pub sizes: (usize, usize, usize),
    /// Name of the method.
    pub method: &'static str,
    /// Assumptions with the outcome of their checks.
    pub assumptions: Vec<Assumption>,
    /// Remarks with next steps.
    pub notes: Vec<Note>,
}

impl Account for Crossed {
    fn method(&self) -> &str {
        self.method
    }

    fn counted(&self) -> Counted {
        Counted::of(
            self.sizes.0.min(self.sizes.1),
            format!(
                "levels of the smaller factor ({} rows, {} columns, {} repeats)",
                self.sizes.0, self.sizes.1, self.sizes.2
            ),
        )
    }

    fn assumptions(&self) -> Vec<Assumption> {
        self.assumptions.clone()
    }

    fn notes(&self) -> Vec<Note> {
        let mut notes = self.notes.clone();
        if self.sizes.1 < 6 {
            notes.push(Note::new(
                "few-columns",
                format!(
                    "{} columns leave {} degrees of freedom for the variance between them.",
                    self.sizes.1,
                    self.sizes.1 - 1
                ),
                "Give the interval with the estimate; add columns, not repeats.",
            ));
        }
        notes
    }
}

/// Crossed analysis of variance of `values[row][column][repeat]`.
///
/// # Errors
/// Fewer than two rows or columns, cells of unequal size, values that are not
/// finite, no scatter.
pub fn crossed(values: &[Vec<Vec<f64>>]) -> Result<Crossed, CannotSay> {
    cannot_say::at_least("rows", 2, values.len())?;
    let (rows, columns) = (values.len(), values[0].len());
    cannot_say::at_least("columns", 2, columns)?;
    let repeats = values[0][0].len();
    cannot_say::at_least("values of a cell", 1, repeats)?;
    for (i, row) in values.iter().enumerate() {
        if row.len() != columns || row.iter().any(|cell| cell.len() != repeats) {
            return Err(CannotSay::not_determined(
                format!("row {} has cells of another number than the first", i + 1),
                "Complete the missing cells, or treat the data as nested.",
            ));
        }
    }
    let all: Vec<f64> = values.iter().flatten().flatten().copied().collect();
    cannot_say::all_finite("values", &all)?;
    let mean = cannot_say::computed("the grand mean", sums::mean(&all).unwrap_or(f64::NAN))?;
    let (a, b, r) = (rows as f64, columns as f64, repeats as f64);
    let cell: Vec<Vec<f64>> = values
        .iter()
        .map(|row| {
            row.iter().map(|v| sums::sum(v.iter().map(|x| x - mean)) / r).collect::<Vec<f64>>()
        })
        .collect();
    let row_mean: Vec<f64> = cell.iter().map(|row| sums::sum(row.iter().copied()) / b).collect();
    let column_mean: Vec<f64> =
        (0..columns).map(|j| sums::sum(cell.iter().map(|row| row[j])) / a).collect();
    let ss_rows = b * r * sums::sum(row_mean.iter().map(|m| m * m));
    let ss_columns = a * r * sums::sum(column_mean.iter().map(|m| m * m));
    let ss_interaction = r * sums::sum((0..rows).flat_map(|i| {
        let (cell, row_mean, column_mean) = (&cell, &row_mean, &column_mean);
        (0..columns).map(move |j| {
            let rest = cell[i][j] - row_mean[i] - column_mean[j];
            rest * rest
        })
    }));
    let ss_repeats = sums::sum(values.iter().zip(&cell).flat_map(|(row, means)| {
        row.iter()
            .zip(means)
            .flat_map(move |(v, m)| v.iter().map(move |x| (x - mean - m) * (x - mean - m)))
    }));
    let residuals: Vec<f64> = values
        .iter()
        .zip(&cell)
        .flat_map(|(row, means)| {
            row.iter().zip(means).flat_map(move |(v, m)| v.iter().map(move |x| x - mean - m))
        })
        .collect();
    let df = (a - 1.0, b - 1.0, (a - 1.0) * (b - 1.0), a * b * (r - 1.0));
    let ms = (ss_rows / df.0, ss_columns / df.1, ss_interaction / df.2);
    let with_repeats = repeats > 1;
    let error = if with_repeats { ss_repeats / df.3 } else { ms.2 };
    if error == 0.0 {
        return Err(CannotSay::NoSpread { what: "the repeated values".into() });
    }
    cannot_say::computed("a mean square", ms.0 + ms.1 + ms.2 + error)?;
    let (interaction, kept) = if with_repeats {
        let ratio = ms.2 / error;
        (
            Some((ratio, f::survival(ratio, df.2, df.3))),
            ((ms.0 - ms.2) / (b * r), (ms.1 - ms.2) / (a * r), (ms.2 - error) / r, error),
        )
    } else {
        (None, ((ms.0 - ms.2) / b, (ms.1 - ms.2) / a, 0.0, error))
    };
    let pooled_df = df.2 + df.3;
    let pooled_error = (ss_interaction + ss_repeats) / pooled_df;
    let pooled = ((ms.0 - pooled_error) / (b * r), (ms.1 - pooled_error) / (a * r), pooled_error);
    let mut notes = Vec::new();
    notes.extend(negative_note("the rows", kept.0));
    notes.extend(negative_note("the columns", kept.1));
    if with_repeats {
        notes.extend(negative_note("the interaction", kept.2));
    } else {
        notes.push(Note::new(
            "no-repeats",
            "Without repeats the interaction cannot be told from the error.",
            "Repeat each cell if the interaction matters.",
        ));
    }
    Ok(Crossed {
        sums_of_squares: (ss_rows, ss_columns, ss_interaction, with_repeats.then_some(ss_repeats)),
        mean_squares: (ms.0, ms.1, ms.2, with_repeats.then_some(error)),
        degrees_of_freedom: df,
        interaction,
        kept,
        pooled,
        pooled_df,
        sizes: (rows, columns, repeats),
        method: "crossed random effects by the analysis of variance",

        assumptions: vec![
            match with_repeats {
                true => crate::assumptions::normal("normal repeats", &residuals),
                false => {
                    Assumption::unchecked("normal repeats", "Shapiro-Wilk", "there are no repeats")
                }
            },
            match interaction {
                Some((ratio, p)) => Assumption::tested(
                    "no interaction of rows and columns",
                    "F test of the interaction",
                    p,
                    0.05,
                    format!("F = {ratio:.3}, p = {p:.4}."),
                ),
                None => Assumption::unchecked(
                    "no interaction of rows and columns",
                    "F test of the interaction",
                    "without repeats it cannot be told from the error",
                ),
            },
            Assumption::unchecked(
                "rows and columns drawn from those to come",
                "from the plan",
                "values do not show it; state how they were chosen",
            ),
        ],
        notes,
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn by_hand() {
        // Cell means 1, 3 / 5, 7 without interaction; repeats +-1.
        let cell = |m: f64| vec![m - 1.0, m + 1.0];
        let table = crossed(&[vec![cell(1.0), cell(3.0)], vec![cell(5.0), cell(7.0)]]).unwrap();
        assert_eq!(table.sums_of_squares, (32.0, 8.0, 0.0, Some(8.0)));
        assert_eq!(table.kept.2, -1.0);
        assert!(table.notes.iter().any(|note| note.code == "negative-component"));
        assert!(crossed(&[vec![vec![1.0]], vec![vec![2.0]]]).is_err());
    }
}
