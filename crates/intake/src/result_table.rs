//! Tables of results: one header line, one row per unit or reading.
//!
//! Unlike a trace, a table may hold words (unit, operator, verdict). Which
//! column is a number is decided by whoever asks for it.

use std::borrow::Cow;

use crate::codes;
use crate::delimited::{
    CellFault, DecimalMark, Given, NumberStyle, Record, Records, Separator, decode, propose_marks,
    propose_separator, read_cell, split_fields,
};
use crate::message::{Message, Refusal, quoted};
use crate::written_quantity::nearest_of;

/// A table as it was written: names and cells of text.
#[derive(Debug, Clone, PartialEq)]
pub struct Table {
    /// Names of the columns, in order.
    pub columns: Vec<String>,
    /// Rows of cells, each as long as `columns`.
    pub rows: Vec<Vec<String>>,
    /// Line of each row, counted from 1.
    pub lines: Vec<u64>,
    /// How numbers are written.
    pub style: NumberStyle,
    /// What was noticed.
    pub messages: Vec<Message>,
}

/// Reads a table: comma, semicolon, tab, bar or blank separated, UTF-8 or a
/// legacy code page, lines that begin with `#` left out.
///
/// # Errors
/// Refuses empty files, a header without rows, rows with more or fewer cells
/// than the header, and repeated or blank column names.
///
/// # Example
/// ```
/// use intake::result_table::read_table;
/// let table = read_table(b"# invented\nunit,rise_pa\nA,12.5\nB,13.25\n", &Default::default())?;
/// assert_eq!(table.numbers("rise_pa")?, [12.5, 13.25]);
/// assert_eq!(table.words("unit")?, ["A", "B"]);
/// # Ok::<(), intake::Refusal>(())
/// ```
pub fn read_table(bytes: &[u8], given: &Given) -> Result<Table, Refusal> {
    let decoded = decode(bytes, given.encoding)?;
    let mut records: Vec<Record<'_>> = Vec::new();
    let mut empty: Vec<Record<'_>> = Vec::new();
    for record in Records::new(&decoded.text) {
        let record = record?;
        if record.is_blank() {
            empty.push(record);
        } else if !record.text.trim_start().starts_with('#') {
            records.push(record);
        }
    }
    if records.is_empty() {
        return Err(too_short("The table is empty"));
    }
    let mut messages = decoded.messages.clone();
    let separator = separator_of(&mut records, given)?;
    let Some((header, body)) = records.split_first() else {
        return Err(too_short("The table is empty"));
    };
    if body.is_empty() {
        return Err(too_short("The table has a header and no rows"));
    }
    let columns = column_names(header, separator)?;
    let (rows, lines) = equal_rows(body, separator, columns.len())?;
    let (style, notes) = propose_marks(&body[..body.len().min(1000)], separator, given.style)?;
    messages.extend(notes);
    messages.extend(empty_rows(&empty, body, columns.len()));
    Ok(Table { columns, rows, lines, style, messages })
}

/// Says how many rows between the first and the last hold nothing and were left
/// out: a value may be missing there. In a table of several columns a line
/// without a separator is no row.
fn empty_rows(empty: &[Record<'_>], body: &[Record<'_>], n_columns: usize) -> Option<Message> {
    let (first, last) = (body.first()?.line, body.last()?.line);
    let mut lost = empty
        .iter()
        .filter(|record| (first..last).contains(&record.line))
        .filter(|record| n_columns == 1 || !record.text.trim().is_empty());
    let start = lost.next()?;
    let count = 1 + lost.count();
    let what = match count {
        1 => "1 row without any value stands among the others".to_owned(),
        _ => format!("{count} rows without any value stand among the others, the first here"),
    };
    Some(
        Message::warning(codes::EMPTY_ROW, what)
            .at_line(start.line)
            .done("Nothing was made of it: no value is counted there.")
            .next(
                "If a value belongs there, complete it: a reading that was lost or aborted is no \
                 reading less.",
            ),
    )
}

