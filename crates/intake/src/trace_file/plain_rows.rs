//! Rows of plain numbers, read straight from their bytes.
//!
//! This is the quick way for what nearly every row of a long file looks like.
//! Whatever is not plain is left where it is, to be read with every check;
//! both ways give the same numbers, which a test keeps.

use super::row_template::RowTemplate;
use super::rows::{RowReader, Rows};
use crate::delimited::{ClockReading, NumberShape, Records};

/// Where a column of a row goes.
#[derive(Debug, Clone, Copy)]
pub(super) enum Target {
    Nowhere,
    Elapsed,
    Clock,
    Run,
    Stage,
    Pressure(usize),
    Temperature(usize),
}

/// How the columns of a file are written, as learned from the rows so far.
#[derive(Debug, Default)]
pub(super) struct PlainRows {
    separator: u8,
    decimal: u8,
    targets: Vec<Target>,
    shapes: Vec<NumberShape>,
    date: KnownDate,
    run: KnownWord,
    stage: KnownWord,
    templates: Templates,
}

/// The shapes of whole rows seen last.
#[derive(Debug, Default)]
struct Templates {
    kept: Vec<RowTemplate>,
    /// The one that fitted last.
    current: usize,
    /// Rows read by templates, and templates made.
    n_rows: usize,
    n_made: usize,
}

/// Reads rows from the records until one is not plain or none is left.
pub(super) fn read(reader: &mut RowReader, records: &mut Records<'_>) {
    let mut plain = match reader.plain.take() {
        Some(plain) => plain,
        None => match PlainRows::of(reader) {
            Some(plain) => plain,
            None => return,
        },
    };
    let (text, first_line) = records.rest();
    let (n_bytes, n_rows) = plain.rows(&mut reader.rows, text.as_bytes());
    reader.rows.lines.extend(first_line, n_rows);
    records.advance(n_bytes, n_rows as u64);
    reader.plain = Some(plain);
}

impl PlainRows {
    /// `None` for a layout whose rows all need the careful way.
    fn of(reader: &RowReader) -> Option<Self> {
        let layout = &reader.layout;
        let separator = layout.separator.byte()?;
        let decimal = layout.style.decimal.character() as u8;
        // Tokens could be numbers, and thousands marks need their pattern.
        let is_plain = layout.style.thousands.is_none()
            && layout.missing.is_empty()
            && layout.over_range.is_empty()
            && decimal != separator;
        let targets = targets(reader);
        let shapes = vec![NumberShape::default(); targets.len()];
        is_plain.then(|| Self { separator, decimal, targets, shapes, ..Self::default() })
    }

    /// Reads rows until one is not plain; gives their bytes and their number.
    fn rows(&mut self, rows: &mut Rows, bytes: &[u8]) -> (usize, usize) {
        let n_before = rows.lines.len();
        // Both stay as they are here: a new word is left to the careful way.
        let word = |words: &[(usize, String)]| {
            words
                .last()
                .filter(|_| n_before > 0)
                .map(|(_, word)| KnownWord::of(word, self.separator))
                .unwrap_or_default()
        };
        let words = (word(&rows.parts), word(&rows.stages));
        if words != (core::mem::take(&mut self.run), core::mem::take(&mut self.stage)) {
            // They hold the words of before.
            self.templates.kept.clear();
        }
        (self.run, self.stage) = words;
        let (mut at, mut n_rows) = (0, 0);
        while at < bytes.len() {
            let (n_bytes, n_read) = self.rows_of_templates(rows, &bytes[at..]);
            at += n_bytes;
            n_rows += n_read;
            if at >= bytes.len() {
                break;
            }
            let end = self.row(rows, bytes, at);
            let Some(end) = end.and_then(|end| past_line_end(bytes, end)) else {
                rows.cut(n_before + n_rows);
                break;
            };
            self.learn(rows, &bytes[at..end]);
            at = end;
            n_rows += 1;
        }
        (at, n_rows)
    }

