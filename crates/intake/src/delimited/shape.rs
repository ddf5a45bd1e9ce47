//! The shape of the data: how many cells a row has, and which hold values.

use std::borrow::Cow;
use std::collections::BTreeMap;

use super::cell::is_missing_token;
use super::fields::{Separator, split_fields};
use super::layout::no_rows;
use super::records::Record;
use super::separator::is_value;
use crate::codes;
use crate::message::{Message, Refusal};

/// More columns than this are not read.
const MOST_COLUMNS: usize = 1000;

/// How a row of data looks.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Shape {
    pub(super) separator: Separator,
    pub(super) n_columns: usize,
    /// Columns in which nearly every row holds a value.
    value_columns: Vec<usize>,
}

impl Shape {
    /// The shape that most records with values have.
    pub(super) fn of(sample: &[Record<'_>], separator: Separator) -> Result<Self, Refusal> {
        let n_columns = usual_columns(sample, separator)?;
        let mut n_rows = 0_usize;
        let mut n_values = vec![0_usize; n_columns];
        let mut cells: Vec<Cow<'_, str>> = Vec::new();
        for record in sample {
            split_fields(record.text, separator, &mut cells);
            if cells.len() != n_columns || !cells.iter().any(|cell| is_value(cell)) {
                continue;
            }
            n_rows += 1;
            for (count, cell) in n_values.iter_mut().zip(&cells) {
                *count += usize::from(is_value(cell));
            }
        }
        let value_columns: Vec<usize> =
            (0..n_columns).filter(|&column| n_values[column] * 5 > n_rows * 3).collect();
        if value_columns.is_empty() {
            return Err(no_rows("No column holds values in most of its rows").into());
        }
        Ok(Self { separator, n_columns, value_columns })
    }

    /// True where the first column of values holds one.
    pub(super) fn begins_with_value(&self, cells: &[Cow<'_, str>]) -> bool {
        self.value_columns
            .first()
            .and_then(|&column| cells.get(column))
            .is_some_and(|cell| is_value(cell))
    }

    /// A row belongs to the data if it has the usual cells and begins with a
    /// value: what does not read further on is then an error and no trailer.
    pub(crate) fn is_data_row(&self, record: &Record<'_>) -> bool {
        let mut cells = Vec::with_capacity(self.n_columns);
        split_fields(record.text, self.separator, &mut cells);
        if cells.len() != self.n_columns {
            return false;
        }
        if self.begins_with_value(&cells) {
            return true;
        }
        let mut n_values = 0;
        for &column in &self.value_columns {
            let cell = &cells[column];
            if is_value(cell) {
                n_values += 1;
            } else if !cell.is_empty() && !is_missing_token(cell) {
                return false;
            }
        }
        n_values > 0
    }
}

/// The number of cells that most records with values have.
fn usual_columns(sample: &[Record<'_>], separator: Separator) -> Result<usize, Refusal> {
    let mut counts: BTreeMap<usize, usize> = BTreeMap::new();
    let mut cells = Vec::new();
    for record in sample {
        split_fields(record.text, separator, &mut cells);
        if cells.iter().any(|cell| is_value(cell)) {
            *counts.entry(cells.len()).or_insert(0) += 1;
        }
    }
    let (n_columns, _) = counts
        .into_iter()
        .max_by_key(|&(columns, count)| (count, columns))
        .ok_or_else(|| no_rows("There is no row of values below the header"))?;
    if n_columns > MOST_COLUMNS {
        return Err(Message::refused(
            codes::TOO_MANY_COLUMNS,
            format!("There are {n_columns} columns; the limit is {MOST_COLUMNS}"),
        )
        .done("Nothing was read.")
        .next("Export fewer columns.")
        .into());
    }
    Ok(n_columns)
}