/// The separator as given, declared by a first line `sep=;`, or proposed.
fn separator_of(records: &mut Vec<Record<'_>>, given: &Given) -> Result<Separator, Refusal> {
    let sample = &records[..records.len().min(400)];
    let separator = match given.separator {
        Some(separator) => separator,
        None => propose_separator(sample)?,
    };
    if records.first().is_some_and(|record| record.text.starts_with("sep=")) {
        records.remove(0);
    }
    Ok(separator)
}

fn too_short(what: &str) -> Refusal {
    Message::refused(codes::TOO_SHORT, what)
        .done("Nothing was read.")
        .next("Check that the export finished and that this is the right file.")
        .into()
}

fn column_names(header: &Record<'_>, separator: Separator) -> Result<Vec<String>, Refusal> {
    let mut cells: Vec<Cow<'_, str>> = Vec::new();
    split_fields(header.text, separator, &mut cells);
    while cells.len() > 1 && cells.last().is_some_and(|cell| cell.is_empty()) {
        cells.pop();
    }
    let mut faults = Vec::new();
    for (index, cell) in cells.iter().enumerate() {
        let number = index as u64 + 1;
        let what = if cell.is_empty() {
            format!("Column {number} has no name")
        } else if cells[..index].contains(cell) {
            format!("The name {} occurs twice", quoted(cell))
        } else {
            continue;
        };
        faults.push(
            Message::refused(codes::COLUMN_NAMES, what)
                .at_line(header.line)
                .in_column(number, cell)
                .done("Nothing was read.")
                .next("Give every column a name of its own."),
        );
    }
    if cells.iter().all(|cell| read_cell(cell, NumberStyle::default()).is_ok()) {
        faults.push(
            Message::refused(
                codes::HEADER,
                format!("The first line holds numbers and no names: {}", quoted(header.text)),
            )
            .at_line(header.line)
            .done("Nothing was read.")
            .next("Write a first line with the names of the columns."),
        );
    }
    if faults.is_empty() {
        Ok(cells.into_iter().map(Cow::into_owned).collect())
    } else {
        Err(Refusal::of(faults))
    }
}

/// The cell without the apostrophe that guards against formulas.
fn unguarded(cell: Cow<'_, str>) -> String {
    match crate::written_table::without_guard(&cell) {
        Some(text) => text.to_owned(),
        None => cell.into_owned(),
    }
}

type Rows = (Vec<Vec<String>>, Vec<u64>);

