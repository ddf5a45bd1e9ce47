//! The cells of the wanted columns, as numbers and clock times.

use std::borrow::Cow;
use std::collections::BTreeMap;

use super::FEWEST_SAMPLES;
use super::plain_rows::PlainRows;
use super::propose::{Reading, TimeSource};
use super::row_lines::RowLines;
use super::row_parts;
use crate::codes;
use crate::delimited::{
    CellFault, ClockReading, ClockStyle, DateOrder, DelimitedText, NumberStyle, Record, Records,
    Separator, has_short_year, read_cell, read_clock, split_fields,
};
use crate::message::{Message, Refusal, quoted};
use crate::reading_plan::ReadingPlan;

/// After so many faults of one file the rest is not listed.
const MOST_FAULTS: usize = 20;

/// Stands for a value that is missing, within this module's columns only: no
/// cell reads as NaN, so that it cannot be mistaken.
pub(super) const MISSING: f64 = f64::NAN;

/// Columns of numbers, one entry per row.
#[derive(Debug, Clone, PartialEq, Default)]
pub(super) struct Rows {
    /// Line of each row.
    pub(super) lines: RowLines,
    /// Elapsed times, in the unit of the file; empty where there are none.
    pub(super) elapsed: Vec<f64>,
    /// Clock times; empty where there are none.
    pub(super) clocks: Vec<ClockReading>,
    /// One list for each pressure channel, as written, or [`MISSING`].
    pub(super) pressures: Vec<Vec<f64>>,
    /// One list for each temperature channel, as written, or [`MISSING`].
    pub(super) temperatures: Vec<Vec<f64>>,
    /// Where runs begin that the file itself parts, with their names: by a
    /// column that names the run, or by a repeated header.
    pub(super) parts: Vec<(usize, String)>,
    /// Rows at which the word of the stage changes, with the word.
    pub(super) stages: Vec<(usize, String)>,
    /// Rows in which each pressure channel reads beyond its range.
    pub(super) over_range: Vec<usize>,
    /// What was noticed.
    pub(super) messages: Vec<Message>,
}

impl Rows {
    /// Drops what stands behind the first `n_rows` numbers and clock times.
    pub(super) fn cut(&mut self, n_rows: usize) {
        self.elapsed.truncate(n_rows);
        self.clocks.truncate(n_rows);
        for column in self.pressures.iter_mut().chain(&mut self.temperatures) {
            column.truncate(n_rows);
        }
    }

    /// Adds the rows of a later part whose lines were counted from `offset`.
    fn append(&mut self, later: Self, offset: u64) {
        let n_before = self.lines.len();
        if n_before == 0 && self.parts.is_empty() && self.stages.is_empty() {
            // Nothing to copy.
            let mut lines = RowLines::default();
            lines.append(&later.lines, offset);
            let messages = core::mem::take(&mut self.messages);
            *self = Self { lines, messages, ..later };
            return;
        }
        self.lines.append(&later.lines, offset);
        self.elapsed.extend(later.elapsed);
        self.clocks.extend(later.clocks);
        let columns = later.pressures.into_iter().chain(later.temperatures);
        for (column, more) in self.pressures.iter_mut().chain(&mut self.temperatures).zip(columns) {
            column.extend(more);
        }
        for (count, more) in self.over_range.iter_mut().zip(later.over_range) {
            *count += more;
        }
        let words = [(&mut self.parts, later.parts), (&mut self.stages, later.stages)];
        for (list, more) in words {
            for (row, word) in more {
                // A word that goes on is no new one.
                if list.last().is_none_or(|(_, last)| *last != word) {
                    list.push((n_before + row, word));
                }
            }
        }
    }
}