    /// Reads rows as long as a known template fits; gives their bytes and
    /// their number.
    fn rows_of_templates(&mut self, rows: &mut Rows, bytes: &[u8]) -> (usize, usize) {
        if self.templates.kept.is_empty() {
            return (0, 0);
        }
        // The columns in the order of their numbers, out of their places while
        // rows are read.
        let mut columns: Vec<Vec<f64>> = self
            .targets
            .iter()
            .filter_map(|target| Some(core::mem::take(target.column(rows)?)))
            .collect();
        let n_ahead = self.templates.rows_ahead(bytes.len());
        for column in &mut columns {
            column.reserve(n_ahead);
        }
        let (n_bytes, n_rows) = self.templates.read(bytes, &mut columns, &mut rows.clocks);
        for (target, column) in self.targets.iter().filter(|target| target.is_number()).zip(columns)
        {
            if let Some(place) = target.column(rows) {
                *place = column;
            }
        }
        (n_bytes, n_rows)
    }

    /// Keeps the shape of a row that no template fitted.
    fn learn(&mut self, rows: &Rows, row: &[u8]) {
        const MOST_TEMPLATES: usize = 4;
        let templates = &mut self.templates;
        // Where every row has a shape of its own, templates cost and give
        // nothing.
        if templates.n_made > 256 && templates.n_rows < templates.n_made {
            templates.kept.clear();
            return;
        }
        let clock = rows.clocks.last().copied();
        let Some(template) =
            RowTemplate::of(row, self.separator, self.decimal, &self.targets, clock)
        else {
            return;
        };
        templates.n_made += 1;
        if templates.kept.len() < MOST_TEMPLATES {
            templates.current = templates.kept.len();
            templates.kept.push(template);
        } else {
            templates.current = templates.n_made % MOST_TEMPLATES;
            templates.kept[templates.current] = template;
        }
    }

    /// The cells of the row that begins at `start`, and where they end; `None`
    /// where it is not plain.
    fn row(&mut self, rows: &mut Rows, bytes: &[u8], start: usize) -> Option<usize> {
        let (separator, decimal) = (self.separator, self.decimal);
        let mut at = start;
        for (index, (target, shape)) in self.targets.iter().zip(&mut self.shapes).enumerate() {
            if index > 0 {
                if *bytes.get(at)? != separator {
                    return None;
                }
                at += 1;
            }
            let column = match *target {
                Target::Pressure(channel) => rows.pressures.get_mut(channel)?,
                Target::Elapsed => &mut rows.elapsed,
                Target::Nowhere => {
                    at = match shape.end_of_alike(bytes, at, separator, decimal) {
                        Some(end) => end,
                        None => match shape.read(bytes, at, separator, decimal) {
                            Some((_, end)) => end,
                            None => skip(bytes, at, separator)?,
                        },
                    };
                    continue;
                }
                Target::Run => {
                    at = self.run.end(bytes, at, separator)?;
                    continue;
                }
                Target::Stage => {
                    at = self.stage.end(bytes, at, separator)?;
                    continue;
                }
                Target::Clock => {
                    let (clock, end) = self.date.read(bytes, at, separator, shape)?;
                    rows.clocks.push(clock);
                    at = end;
                    continue;
                }
                Target::Temperature(channel) => rows.temperatures.get_mut(channel)?,
            };
            let (value, end) = shape.read(bytes, at, separator, decimal)?;
            column.push(value);
            at = end;
        }
        Some(at)
    }
}

impl Templates {
    /// Rows for which room is made at once: what is left of a part.
    fn rows_ahead(&self, n_bytes: usize) -> usize {
        const MOST_ROWS: usize = 1 << 14;
        self.kept
            .get(self.current)
            .map_or(0, |template| (n_bytes / template.length()).min(MOST_ROWS))
    }

    fn read(
        &mut self,
        bytes: &[u8],
        columns: &mut [Vec<f64>],
        clocks: &mut Vec<ClockReading>,
    ) -> (usize, usize) {
        let (mut at, mut n_rows) = (0, 0);
        'rows: loop {
            let current = &self.kept[self.current];
            while let Some(length) = current.read(&bytes[at..], columns, clocks) {
                at += length;
                n_rows += 1;
            }
            for other in 0..self.kept.len() {
                if other != self.current
                    && let Some(length) = self.kept[other].read(&bytes[at..], columns, clocks)
                {
                    at += length;
                    n_rows += 1;
                    self.current = other;
                    continue 'rows;
                }
            }
            self.n_rows += n_rows;
            return (at, n_rows);
        }
    }
}

impl Target {
    const fn is_number(self) -> bool {
        matches!(self, Self::Elapsed | Self::Pressure(_) | Self::Temperature(_))
    }