fn equal_rows(
    body: &[Record<'_>],
    separator: Separator,
    n_columns: usize,
) -> Result<Rows, Refusal> {
    const MOST_FAULTS: usize = 20;
    let mut rows = Vec::with_capacity(body.len());
    let mut lines = Vec::with_capacity(body.len());
    let mut faults = Vec::new();
    for record in body {
        let mut cells = Vec::with_capacity(n_columns);
        split_fields(record.text, separator, &mut cells);
        while cells.len() > n_columns && cells.last().is_some_and(|cell| cell.is_empty()) {
            cells.pop();
        }
        if cells.len() != n_columns {
            faults.push(
                Message::refused(
                    codes::RAGGED_ROW,
                    format!("The row has {} cells and the header {n_columns}", cells.len()),
                )
                .at_line(record.line)
                .at_byte(record.byte as u64)
                .done("Nothing was read.")
                .next("Complete the row, or quote cells that hold the separator."),
            );
            if faults.len() == MOST_FAULTS {
                break;
            }
            continue;
        }
        rows.push(cells.into_iter().map(unguarded).collect());
        lines.push(record.line);
    }
    if faults.is_empty() { Ok((rows, lines)) } else { Err(Refusal::of(faults)) }
}

impl Table {
    /// Number of rows.
    #[must_use]
    pub fn n_rows(&self) -> usize {
        self.rows.len()
    }

    /// The index of a column.
    ///
    /// # Errors
    /// Names the columns there are and the nearest one.
    pub fn column(&self, name: &str) -> Result<usize, Refusal> {
        if let Some(index) = self.columns.iter().position(|column| column == name) {
            return Ok(index);
        }
        let hint = nearest_of(name, self.columns.iter().map(String::as_str))
            .map_or_else(String::new, |near| format!("Did you mean {}? ", quoted(near)));
        let list: Vec<String> = self.columns.iter().map(|column| quoted(column)).collect();
        Err(Message::refused(
            codes::TABLE_NO_COLUMN,
            format!("The table has no column {}", quoted(name)),
        )
        .next(format!("{hint}It has {}.", list.join(", ")))
        .into())
    }

    /// The cells of a column as text.
    ///
    /// # Errors
    /// Refuses a column that the table lacks.
    pub fn words(&self, name: &str) -> Result<Vec<&str>, Refusal> {
        let column = self.column(name)?;
        Ok(self.rows.iter().map(|row| row[column].as_str()).collect())
    }

    /// The cells of a column as numbers; every one must be a number.
    ///
    /// # Errors
    /// Names each cell that is not one, with its line (the first twenty).
    pub fn numbers(&self, name: &str) -> Result<Vec<f64>, Refusal> {
        let values = self.optional_numbers(name)?;
        let column = self.column(name)?;
        let empty = values.iter().position(Option::is_none);
        match empty {
            None => Ok(values.into_iter().flatten().collect()),
            Some(row) => Err(self.cell_message(row, column, "The cell is empty").into()),
        }
    }

    /// The cells of a column as numbers, with `None` where nothing is written.
    ///
    /// # Errors
    /// Names each cell that is neither a number nor empty (the first twenty).
    pub fn optional_numbers(&self, name: &str) -> Result<Vec<Option<f64>>, Refusal> {
        const MOST_FAULTS: usize = 20;
        let column = self.column(name)?;
        let mut values = Vec::with_capacity(self.rows.len());
        let mut faults = Vec::new();
        for (index, row) in self.rows.iter().enumerate() {
            match read_cell(&row[column], self.style) {
                Ok(value) => values.push(Some(value)),
                Err(CellFault::Empty) => values.push(None),
                Err(fault) => {
                    if faults.len() < MOST_FAULTS {
                        let what = format!("{} {}", quoted(&row[column]), self.fault_words(fault));
                        faults.push(self.cell_message(index, column, &what));
                    }
                }
            }
        }
        if faults.is_empty() { Ok(values) } else { Err(Refusal::of(faults)) }
    }

    /// The cells of a column as hit (`true`) or miss: 1 and 0, yes and no,
    /// hit and miss, detected and not detected, fail and pass of a leak test.
    ///
    /// # Errors
    /// Names each cell that is none of these (the first twenty).
    pub fn hits(&self, name: &str) -> Result<Vec<bool>, Refusal> {
        let column = self.column(name)?;
        let mut hits = Vec::with_capacity(self.rows.len());
        let mut faults = Vec::new();
        for (index, row) in self.rows.iter().enumerate() {
            match row[column].to_lowercase().as_str() {
                "1" | "1.0" | "yes" | "true" | "hit" | "detected" | "fail" => hits.push(true),
                "0" | "0.0" | "no" | "false" | "miss" | "not detected" | "pass" => hits.push(false),
                other => {
                    if faults.len() < 20 {
                        let what = format!("{} is neither a hit nor a miss", quoted(other));
                        faults.push(
                            self.cell_message(index, column, &what)
                                .next("Write 1 or 0, hit or miss, yes or no."),
                        );
                    }
                }
            }
        }
        if faults.is_empty() { Ok(hits) } else { Err(Refusal::of(faults)) }
    }

    fn cell_message(&self, row: usize, column: usize, what: &str) -> Message {
        Message::refused(codes::TABLE_CELL, what)
            .at_line(self.lines[row])
            .in_column(column as u64 + 1, &self.columns[column])
            .next("Write a number, or choose another column.")
    }

    fn fault_words(&self, fault: CellFault) -> &'static str {
        match (fault, self.style.decimal) {
            (CellFault::OtherMark, DecimalMark::Point) => {
                "is not written with a decimal point as the rest of the file"
            }
            (CellFault::OtherMark, DecimalMark::Comma) => {
                "is not written with a decimal comma as the rest of the file"
            }
            (CellFault::OutOfRange, _) => "is beyond what can be represented",
            (CellFault::Hexadecimal, _) => "is hexadecimal",
            (CellFault::UnusualDigits, _) => "has digits that are not 0 to 9",
            (CellFault::Empty | CellFault::Text, _) => "is not a number",
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn table(text: &str) -> Result<Table, Refusal> {
        read_table(text.as_bytes(), &Given::default())
    }

    #[test]
    fn the_dialects_of_tables() {
        for text in [
            "unit,rise\nA,1.5\nB,-2\n",
            "unit;rise\r\nA;1,5\r\nB;-2\r\n",
            "unit\trise\nA\t1.5\nB\t-2",
            "\u{feff}# note, with comma\n\nunit , rise\n\"A\", 1.5\n\"B\",-2\n",
            "sep=;\nunit;rise;\nA;1.5;\nB;-2;\n",
        ] {
            let table = table(text).unwrap_or_else(|refusal| panic!("{text}: {refusal}"));
            assert_eq!(table.numbers("rise"), Ok(vec![1.5, -2.0]), "{text}");
            assert_eq!(table.words("unit"), Ok(vec!["A", "B"]), "{text}");
        }
    }

    #[test]
    fn a_table_of_one_column() {
        let table = table("rise\n1.5\n2.5\n").unwrap();
        assert_eq!(table.numbers("rise"), Ok(vec![1.5, 2.5]));
    }

    #[test]
    fn rows_without_a_value_are_told() {
        let told = |text: &str| {
            let table = table(text).unwrap();
            table
                .messages
                .iter()
                .filter(|message| message.code == codes::EMPTY_ROW)
                .map(|message| (message.place.line, message.what.clone()))
                .collect::<Vec<_>>()
        };
        let found = told("rise\n1.5\n\n2.5\n  \n\n3\n\n");
        assert_eq!(found.len(), 1);
        assert_eq!(found[0].0, Some(3));
        assert!(found[0].1.starts_with("3 rows"), "{found:?}");
        assert_eq!(told("unit,rise\nA,1\n,\nB,2\n")[0].0, Some(3));
        // Space about a table, and between groups of rows of several columns, is layout.
        for text in ["\nrise\n\n1.5\n2.5\n\n", "unit,rise\nA,1\n\nB,2\n,\n"] {
            assert_eq!(told(text), [], "{text}");
        }
    }

    #[test]
    fn faults_name_line_and_column() {
        let read = table("unit,rise\nA,1.5\n\nB,high\nC,\nD,nan\n").unwrap();
        let refusal = read.numbers("rise").unwrap_err();
        let places: Vec<_> =
            refusal.messages().iter().map(|m| (m.place.line, m.place.column)).collect();
        assert_eq!(places, [(Some(4), Some(2)), (Some(6), Some(2))]);
        assert_eq!(refusal.first().place.column_name.as_deref(), Some("rise"));
        let refusal = read.numbers("riss").unwrap_err();
        assert!(refusal.first().next_step.contains("Did you mean \"rise\"?"));
        let read = table("unit,rise\nA,1.5\nC,\n").unwrap();
        assert_eq!(read.numbers("rise").unwrap_err().first().place.line, Some(3));
        assert_eq!(read.optional_numbers("rise"), Ok(vec![Some(1.5), None]));
    }

    #[test]
    fn what_is_no_table_is_refused() {
        for (text, code) in [
            ("", "INT-046"),
            ("unit,rise\n", "INT-046"),
            ("# only\n", "INT-046"),
            ("unit,rise\nA,1\nB,2,3\nC,1\n", "INT-016"),
            ("unit,rise\nA,1\nB\n", "INT-016"),
            ("rise,rise\n1,2\n", "INT-019"),
            ("1,2\n3,4\n", "INT-018"),
            ("unit,rise\n\"A,1\nB,2\n", "INT-017"),
            ("unit;rise\nA;1,5\nB;2.25\n", "INT-010"),
        ] {
            assert_eq!(table(text).map_err(|refusal| refusal.code()), Err(code), "{text}");
        }
        let refusal = read_table(b"unit,r\xc2\xb5\nA,\xff\n", &Given::default()).unwrap_err();
        assert_eq!((refusal.code(), refusal.first().place.line), ("INT-004", Some(2)));
    }

    #[test]
    fn hits_are_read_from_words_and_figures() {
        let read = table("size,hit\n5,1\n10,no\n15,Hit\n").unwrap();
        assert_eq!(read.hits("hit"), Ok(vec![true, false, true]));
        assert!(read.hits("size").is_err());
    }
}