/// What is read of a row, and how.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct RowLayout {
    pub(super) separator: Separator,
    pub(super) style: NumberStyle,
    pub(super) names: Vec<String>,
    pub(super) has_header: bool,
    /// Column of elapsed time.
    pub(super) elapsed: Option<usize>,
    /// Column of clock time.
    pub(super) clock: Option<usize>,
    pub(super) order: Option<DateOrder>,
    pub(super) pressures: Vec<usize>,
    pub(super) temperatures: Vec<usize>,
    pub(super) run: Option<usize>,
    pub(super) stage: Option<usize>,
    pub(super) missing: Vec<String>,
    pub(super) over_range: Vec<String>,
    pub(super) split_at_restart: bool,
}

impl RowLayout {
    pub(super) fn of(file: &DelimitedText<'_>, reading: &Reading, plan: &ReadingPlan) -> Self {
        let (elapsed, clock, order) = match &reading.time {
            TimeSource::Elapsed { index, .. } => (Some(*index), None, None),
            TimeSource::Clock { index, order, .. } => (None, Some(*index), *order),
            TimeSource::Rate { .. } | TimeSource::FramingLines => (None, None, None),
        };
        Self {
            separator: file.separator,
            style: file.style,
            names: file.names.clone(),
            has_header: file.header_line.is_some(),
            elapsed,
            clock,
            order,
            pressures: reading.pressures.iter().map(|channel| channel.index).collect(),
            temperatures: reading.temperatures.iter().map(|channel| channel.index).collect(),
            run: reading.run,
            stage: reading.stage,
            missing: plan.missing.clone(),
            over_range: plan.over_range.clone(),
            split_at_restart: plan.split_at_restart,
        }
    }

    /// True where a line repeats the header.
    pub(super) fn is_header(&self, record: &Record<'_>) -> bool {
        let mut cells = Vec::new();
        split_fields(record.text, self.separator, &mut cells);
        self.repeats_header(&cells)
    }

    fn repeats_header(&self, cells: &[Cow<'_, str>]) -> bool {
        let same = cells
            .iter()
            .zip(&self.names)
            .filter(|(cell, name)| cell.as_ref() == name.as_str())
            .count();
        self.has_header && cells.len() == self.names.len() && same * 2 > cells.len()
    }
}

/// What a cell holds.
enum Cell {
    Value(f64),
    Missing,
    OverRange,
    Refused,
}

/// Reads rows one by one and keeps what it reads.
#[derive(Debug)]
pub(super) struct RowReader {
    pub(super) layout: RowLayout,
    pub(super) rows: Rows,
    faults: Vec<Message>,
    tokens: BTreeMap<String, (usize, Message)>,
    n_blank: usize,
    n_missing: usize,
    n_unusual: usize,
    n_apostrophes: usize,
    n_headers: usize,
    /// What the quick way has learned.
    pub(super) plain: Option<PlainRows>,
}

impl RowReader {
    pub(super) fn new(layout: RowLayout) -> Self {
        let rows = Rows {
            pressures: vec![Vec::new(); layout.pressures.len()],
            temperatures: vec![Vec::new(); layout.temperatures.len()],
            over_range: vec![0; layout.pressures.len()],
            ..Rows::default()
        };
        Self {
            layout,
            rows,
            faults: Vec::new(),
            tokens: BTreeMap::new(),
            n_blank: 0,
            n_missing: 0,
            n_unusual: 0,
            n_apostrophes: 0,
            n_headers: 0,
            plain: None,
        }
    }

    /// Adds what a later part has read, without a fault, by itself; its lines
    /// were counted from `offset`.
    pub(super) fn append(&mut self, later: Self, offset: u64) {
        self.n_blank += later.n_blank;
        self.n_missing += later.n_missing;
        self.n_unusual += later.n_unusual;
        self.n_apostrophes += later.n_apostrophes;
        self.rows.append(later.rows, offset);
    }

    /// True where something was refused.
    pub(super) fn has_faults(&self) -> bool {
        !self.faults.is_empty() || !self.tokens.is_empty()
    }

