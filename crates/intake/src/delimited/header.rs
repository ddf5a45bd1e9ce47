//! The header of a file: names, a second line with units, or none at all.

use std::borrow::Cow;

use super::fields::{Separator, split_fields};
use super::records::Record;
use super::separator::{is_row_of_values, is_value};
use super::shape::Shape;
use crate::codes;
use crate::message::{Message, Refusal, quoted};
use crate::shown_names::look_alike;

/// The header as found above the data.
pub(super) struct Header {
    pub(super) names: Vec<String>,
    pub(super) units: Option<Vec<String>>,
    pub(super) line: Option<u64>,
    pub(super) n_preamble: usize,
    pub(super) messages: Vec<Message>,
}

impl Header {
    pub(super) fn of(
        before: &[Record<'_>],
        shape: &Shape,
        first: &Record<'_>,
    ) -> Result<Self, Refusal> {
        let filled: Vec<usize> =
            (0..before.len()).filter(|&index| !before[index].is_blank()).collect();
        let mut lines: Vec<(usize, Vec<String>)> = Vec::new();
        for &index in filled.iter().rev().take(2) {
            match header_cells(&before[index], shape) {
                Some(cells) => lines.push((index, cells)),
                None => break,
            }
        }
        if lines.is_empty()
            && let Some(&last) = filled.last()
        {
            refuse_doubled_columns(&before[last], shape, first)?;
        }
        // Two lines are a header with units only where the second reads as units.
        let two = lines.len() == 2 && lines[0].1.iter().all(|cell| is_unit_cell(cell));
        let (name_line, units) = match (lines.len(), two) {
            (0, _) => return Ok(Self::absent(before.len(), shape.n_columns, first.line)),
            (_, true) => (lines.swap_remove(1), Some(lines.swap_remove(0).1)),
            _ => (lines.swap_remove(0), None),
        };
        let (index, cells) = name_line;
        let mut messages = Vec::new();
        let names = unique_names(cells, before[index].line, &mut messages);
        if units.is_some() {
            messages.push(
                Message::remark(codes::HEADER, "The header has two lines, names and units")
                    .at_line(before[index].line)
                    .done("The second was read as units."),
            );
        }
        Ok(Self { names, units, line: Some(before[index].line), n_preamble: index, messages })
    }

    fn absent(n_preamble: usize, n_columns: usize, line: u64) -> Self {
        let message = Message::remark(codes::HEADER, "There is no header line above the data")
            .at_line(line)
            .done("The columns are called \"column 1\" and so on.");
        Self {
            names: (1..=n_columns).map(|number| format!("column {number}")).collect(),
            units: None,
            line: None,
            n_preamble,
            messages: vec![message],
        }
    }
}

/// The cells of a line, if it can be a header: as many as the data have, one
/// more or less at an open end, and none of them a value.
fn header_cells(record: &Record<'_>, shape: &Shape) -> Option<Vec<String>> {
    let n_columns = shape.n_columns;
    let mut cells = Vec::new();
    let text = record.text.trim_start_matches(['#', '%', '!']).trim_start();
    split_fields(text, shape.separator, &mut cells);
    if shape.separator == Separator::Blank && cells.len() != n_columns {
        // Names such as "Time (s)" hold blanks themselves; two or more part them.
        cells = text
            .split("  ")
            .map(str::trim)
            .filter(|cell| !cell.is_empty())
            .map(Cow::Borrowed)
            .collect();
    }
    if cells.len() == n_columns + 1 && cells.last().is_some_and(|cell| cell.is_empty()) {
        cells.pop();
    }
    if cells.len() + 1 == n_columns && cells.len() > 1 {
        cells.push(Cow::Borrowed(""));
    }
    let fits = cells.len() == n_columns
        && cells.iter().any(|cell| !cell.is_empty())
        && !shape.begins_with_value(&cells)
        && !is_row_of_values(&cells);
    fits.then(|| cells.into_iter().map(Cow::into_owned).collect())
}

/// A decimal comma in a comma-separated file doubles its columns.
fn refuse_doubled_columns(
    header: &Record<'_>,
    shape: &Shape,
    first: &Record<'_>,
) -> Result<(), Refusal> {
    let (separator, n_columns) = (shape.separator, shape.n_columns);
    let mut names = Vec::new();
    split_fields(header.text, separator, &mut names);
    let doubled = separator == Separator::Comma
        && names.len() > 1
        && names.len() < n_columns
        && names.iter().all(|name| !is_value(name));
    if !doubled {
        return Ok(());
    }
    Err(Message::refused(
        codes::DECIMAL_COMMA_WITH_COMMA,
        format!(
            "The header names {} columns and the rows have {n_columns} cells: {} may hold decimal commas or more columns",
            names.len(),
            quoted(first.text)
        ),
    )
    .at_line(first.line)
    .done("Nothing was read.")
    .next("Export the file again with \";\" between the columns or with decimal points.").into())
}

/// True for cells such as `[mbar]`, `(s)`, `°C` or nothing.
fn is_unit_cell(cell: &str) -> bool {
    let bare = cell.trim_matches(['[', ']', '(', ')', ' ']);
    bare.is_empty()
        || bare == "-"
        || crate::written_quantity::unit_of(bare).is_some()
        || ["C", "°C", "degC", "K", "F", "°F", "V", "mV", "mA", "%"].contains(&bare)
}

/// Names that a spreadsheet would run, a page would show as markup, or whose
/// characters hide or turn others around.
fn is_hostile(name: &str) -> bool {
    let formula = name.starts_with(['=', '@']) || (name.starts_with(['+', '-']) && name.len() > 1);
    let hidden = |c: char| {
        c.is_control()
            || matches!(c, '\u{200b}'..='\u{200f}' | '\u{202a}'..='\u{202e}' | '\u{2066}'..='\u{2069}' | '\u{feff}')
    };
    // `#name(` and `#import` are commands of a typesetter.
    let command = name.split('#').skip(1).any(|after| {
        let word: String = after.chars().take_while(char::is_ascii_alphabetic).collect();
        !word.is_empty() && after[word.len()..].starts_with(['(', ' ', '['])
    });
    formula
        || command
        || name.contains(['<', '>'])
        || name.contains("../")
        || name.contains("..\\")
        || name.len() > 200
        || name.chars().any(hidden)
}

fn unique_names(cells: Vec<String>, line: u64, messages: &mut Vec<Message>) -> Vec<String> {
    let mut names: Vec<String> = Vec::with_capacity(cells.len());
    for (index, cell) in cells.into_iter().enumerate() {
        let number = index + 1;
        if cell.is_empty() {
            names.push(format!("column {number}"));
            continue;
        }
        let mut name = cell.clone();
        let mut count = 1;
        while names.contains(&name) {
            count += 1;
            name = format!("{cell} ({count})");
        }
        if let Some(other) = names.iter().find(|other| look_alike(other, &cell)) {
            messages.push(
                Message::warning(
                    codes::HOSTILE_NAME,
                    format!("The names {} and {} look the same", quoted(other), quoted(&cell)),
                )
                .at_line(line)
                .at_column(number as u64)
                .done("They were kept apart.")
                .next("Check that they are two columns, and rename one."),
            );
        }
        if is_hostile(&cell) {
            messages.push(
                Message::warning(
                    codes::HOSTILE_NAME,
                    format!("The name {} could mislead a reader or a program", quoted(&cell)),
                )
                .at_line(line)
                .at_column(number as u64)
                .done("It was kept as it stands.")
                .next("Rename the column."),
            );
        }
        if count > 1 {
            messages.push(
                Message::warning(
                    codes::COLUMN_NAMES,
                    format!("The name {} occurs again", quoted(&cell)),
                )
                .at_line(line)
                .in_column(number as u64, &cell)
                .done(format!("The column is called {}.", quoted(&name)))
                .next("State in the reading plan which of them counts."),
            );
        }
        names.push(name);
    }
    names
}
