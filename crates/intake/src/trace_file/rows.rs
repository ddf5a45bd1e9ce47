//! The cells of the wanted columns, as numbers and clock times.

use std::borrow::Cow;
use std::collections::BTreeMap;

use super::FEWEST_SAMPLES;
use super::propose::{Reading, TimeSource};
use crate::codes;
use crate::delimited::{
    CellFault, ClockReading, ClockStyle, DelimitedText, Record, read_cell, read_clock, split_fields,
};
use crate::message::{Message, Refusal, quoted};
use crate::reading_plan::ReadingPlan;

/// After so many faults of one file the rest is not listed.
const MOST_FAULTS: usize = 20;

/// Columns of numbers, one entry per row; `None` where a value is missing.
#[derive(Debug, Clone, PartialEq, Default)]
pub(super) struct Rows {
    /// Line of each row.
    pub(super) lines: Vec<u64>,
    /// Elapsed times, in the unit of the file; empty where there are none.
    pub(super) elapsed: Vec<f64>,
    /// Clock times; empty where there are none.
    pub(super) clocks: Vec<ClockReading>,
    /// One list for each pressure channel, as written.
    pub(super) pressures: Vec<Vec<Option<f64>>>,
    /// One list for each temperature channel, as written.
    pub(super) temperatures: Vec<Vec<Option<f64>>>,
    /// What was noticed.
    pub(super) messages: Vec<Message>,
}

/// Reads every row of the data.
pub(super) fn read_rows(
    file: &DelimitedText<'_>,
    reading: &Reading,
    plan: &ReadingPlan,
) -> Result<Rows, Refusal> {
    let mut reader = Reader::new(file, reading, plan);
    let mut cells: Vec<Cow<'_, str>> = Vec::new();
    for record in file.rows() {
        let record = record?;
        split_fields(record.text, file.separator, &mut cells);
        reader.row(&record, &cells);
        if reader.faults.len() >= MOST_FAULTS {
            break;
        }
    }
    reader.finish()
}

struct Reader<'p, 'a> {
    file: &'p DelimitedText<'a>,
    reading: &'p Reading,
    plan: &'p ReadingPlan,
    n_columns: usize,
    rows: Rows,
    faults: Vec<Message>,
    tokens: BTreeMap<String, (usize, Message)>,
    n_blank: usize,
    n_missing: usize,
    n_unusual: usize,
}

impl<'p, 'a> Reader<'p, 'a> {
    fn new(file: &'p DelimitedText<'a>, reading: &'p Reading, plan: &'p ReadingPlan) -> Self {
        let rows = Rows {
            pressures: vec![Vec::new(); reading.pressures.len()],
            temperatures: vec![Vec::new(); reading.temperatures.len()],
            ..Rows::default()
        };
        Self {
            file,
            reading,
            plan,
            n_columns: file.names.len(),
            rows,
            faults: Vec::new(),
            tokens: BTreeMap::new(),
            n_blank: 0,
            n_missing: 0,
            n_unusual: 0,
        }
    }