    /// True where so much is wrong that the rest need not be read.
    pub(super) fn has_given_up(&self) -> bool {
        self.faults.len() >= MOST_FAULTS
    }

    /// Reads one record with every check.
    pub(super) fn record(&mut self, record: &Record<'_>) {
        if record.is_blank() {
            self.n_blank += 1;
            return;
        }
        let mut cells: Vec<Cow<'_, str>> = Vec::with_capacity(self.layout.names.len() + 1);
        split_fields(record.text, self.layout.separator, &mut cells);
        let n_columns = self.layout.names.len();
        let open_end =
            cells.len() == n_columns + 1 && cells.last().is_some_and(|cell| cell.is_empty());
        if cells.len() != n_columns && !open_end {
            self.faults.push(
                Message::refused(
                    codes::RAGGED_ROW,
                    format!("The row has {} cells and the others {n_columns}", cells.len()),
                )
                .at_line(record.line)
                .at_byte(record.byte as u64)
                .done("Nothing was read.")
                .next("Complete or remove the row."),
            );
            return;
        }
        if self.layout.repeats_header(&cells) {
            self.repeated_header(record);
            return;
        }
        if !self.time(record, &cells) {
            return;
        }
        if let Some(run) = self.layout.run {
            self.run(&cells[run]);
        }
        if let Some(stage) = self.layout.stage {
            let word = cells[stage].as_ref();
            if self.rows.stages.last().is_none_or(|(_, last)| last != word) {
                self.rows.stages.push((self.rows.lines.len(), word.to_owned()));
            }
        }
        self.rows.lines.push(record.line);
        for channel in 0..self.layout.pressures.len() {
            let value = match self.cell(record, &cells, self.layout.pressures[channel]) {
                Cell::Value(value) => value,
                Cell::OverRange => {
                    self.rows.over_range[channel] += 1;
                    MISSING
                }
                Cell::Missing | Cell::Refused => MISSING,
            };
            self.rows.pressures[channel].push(value);
        }
        for channel in 0..self.layout.temperatures.len() {
            let value = match self.cell(record, &cells, self.layout.temperatures[channel]) {
                Cell::Value(value) => value,
                Cell::OverRange | Cell::Missing | Cell::Refused => MISSING,
            };
            self.rows.temperatures[channel].push(value);
        }
    }

    fn repeated_header(&mut self, record: &Record<'_>) {
        if self.layout.split_at_restart {
            self.n_headers += 1;
            // A column that names the runs knows better.
            if self.layout.run.is_none() {
                if self.n_headers == 1 && self.rows.parts.is_empty() {
                    self.rows.parts.push((0, "#1".to_owned()));
                }
                self.rows.parts.push((self.rows.lines.len(), format!("#{}", self.n_headers + 1)));
            }
            return;
        }
        self.faults.push(
            Message::refused(
                codes::REPEATED_HEADER,
                "The header is repeated within the data: a logger was started again",
            )
            .at_line(record.line)
            .at_byte(record.byte as u64)
            .done("Nothing was read.")
            .next(
                "Part the file at this line, or state split_at_restart = true in the reading plan.",
            ),
        );
    }

    /// Begins a new part where the name of the run changes.
    pub(super) fn run(&mut self, name: &str) {
        if self.rows.parts.last().is_none_or(|(_, last)| last != name) {
            self.rows.parts.push((self.rows.lines.len(), name.to_owned()));
        }
    }

