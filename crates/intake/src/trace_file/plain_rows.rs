//! Rows of plain numbers, read straight from their bytes.
//!
//! This is the quick way for what nearly every row of a long file looks like.
//! Whatever is not plain is left where it is, to be read with every check;
//! both ways give the same numbers, which a test keeps.

use super::rows::RowReader;
use crate::delimited::{ClockReading, Records, number_at};

/// Where a column of a row goes.
#[derive(Clone, Copy)]
enum Target {
    Nowhere,
    Elapsed,
    Clock,
    Run,
    Stage,
    Pressure(usize),
    Temperature(usize),
}

/// Reads rows from the records until one is not plain or none is left.
pub(super) fn read(reader: &mut RowReader, records: &mut Records<'_>) {
    let layout = &reader.layout;
    // Tokens could be numbers, and thousands marks need their pattern.
    let plain_style = layout.style.thousands.is_none();
    let (Some(separator), true, true) = (
        layout.separator.byte(),
        plain_style,
        layout.missing.is_empty() && layout.over_range.is_empty(),
    ) else {
        return;
    };
    let decimal = layout.style.decimal.character() as u8;
    if decimal == separator {
        return;
    }
    let row = PlainRow { separator, decimal, targets: targets(reader) };
    let mut date = KnownDate::default();
    let (text, first_line) = records.rest();
    let (mut at, mut n_lines) = (0, 0);
    while at < text.len() {
        let Some(end) = row.read(reader, text.as_bytes(), at, first_line + n_lines, &mut date)
        else {
            break;
        };
        at = end;
        n_lines += 1;
    }
    records.advance(at, n_lines);
}

fn targets(reader: &RowReader) -> Vec<Target> {
    let layout = &reader.layout;
    let mut targets = vec![Target::Nowhere; layout.names.len()];
    let mut set = |index: usize, target: Target| {
        if let Some(slot) = targets.get_mut(index) {
            *slot = target;
        }
    };
    for (channel, &index) in layout.temperatures.iter().enumerate() {
        set(index, Target::Temperature(channel));
    }
    for (channel, &index) in layout.pressures.iter().enumerate() {
        set(index, Target::Pressure(channel));
    }
    if let Some(index) = layout.run {
        set(index, Target::Run);
    }
    if let Some(index) = layout.stage {
        set(index, Target::Stage);
    }
    if let Some(index) = layout.elapsed {
        set(index, Target::Elapsed);
    }
    if let Some(index) = layout.clock {
        set(index, Target::Clock);
    }
    targets
}

/// How the rows of a file are written.
struct PlainRow {
    separator: u8,
    decimal: u8,
    targets: Vec<Target>,
}

impl PlainRow {
    /// Reads the row that begins at `at` and gives where the next one begins;
    /// `None`, with nothing kept, where it is not plain.
    fn read(
        &self,
        reader: &mut RowReader,
        bytes: &[u8],
        at: usize,
        line: u64,
        date: &mut KnownDate,
    ) -> Option<usize> {
        let n_before = reader.rows.lines.len();
        let end =
            self.cells(reader, bytes, at, n_before, date).and_then(|end| past_line_end(bytes, end));
        match end {
            Some(_) => reader.rows.lines.push(line),
            None => undo(reader, n_before),
        }
        end
    }

    fn cells(
        &self,
        reader: &mut RowReader,
        bytes: &[u8],
        start: usize,
        n_rows: usize,
        date: &mut KnownDate,
    ) -> Option<usize> {
        let mut at = start;
        for (index, target) in self.targets.iter().enumerate() {
            if index > 0 {
                if bytes.get(at) != Some(&self.separator) {
                    return None;
                }
                at += 1;
            }
            let column = match *target {
                Target::Nowhere => {
                    at = skip(bytes, at, self.separator)?;
                    continue;
                }
                Target::Run => {
                    at = same_word(&reader.rows.parts, bytes, at, self.separator, n_rows)?;
                    continue;
                }
                Target::Stage => {
                    at = same_word(&reader.rows.stages, bytes, at, self.separator, n_rows)?;
                    continue;
                }
                Target::Clock => {
                    let (clock, end) = date.read(bytes, at, self.separator)?;
                    reader.rows.clocks.push(clock);
                    at = end;
                    continue;
                }
                Target::Elapsed => &mut reader.rows.elapsed,
                Target::Pressure(channel) => &mut reader.rows.pressures[channel],
                Target::Temperature(channel) => &mut reader.rows.temperatures[channel],
            };
            let (value, end) = number_at(bytes, at, self.separator, self.decimal)?;
            column.push(value);
            at = end;
        }
        Some(at)
    }
}

