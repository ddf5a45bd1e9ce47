//! A table with typed columns, before it is written in one format or another.

use crate::written_table::write_table;

/// A table.
#[derive(Debug, Clone, PartialEq)]
pub struct Grid {
    /// Its name: a sheet, or a file.
    pub name: String,
    /// Its columns, all of one length.
    pub columns: Vec<GridColumn>,
}

/// A column.
#[derive(Debug, Clone, PartialEq)]
pub struct GridColumn {
    /// Its name, with the unit in it where it has one.
    pub name: String,
    /// Its unit, for the metadata; empty where it has none.
    pub unit: &'static str,
    /// Its cells.
    pub values: Values,
}

/// The cells of a column.
#[derive(Debug, Clone, PartialEq)]
pub enum Values {
    /// Numbers; some may be missing.
    Numbers(Vec<Option<f64>>),
    /// Words; an empty one says nothing.
    Words(Vec<String>),
}

impl GridColumn {
    /// A column of numbers.
    #[must_use]
    pub fn numbers(name: &str, unit: &'static str, values: Vec<Option<f64>>) -> Self {
        Self { name: name.to_owned(), unit, values: Values::Numbers(values) }
    }

    /// A column of words.
    #[must_use]
    pub fn words(name: &str, values: Vec<String>) -> Self {
        Self { name: name.to_owned(), unit: "", values: Values::Words(values) }
    }

    fn cell(&self, row: usize) -> String {
        match &self.values {
            Values::Numbers(values) => {
                values[row].map_or_else(String::new, |value| value.to_string())
            }
            Values::Words(values) => values[row].clone(),
        }
    }
}

impl Grid {
    /// Number of rows.
    #[must_use]
    pub fn n_rows(&self) -> usize {
        self.columns.first().map_or(0, |column| match &column.values {
            Values::Numbers(values) => values.len(),
            Values::Words(values) => values.len(),
        })
    }

    /// The grid as CSV that no spreadsheet runs.
    #[must_use]
    pub fn to_csv(&self) -> String {
        let names: Vec<&str> = self.columns.iter().map(|column| column.name.as_str()).collect();
        let rows: Vec<Vec<String>> = (0..self.n_rows())
            .map(|row| self.columns.iter().map(|column| column.cell(row)).collect())
            .collect();
        write_table(&names, &rows)
    }
}