    /// The time of a row; false where it has none and the row is refused.
    fn time(&mut self, record: &Record<'_>, cells: &[Cow<'_, str>]) -> bool {
        if let Some(index) = self.layout.elapsed {
            return match self.cell(record, cells, index) {
                Cell::Value(value) => {
                    self.rows.elapsed.push(value);
                    true
                }
                Cell::Missing | Cell::OverRange => self.no_time(record, index),
                Cell::Refused => false,
            };
        }
        let Some(index) = self.layout.clock else { return true };
        if let Some(clock) = read_clock(&cells[index], ClockStyle { order: self.layout.order }) {
            self.rows.clocks.push(clock);
            return true;
        }
        if cells[index].is_empty() {
            return self.no_time(record, index);
        }
        let (what, next) = if has_short_year(&cells[index]) {
            ("has a year of two digits", "Write the year with four digits.")
        } else {
            ("is not a clock time that can be read", "Write it like 2023-06-15 15:38:01.")
        };
        let message =
            Message::refused(codes::DATE_WORDS, format!("{} {what}", quoted(&cells[index])));
        let message = self.at(message.done("Nothing was read.").next(next), record, index);
        self.faults.push(message);
        false
    }

    fn no_time(&mut self, record: &Record<'_>, index: usize) -> bool {
        let message = Message::refused(codes::EMPTY_CELLS, "The row has no time")
            .done("Nothing was read.")
            .next("Complete or remove the row.");
        let message = self.at(message, record, index);
        self.faults.push(message);
        false
    }

    fn cell(&mut self, record: &Record<'_>, cells: &[Cow<'_, str>], index: usize) -> Cell {
        let cell = cells[index].as_ref();
        // Declared tokens go before numbers: "-999" may be one.
        if self.layout.missing.iter().any(|token| token == cell) {
            self.n_missing += 1;
            return Cell::Missing;
        }
        if self.layout.over_range.iter().any(|token| token == cell) {
            return Cell::OverRange;
        }
        match read_cell(cell, self.layout.style) {
            Ok(value) => {
                self.n_apostrophes += usize::from(cell.starts_with('\''));
                self.n_unusual += usize::from(
                    cell.starts_with(['\u{2212}', '\u{2013}']) || cell.contains(['d', 'D']),
                );
                Cell::Value(value)
            }
            Err(CellFault::Empty) => {
                self.n_missing += 1;
                Cell::Missing
            }
            Err(fault) => {
                self.fault(fault, cell, record, index);
                Cell::Refused
            }
        }
    }

    fn fault(&mut self, fault: CellFault, cell: &str, record: &Record<'_>, index: usize) {
        let shown = quoted(cell);
        let (code, what, next) = match fault {
            CellFault::Empty | CellFault::Text => {
                let message = Message::refused(
                    codes::UNKNOWN_TOKEN,
                    format!("{shown} stands where a number is due"),
                );
                let message = self.at(message, record, index);
                self.tokens.entry(cell.to_owned()).or_insert((0, message)).0 += 1;
                return;
            }
            CellFault::OtherMark => (
                codes::MIXED_DECIMAL_MARKS,
                format!("{shown} is written with other marks than the rest of the file"),
                "Export the file again with one decimal mark.",
            ),
            CellFault::OutOfRange => (
                codes::NUMBER_OUT_OF_RANGE,
                format!("{shown} is beyond what can be represented"),
                "Correct the value, or declare it as missing in the reading plan.",
            ),
            CellFault::Hexadecimal => (
                codes::NUMBER_OUT_OF_RANGE,
                format!("{shown} is hexadecimal"),
                "Export the values in decimal.",
            ),
            CellFault::UnusualDigits => (
                codes::UNUSUAL_DIGITS,
                format!("{shown} has digits that are not 0 to 9"),
                "Export the file with plain digits.",
            ),
        };
        let message = Message::refused(code, what)
            .at_byte(record.byte as u64)
            .done("Nothing was read.")
            .next(next);
        let message = self.at(message, record, index);
        self.faults.push(message);
    }

    fn at(&self, message: Message, record: &Record<'_>, index: usize) -> Message {
        message.at_line(record.line).in_column(index as u64 + 1, &self.layout.names[index])
    }

    /// The rows read so far are handed over and the reader goes on empty.
    ///
    /// # Errors
    /// The faults found so far.
    pub(super) fn take(&mut self) -> Result<Rows, Refusal> {
        self.faults.extend(core::mem::take(&mut self.tokens).into_iter().map(|(token, (count, message))| {
            Message { what: format!("{} ({count} times)", message.what), ..message }
                .done("Nothing was read.")
                .next(format!("If it means that there is no value, state missing = [{0}] in the reading plan; if the gauge was beyond its range, over_range = [{0}].", quoted(&token)))
        }));
        if !self.faults.is_empty() {
            let mut faults = core::mem::take(&mut self.faults);
            faults.sort_by_key(|message| message.place.line);
            return Err(Refusal::of(faults));
        }
        let empty = Self::new(self.layout.clone()).rows;
        Ok(core::mem::replace(&mut self.rows, empty))
    }

    /// The rows of a whole file.
    pub(super) fn finish(mut self) -> Result<Rows, Refusal> {
        let mut rows = self.take()?;
        if rows.lines.len() < FEWEST_SAMPLES {
            return Err(Message::refused(
                codes::TOO_SHORT,
                format!(
                    "The file has {} rows; a trace needs at least {FEWEST_SAMPLES}",
                    rows.lines.len()
                ),
            )
            .done("Nothing was read.")
            .next("Check that the export finished.")
            .into());
        }
        rows.messages = self.notes();
        Ok(rows)
    }

    /// What was noticed on the rows, counted.
    pub(super) fn notes(&self) -> Vec<Message> {
        let counted = [
            (
                self.n_missing,
                codes::EMPTY_CELLS,
                "cells hold no value",
                "They were kept as missing; nothing was filled in.",
            ),
            (
                self.n_blank,
                codes::EMPTY_CELLS,
                "blank lines stand within the data",
                "They were passed over.",
            ),
            (
                self.n_unusual,
                codes::UNUSUAL_DIGITS,
                "numbers carry a typeset minus or a Fortran exponent",
                "They were read as what they mean.",
            ),
            (
                self.n_apostrophes,
                codes::TEXT_NUMBERS,
                "numbers carry the apostrophe that spreadsheets put before text",
                "They were read as numbers.",
            ),
            (
                self.n_headers,
                codes::REPEATED_HEADER,
                "times the header is repeated within the data",
                "A new run begins at each.",
            ),
        ];
        counted
            .into_iter()
            .filter(|&(count, ..)| count > 0)
            .map(|(count, code, what, done)| {
                Message::remark(code, format!("{count} {what}")).done(done)
            })
            .collect()
    }
}