/// The start of the next line, if the line ends here.
fn past_line_end(bytes: &[u8], at: usize) -> Option<usize> {
    match bytes.get(at..)? {
        [] => Some(at),
        [b'\n', ..] => Some(at + 1),
        [b'\r', b'\n', ..] => Some(at + 2),
        _ => None,
    }
}

/// Drops what a row that is not plain has left behind.
fn undo(reader: &mut RowReader, n_rows: usize) {
    let rows = &mut reader.rows;
    rows.elapsed.truncate(n_rows);
    rows.clocks.truncate(n_rows);
    for column in rows.pressures.iter_mut().chain(&mut rows.temperatures) {
        column.truncate(n_rows);
    }
}

/// The end of a cell that is not wanted; quotes are left to the careful way,
/// and so are cells longer than any that a logger writes.
fn skip(bytes: &[u8], at: usize, separator: u8) -> Option<usize> {
    const LONGEST_CELL: usize = 1 << 10;
    let mut end = at;
    while let Some(&byte) = bytes.get(end) {
        if byte == separator || byte == b'\n' || byte == b'\r' {
            break;
        }
        if byte == b'"' || end - at > LONGEST_CELL {
            return None;
        }
        end += 1;
    }
    Some(end)
}

/// The name of a run or stage, if it is that of the row before; a new one is
/// left to the careful way.
fn same_word(
    words: &[(usize, String)],
    bytes: &[u8],
    at: usize,
    separator: u8,
    n_rows: usize,
) -> Option<usize> {
    let end = skip(bytes, at, separator)?;
    let (_, last) = words.last().filter(|_| n_rows > 0)?;
    (last.as_bytes() == &bytes[at..end]).then_some(end)
}

/// `2026-03-01T08:00:00.020` with the day of the last row remembered.
#[derive(Default)]
struct KnownDate {
    text: [u8; 10],
    day: Option<i64>,
}

impl KnownDate {
    fn read(&mut self, bytes: &[u8], at: usize, separator: u8) -> Option<(ClockReading, usize)> {
        let cell = bytes.get(at..)?;
        if cell.len() < 19
            || !matches!(cell[10], b'T' | b' ')
            || cell[13] != b':'
            || cell[16] != b':'
        {
            return None;
        }
        if self.day.is_none() || self.text != cell[..10] {
            self.day = iso_day(&cell[..10]);
            self.text.copy_from_slice(&cell[..10]);
        }
        let day = self.day?;
        let hour = two_digits(cell, 11).filter(|&hour| hour < 24)?;
        let minute = two_digits(cell, 14).filter(|&minute| minute < 60)?;
        if !cell[17].is_ascii_digit() {
            return None;
        }
        let (second, end) =
            number_at(bytes, at + 17, separator, b'.').filter(|&(second, _)| second < 61.0)?;
        let clock = ClockReading {
            day: Some(day),
            second_of_day: f64::from(hour * 3600 + minute * 60) + second,
            zone_s: None,
            ambiguous: false,
            order: Some(crate::delimited::DateOrder::YearMonthDay),
        };
        Some((clock, end))
    }
}

fn two_digits(bytes: &[u8], at: usize) -> Option<u32> {
    let tens = u32::from(bytes[at].wrapping_sub(b'0'));
    let ones = u32::from(bytes[at + 1].wrapping_sub(b'0'));
    (tens < 10 && ones < 10).then_some(tens * 10 + ones)
}

fn iso_day(text: &[u8]) -> Option<i64> {
    let text = core::str::from_utf8(text).ok().filter(|text| text.as_bytes()[4] == b'-')?;
    crate::delimited::read_clock(text, crate::delimited::ClockStyle::default())?.day
}
