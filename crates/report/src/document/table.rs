//! A table of any length.

use super::Words;

/// Side at which the cells of a column line up.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Align {
    /// Words: left.
    Left,
    /// Numbers: right.
    Right,
}

/// A column of a table.
#[derive(Debug, Clone, PartialEq)]
pub struct Column {
    /// Heading, with the unit.
    pub heading: String,
    /// Side at which the cells line up.
    pub align: Align,
    /// Share of the width that is free, where the column may take more than
    /// its widest cell; zero for a column as wide as its cells.
    pub share: f64,
}

impl Column {
    /// A column of words that takes a share of the free width.
    #[must_use]
    pub fn words(heading: impl Into<String>, share: f64) -> Self {
        Self { heading: heading.into(), align: Align::Left, share }
    }

    /// A column of short words as wide as its cells.
    #[must_use]
    pub fn short(heading: impl Into<String>) -> Self {
        Self { heading: heading.into(), align: Align::Left, share: 0.0 }
    }

    /// A column of numbers as wide as its cells.
    #[must_use]
    pub fn number(heading: impl Into<String>) -> Self {
        Self { heading: heading.into(), align: Align::Right, share: 0.0 }
    }
}

/// A table.
#[derive(Debug, Clone, PartialEq)]
pub struct DataTable {
    /// Short name without spaces, unique in the document.
    pub id: String,
    /// What the table shows.
    pub caption: String,
    /// Columns.
    pub columns: Vec<Column>,
    /// Rows; a missing cell is printed empty, cells beyond the columns never
    /// are dropped but refuse the document.
    pub rows: Vec<Vec<Words>>,
    /// What must be known to read the table.
    pub footnote: String,
}

impl DataTable {
    /// An empty table.
    #[must_use]
    pub fn new(id: impl Into<String>, caption: impl Into<String>, columns: Vec<Column>) -> Self {
        Self {
            id: id.into(),
            caption: caption.into(),
            columns,
            rows: Vec::new(),
            footnote: String::new(),
        }
    }

    /// Adds a row of plain texts.
    pub fn push<T: Into<Words>>(&mut self, cells: impl IntoIterator<Item = T>) {
        self.rows.push(cells.into_iter().map(Into::into).collect());
    }

    /// The same table with a footnote.
    #[must_use]
    pub fn with_footnote(mut self, footnote: impl Into<String>) -> Self {
        self.footnote = footnote.into();
        self
    }
}