/// Reads every row of the data.
pub(super) fn read_rows(
    file: &DelimitedText<'_>,
    reading: &Reading,
    plan: &ReadingPlan,
    part_bytes: usize,
) -> Result<Rows, Refusal> {
    let mut reader = RowReader::new(RowLayout::of(file, reading, plan));
    let mut records = file.rows();
    read_first_parts(file, &mut reader, &mut records, part_bytes);
    loop {
        // Plain rows are read straight from their bytes; the first that is
        // not plain is read with every check.
        super::plain_rows::read(&mut reader, &mut records);
        match records.next() {
            Some(record) => reader.record(&record?),
            None => break,
        }
        if reader.has_given_up() {
            break;
        }
    }
    reader.finish()
}

/// Reads as many parts of a long text side by side as can be; the rest is
/// left to be read in turn.
fn read_first_parts(
    file: &DelimitedText<'_>,
    reader: &mut RowReader,
    records: &mut Records<'_>,
    part_bytes: usize,
) {
    let (text, _) = records.rest();
    let pieces = row_parts::split_at_lines(text.as_bytes(), part_bytes);
    if pieces.len() < 2 {
        return;
    }
    let parts = row_parts::read_pieces(&pieces, &reader.layout, &file.shape);
    for (piece, part) in pieces.iter().zip(parts) {
        let Some(part) = part else { return };
        reader.append(part.reader, records.rest().1 - 1);
        records.advance(piece.len(), part.n_lines);
    }
}