    fn row(&mut self, record: &Record<'_>, cells: &[Cow<'_, str>]) {
        if record.is_blank() {
            self.n_blank += 1;
            return;
        }
        let open_end =
            cells.len() == self.n_columns + 1 && cells.last().is_some_and(|cell| cell.is_empty());
        if cells.len() != self.n_columns && !open_end {
            self.faults.push(
                Message::refused(
                    codes::RAGGED_ROW,
                    format!("The row has {} cells and the others {}", cells.len(), self.n_columns),
                )
                .at_line(record.line)
                .at_byte(record.byte as u64)
                .done("Nothing was read.")
                .next("Complete or remove the row."),
            );
            return;
        }
        if self.file.repeats_header(cells) {
            self.faults.push(
                Message::refused(codes::REPEATED_HEADER, "The header is repeated within the data: a logger was started again")
                    .at_line(record.line)
                    .at_byte(record.byte as u64)
                    .done("Nothing was read.")
                    .next("Part the file at this line, or state split_at_restart = true in the reading plan."),
            );
            return;
        }
        if !self.time(record, cells) {
            return;
        }
        self.rows.lines.push(record.line);
        for channel in 0..self.reading.pressures.len() {
            let value = self.value(record, cells, self.reading.pressures[channel].index);
            self.rows.pressures[channel].push(value);
        }
        for channel in 0..self.reading.temperatures.len() {
            let value = self.value(record, cells, self.reading.temperatures[channel].index);
            self.rows.temperatures[channel].push(value);
        }
    }

    /// The time of a row; false where it has none and the row is refused.
    fn time(&mut self, record: &Record<'_>, cells: &[Cow<'_, str>]) -> bool {
        match &self.reading.time {
            TimeSource::Elapsed { index, .. } => match self.value(record, cells, *index) {
                Some(value) => self.rows.elapsed.push(value),
                None => return self.no_time(record, *index),
            },
            TimeSource::Clock { index, order, .. } => {
                match read_clock(&cells[*index], ClockStyle { order: *order }) {
                    Some(clock) => self.rows.clocks.push(clock),
                    None if cells[*index].is_empty() => return self.no_time(record, *index),
                    None => {
                        self.faults.push(self.at(
                            Message::refused(codes::DATE_WORDS, format!("{} is not a clock time that can be read", quoted(&cells[*index])))
                                .done("Nothing was read.")
                                .next("Write it like 2023-06-15 15:38:01, with four digits of the year."),
                            record,
                            *index,
                        ));
                        return false;
                    }
                }
            }
            TimeSource::Rate { .. } | TimeSource::FramingLines => {}
        }
        true
    }

    fn no_time(&mut self, record: &Record<'_>, index: usize) -> bool {
        if self.tokens.is_empty() {
            self.faults.push(
                self.at(
                    Message::refused(codes::EMPTY_CELLS, "The row has no time")
                        .done("Nothing was read.")
                        .next("Complete or remove the row."),
                    record,
                    index,
                ),
            );
        }
        false
    }

    fn value(&mut self, record: &Record<'_>, cells: &[Cow<'_, str>], index: usize) -> Option<f64> {
        let cell = cells[index].as_ref();
        match read_cell(cell, self.file.style) {
            Ok(value) => {
                if cell.starts_with(['\'', '\u{2212}', '\u{2013}']) || cell.contains(['d', 'D']) {
                    self.n_unusual += 1;
                }
                if !self.plan.missing.is_empty()
                    && self.plan.missing.iter().any(|token| token == cell)
                {
                    self.n_missing += 1;
                    return None;
                }
                Some(value)
            }
            Err(CellFault::Empty) => {
                self.n_missing += 1;
                None
            }
            Err(_) if self.plan.missing.iter().any(|token| token == cell) => {
                self.n_missing += 1;
                None
            }
            Err(fault) => {
                self.fault(fault, cell, record, index);
                None
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
        message.at_line(record.line).in_column(index as u64 + 1, &self.file.names[index])
    }

    fn finish(mut self) -> Result<Rows, Refusal> {
        for (token, (count, message)) in core::mem::take(&mut self.tokens) {
            let message = Message { what: format!("{} ({count} times)", message.what), ..message };
            self.faults.push(message.done("Nothing was read.").next(format!(
                "If it means that there is no value, state missing = [{}] in the reading plan.",
                quoted(&token)
            )));
        }
        if !self.faults.is_empty() {
            return Err(Refusal::of(self.faults));
        }
        if self.rows.lines.len() < FEWEST_SAMPLES {
            return Err(Message::refused(
                codes::TOO_SHORT,
                format!(
                    "The file has {} rows; a trace needs at least {FEWEST_SAMPLES}",
                    self.rows.lines.len()
                ),
            )
            .done("Nothing was read.")
            .next("Check that the export finished.")
            .into());
        }
        if self.n_missing > 0 {
            self.rows.messages.push(
                Message::remark(
                    codes::EMPTY_CELLS,
                    format!("{} cells hold no value", self.n_missing),
                )
                .done("They were kept as missing; nothing was filled in."),
            );
        }
        if self.n_blank > 0 {
            self.rows.messages.push(
                Message::remark(
                    codes::EMPTY_CELLS,
                    format!("{} blank lines stand within the data", self.n_blank),
                )
                .done("They were passed over."),
            );
        }
        if self.n_unusual > 0 {
            self.rows.messages.push(
                Message::remark(codes::UNUSUAL_DIGITS, format!("{} numbers are written with a typeset minus, a Fortran exponent or an apostrophe", self.n_unusual))
                    .done("They were read as what they mean."),
            );
        }
        Ok(self.rows)
    }
}