    /// Where its numbers go.
    fn column(self, rows: &mut Rows) -> Option<&mut Vec<f64>> {
        match self {
            Self::Elapsed => Some(&mut rows.elapsed),
            Self::Pressure(channel) => rows.pressures.get_mut(channel),
            Self::Temperature(channel) => rows.temperatures.get_mut(channel),
            Self::Nowhere | Self::Clock | Self::Run | Self::Stage => None,
        }
    }
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

/// The start of the next line, if the line ends here.
#[inline(always)]
fn past_line_end(bytes: &[u8], at: usize) -> Option<usize> {
    match bytes.get(at..)? {
        [] => Some(at),
        [b'\n', ..] => Some(at + 1),
        [b'\r', b'\n', ..] => Some(at + 2),
        _ => None,
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

/// The name of a run or stage, as the row before has it.
#[derive(Debug, Default, PartialEq, Eq)]
struct KnownWord {
    /// Its bytes; `None` where every cell is left to the careful way.
    bytes: Option<Vec<u8>>,
    /// The word in the lowest bytes, where it has eight at most.
    low: u64,
    mask: u64,
}

impl KnownWord {
    fn of(word: &str, separator: u8) -> Self {
        let bytes = word.as_bytes();
        let ends_cell = |byte: &u8| matches!(byte, b'"' | b'\n' | b'\r') || *byte == separator;
        if bytes.iter().any(ends_cell) {
            return Self::default();
        }
        let mut eight = [0; 8];
        let (mut low, mut mask) = (0, 0);
        if !bytes.is_empty() && bytes.len() <= 8 {
            eight[..bytes.len()].copy_from_slice(bytes);
            low = u64::from_le_bytes(eight);
            mask = u64::MAX >> (64 - 8 * bytes.len());
        }
        Self { bytes: Some(bytes.to_vec()), low, mask }
    }

    /// The end of the cell at `at`, if it holds this word and nothing else.
    #[inline(always)]
    fn end(&self, bytes: &[u8], at: usize, separator: u8) -> Option<usize> {
        let word = self.bytes.as_deref()?;
        let cell = bytes.get(at..)?;
        let is_same = match cell.first_chunk::<8>().filter(|_| self.mask != 0) {
            Some(eight) => u64::from_le_bytes(*eight) & self.mask == self.low,
            None => cell.starts_with(word),
        };
        let ends = match cell.get(word.len()) {
            None => true,
            Some(&byte) => byte == separator || byte == b'\n' || byte == b'\r',
        };
        (is_same && ends).then_some(at + word.len())
    }
}

/// `2026-03-01T08:00:00.020` with the day of the last row remembered.
#[derive(Debug, Default)]
struct KnownDate {
    text: [u8; 10],
    day: Option<i64>,
}

impl KnownDate {
    #[inline(always)]
    fn read(
        &mut self,
        bytes: &[u8],
        at: usize,
        separator: u8,
        seconds: &mut NumberShape,
    ) -> Option<(ClockReading, usize)> {
        let cell: &[u8; 19] = bytes.get(at..)?.first_chunk()?;
        if !matches!(cell[10], b'T' | b' ') || cell[13] != b':' || cell[16] != b':' {
            return None;
        }
        if self.day.is_none() || self.text != cell[..10] {
            self.day = iso_day(&cell[..10]);
            self.text.copy_from_slice(&cell[..10]);
        }
        let day = self.day?;
        let hour = two_digits(cell[11], cell[12]).filter(|&hour| hour < 24)?;
        let minute = two_digits(cell[14], cell[15]).filter(|&minute| minute < 60)?;
        if !cell[17].is_ascii_digit() {
            return None;
        }
        let (second, end) =
            seconds.read(bytes, at + 17, separator, b'.').filter(|&(second, _)| second < 61.0)?;
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

#[inline(always)]
fn two_digits(tens: u8, ones: u8) -> Option<i32> {
    let (tens, ones) = (i32::from(tens.wrapping_sub(b'0')), i32::from(ones.wrapping_sub(b'0')));
    (tens < 10 && ones < 10).then_some(tens * 10 + ones)
}

fn iso_day(text: &[u8]) -> Option<i64> {
    let text = core::str::from_utf8(text).ok().filter(|text| text.as_bytes()[4] == b'-')?;
    crate::delimited::read_clock(text, crate::delimited::ClockStyle::default())?.day
}
