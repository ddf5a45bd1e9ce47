//! Files too long to be held: bytes go in piece by piece, samples come out,
//! and nothing of either is kept.

use super::plain_rows;
use super::propose::{Reading, TimeSource, resolve};
use super::row_parts;
use super::rows::{RowLayout, RowReader, Rows};
use crate::codes;
use crate::delimited::{ClockReading, Record, Records, Shape, decode, read_delimited};
use crate::message::{Message, Refusal, quoted};
use crate::reading_plan::ReadingPlan;

/// Bytes by which the layout is decided: 256 KiB.
const FIRST_BYTES: usize = 1 << 18;
/// Lines that may stand after the data before they count as faults of it.
const LONGEST_TRAILER: usize = 64;
/// A longest line, as in files that are read whole.
const LONGEST_LINE: usize = crate::delimited::LONGEST_LINE_BYTES;

/// Samples of one pressure channel.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct ChannelBlock {
    /// Name of the column.
    pub name: String,
    /// Times, seconds.
    pub times_s: Vec<f64>,
    /// Pressures, Pa.
    pub pressures_pa: Vec<f64>,
}

/// Samples of one run that came with one piece of the file.
#[derive(Debug, Clone, PartialEq)]
pub struct SampleBlock {
    /// Name of the run; empty in a file of one run.
    pub run: String,
    /// True where the run begins with this block.
    pub begins: bool,
    /// One block for each pressure channel.
    pub channels: Vec<ChannelBlock>,
}

/// What is known once the last byte has come.
#[derive(Debug, Clone, PartialEq)]
pub struct StreamEnd {
    /// The last samples.
    pub blocks: Vec<SampleBlock>,
    /// Rows of data in the whole file.
    pub n_rows: u64,
    /// What was noticed.
    pub messages: Vec<Message>,
}

/// Reads a file piece by piece in flat memory.
///
/// The layout is decided by the first 256 KiB. UTF-8 only; clock times need
/// an order where day and month could be swapped; the times of framing lines
/// come too late and are refused. Whoever wants to stop stops pushing.
///
/// # Example
/// ```
/// use intake::trace_file::TraceStream;
/// let mut stream = TraceStream::new(&Default::default());
/// let mut n = 0;
/// for piece in ["time_s,p [Pa]\n0,1", "5\n1,16\n2,", "17\n"] {
///     n += stream.push(piece.as_bytes())?.iter().map(|block| block.channels[0].times_s.len()).sum::<usize>();
/// }
/// let end = stream.finish()?;
/// n += end.blocks.iter().map(|block| block.channels[0].times_s.len()).sum::<usize>();
/// assert_eq!((n, end.n_rows), (3, 3));
/// # Ok::<(), intake::Refusal>(())
/// ```
#[derive(Debug)]
pub struct TraceStream {
    plan: ReadingPlan,
    waiting: Vec<u8>,
    active: Option<Active>,
    part_bytes: usize,
}

impl TraceStream {
    /// A stream that reads by a plan.
    #[must_use]
    pub fn new(plan: &ReadingPlan) -> Self {
        Self::in_parts(plan, row_parts::PART_BYTES)
    }

    /// A stream that takes its pieces apart at about every `part_bytes`
    /// bytes: what comes out does not depend on it, only how many threads
    /// find work.
    #[must_use]
    pub fn in_parts(plan: &ReadingPlan, part_bytes: usize) -> Self {
        Self { plan: plan.clone(), waiting: Vec::new(), active: None, part_bytes }
    }

    /// Takes the next bytes and gives the samples that are complete.
    ///
    /// # Errors
    /// Refuses what [`read_traces`](super::read_traces) refuses. After a
    /// refusal the stream gives nothing more.
    pub fn push(&mut self, bytes: &[u8]) -> Result<Vec<SampleBlock>, Refusal> {
        if self.active.is_none() {
            self.waiting.extend_from_slice(bytes);
            if self.waiting.len() < FIRST_BYTES {
                return Ok(Vec::new());
            }
            let Some(end) = last_feed(&self.waiting) else { return self.wait() };
            let rest = self.waiting.split_off(end);
            let lines = core::mem::replace(&mut self.waiting, rest);
            return self.lines(&lines);
        }
        // The line that waits for its end is completed; the others are read
        // where they are.
        let Some(end) = last_feed(bytes) else {
            self.waiting.extend_from_slice(bytes);
            return self.wait();
        };
        let (lines, rest) = bytes.split_at(end);
        let first = match lines.iter().position(|&byte| byte == b'\n') {
            Some(feed) if !self.waiting.is_empty() => feed + 1,
            _ => 0,
        };
        let mut blocks = Vec::new();
        if first > 0 {
            self.waiting.extend_from_slice(&lines[..first]);
            let waiting = core::mem::take(&mut self.waiting);
            blocks = self.lines(&waiting)?;
        }
        blocks.extend(self.lines(&lines[first..])?);
        self.waiting.extend_from_slice(rest);
        Ok(blocks)
    }

    /// Nothing yet, unless the line is longer than any.
    fn wait(&self) -> Result<Vec<SampleBlock>, Refusal> {
        if self.waiting.len() <= LONGEST_LINE {
            return Ok(Vec::new());
        }
        Err(Message::refused(
            codes::TOO_LARGE,
            format!("A line is longer than {LONGEST_LINE} bytes"),
        )
        .done("Reading was stopped.")
        .next("Check that this is the right file.")
        .into())
    }

    /// Takes the end of the file.
    ///
    /// # Errors
    /// As [`push`](Self::push), and where the file holds no data.
    pub fn finish(mut self) -> Result<StreamEnd, Refusal> {
        let last = core::mem::take(&mut self.waiting);
        let is_cut = !last.is_empty() && !last.ends_with(b"\n");
        let blocks =
            if last.is_empty() && self.active.is_some() { Vec::new() } else { self.lines(&last)? };
        let Some(active) = self.active else {
            return Err(Message::refused(codes::TOO_SHORT, "The file is empty")
                .done("Nothing was read.")
                .next("Check that the export finished.")
                .into());
        };
        let mut messages = active.messages;
        messages.extend(active.reader.notes());
        if let Some((line, first)) = active.pending.first() {
            messages.push(
                Message::remark(
                    codes::TRAILER,
                    format!(
                        "{} lines stand after the data, the first {}",
                        active.pending.len(),
                        quoted(first)
                    ),
                )
                .at_line(*line)
                .done("They were not read as samples."),
            );
        }
        if is_cut {
            messages.push(
                Message::remark(
                    codes::TRUNCATED,
                    "The last line has no line end, so that its last value could be cut",
                )
                .done("The line was read as it stands."),
            );
        }
        Ok(StreamEnd { blocks, n_rows: active.n_rows, messages })
    }

    /// Reads whole lines.
    fn lines(&mut self, bytes: &[u8]) -> Result<Vec<SampleBlock>, Refusal> {
        if let Some(active) = &mut self.active {
            return active.pieces(bytes);
        }
        let decoded = decode(bytes, self.plan.encoding)?;
        if decoded.encoding != crate::delimited::TextEncoding::Utf8 {
            return Err(not_utf_8());
        }
        let file = read_delimited(&decoded.text, &self.plan.given())?;
        let reading = resolve(&file, &self.plan)?;
        if reading.time == TimeSource::FramingLines {
            return Err(Message::refused(
                codes::NO_TIME,
                "The time after the data comes too late in a file that is read piece by piece",
            )
            .done("Nothing was read.")
            .next("State time = { rate = 10 } (samples per second) in the reading plan.")
            .into());
        }
        let mut messages = decoded.messages.clone();
        // What follows the first piece is not the end of the file.
        messages.extend(
            file.messages
                .iter()
                .filter(|m| m.code != codes::TRAILER && m.code != codes::TRUNCATED)
                .cloned(),
        );
        messages.extend(reading.messages.iter().cloned());
        let layout = RowLayout::of(&file, &reading, &self.plan);
        let mut active = Active {
            reader: RowReader::new(layout),
            clock: Clock::of(&reading),
            reading,
            shape: file.shape.clone(),
            part_bytes: self.part_bytes,
            pending: Vec::new(),
            line: file.first_data_line(),
            n_rows: 0,
            run: None,
            messages,
        };
        let blocks = active.read(file.rows_and_rest());
        self.active = Some(active);
        blocks
    }
}

/// One past the last line end.
fn last_feed(bytes: &[u8]) -> Option<usize> {
    bytes.iter().rposition(|&byte| byte == b'\n').map(|feed| feed + 1)
}

fn not_utf_8() -> Refusal {
    Message::refused(codes::INVALID_UTF_8, "A file that is read piece by piece must be UTF-8")
        .done("Reading was stopped.")
        .next("Save the file as UTF-8.")
        .into()
}

/// The state between two pieces.
#[derive(Debug)]
struct Active {
    reader: RowReader,
    reading: Reading,
    shape: Shape,
    part_bytes: usize,
    clock: Clock,
    /// Lines that are no data: a trailer, unless data follow.
    pending: Vec<(u64, String)>,
    line: u64,
    n_rows: u64,
    run: Option<String>,
    messages: Vec<Message>,
}

impl Active {
    /// Reads whole lines, in parts side by side where they are many.
    fn pieces(&mut self, bytes: &[u8]) -> Result<Vec<SampleBlock>, Refusal> {
        let mut blocks = Vec::new();
        let mut rest = bytes;
        let pieces = row_parts::split_at_lines(bytes, self.part_bytes);
        // Lines that are no data become faults of data that follow them.
        if pieces.len() > 1 && self.pending.is_empty() {
            let parts = row_parts::read_pieces(&pieces, &self.reader.layout, &self.shape);
            for (piece, part) in pieces.iter().zip(parts) {
                let Some(part) = part else { break };
                self.reader.append(part.reader, self.line - 1);
                self.line += part.n_lines;
                rest = &rest[piece.len()..];
                blocks.extend(self.take()?);
            }
        }
        if !rest.is_empty() {
            let text = core::str::from_utf8(rest).map_err(|_| not_utf_8())?;
            blocks.extend(self.read(Records::from(text, 0, self.line))?);
        }
        Ok(blocks)
    }

    fn read(&mut self, mut records: Records<'_>) -> Result<Vec<SampleBlock>, Refusal> {
        loop {
            if self.pending.is_empty() {
                plain_rows::read(&mut self.reader, &mut records);
            }
            let Some(record) = records.next() else { break };
            let record = record?;
            if record.is_blank()
                || self.shape.is_data_row(&record)
                || self.reader.layout.is_header(&record)
            {
                if !record.is_blank() {
                    self.read_pending();
                }
                self.reader.record(&record);
            } else {
                self.pending.push((record.line, record.text.to_owned()));
                if self.pending.len() > LONGEST_TRAILER {
                    self.read_pending();
                }
            }
            if self.reader.has_given_up() {
                break;
            }
        }
        self.line = records.rest().1;
        self.take()
    }

    /// The samples of the rows read so far.
    fn take(&mut self) -> Result<Vec<SampleBlock>, Refusal> {
        let rows = self.reader.take()?;
        self.n_rows += rows.lines.len() as u64;
        self.blocks(&rows)
    }

    /// Lines within the data are faults of it.
    fn read_pending(&mut self) {
        for (line, text) in core::mem::take(&mut self.pending) {
            self.reader.record(&Record { line, byte: 0, text: &text });
        }
    }

    fn blocks(&mut self, rows: &Rows) -> Result<Vec<SampleBlock>, Refusal> {
        let n_rows = rows.lines.len();
        let mut parts = rows.parts.clone();
        if parts.first().is_none_or(|(first, _)| *first > 0) {
            parts.insert(0, (0, self.run.clone().unwrap_or_default()));
        }
        let mut blocks = Vec::new();
        for (number, (first, name)) in parts.iter().enumerate() {
            let end = parts.get(number + 1).map_or(n_rows, |(next, _)| *next);
            if *first == end {
                continue;
            }
            let begins = self.run.as_ref() != Some(name);
            if begins {
                self.run = Some(name.clone());
                self.clock.begin_run();
            }
            let mut times = self.clock.seconds(rows, *first..end)?;
            let mut channels = Vec::with_capacity(self.reading.pressures.len());
            for (number, channel) in self.reading.pressures.iter().enumerate() {
                let plan = &channel.plan;
                let factor = plan.unit.factor * plan.scale;
                let offset_pa = if plan.gauge { self.reading.barometer_pa } else { 0.0 };
                let values = &rows.pressures[number][*first..end];
                let pressures_pa: Vec<f64> =
                    values.iter().map(|value| value * factor + offset_pa).collect();
                if let Some(place) = pressures_pa.iter().position(|&pressure| pressure < 0.0) {
                    let value = values[place];
                    return Err(Message::refused(codes::IMPOSSIBLE_PRESSURE, format!("{} falls to {value}, below perfect vacuum", quoted(&plan.column)))
                        .at_line(rows.lines.of(first + place))
                        .in_column(channel.index as u64 + 1, &plan.column)
                        .done("Reading was stopped.")
                        .next("Declare the value as missing, or state gauge = true and the barometer in the reading plan.")
                        .into());
                }
                let has_missing = values.iter().any(|value| value.is_nan());
                let is_last = number + 1 == self.reading.pressures.len();
                let (times_s, pressures_pa) = if has_missing {
                    times.iter().zip(pressures_pa).filter(|(_, value)| !value.is_nan()).unzip()
                } else if is_last {
                    (core::mem::take(&mut times), pressures_pa)
                } else {
                    (times.clone(), pressures_pa)
                };
                let block = ChannelBlock { name: plan.column.clone(), times_s, pressures_pa };
                channels.push(block);
            }
            blocks.push(SampleBlock { run: name.clone(), begins, channels });
        }
        Ok(blocks)
    }
}

/// Turns rows into seconds and keeps what the next piece needs.
#[derive(Debug)]
struct Clock {
    source: TimeSource,
    first: Option<ClockReading>,
    origin: Option<f64>,
    n_in_run: u64,
    last_s: f64,
}

impl Clock {
    fn of(reading: &Reading) -> Self {
        Self {
            source: reading.time.clone(),
            first: None,
            origin: None,
            n_in_run: 0,
            last_s: f64::NEG_INFINITY,
        }
    }

    fn begin_run(&mut self) {
        self.first = None;
        self.origin = None;
        self.n_in_run = 0;
        self.last_s = f64::NEG_INFINITY;
    }

    fn seconds(
        &mut self,
        rows: &Rows,
        range: core::ops::Range<usize>,
    ) -> Result<Vec<f64>, Refusal> {
        if let TimeSource::Elapsed { unit, .. } = &self.source
            && let Some(&first) = rows.elapsed.get(range.start)
        {
            // Seconds of an epoch count from the first sample.
            let is_epoch = (first * unit.factor).abs() >= 1.0e8;
            let origin = *self.origin.get_or_insert(if is_epoch { first } else { 0.0 });
            let seconds: Vec<f64> = rows.elapsed[range.clone()]
                .iter()
                .map(|value| (value - origin) * unit.factor)
                .collect();
            let mut last_s = self.last_s;
            for (place, &second) in seconds.iter().enumerate() {
                if second < last_s {
                    return Err(backward(last_s, second, rows.lines.of(range.start + place)));
                }
                last_s = second;
            }
            self.last_s = last_s;
            return Ok(seconds);
        }
        let mut seconds = Vec::with_capacity(range.len());
        for row in range {
            let second = match &self.source {
                TimeSource::Clock { order, .. } => {
                    let clock = &rows.clocks[row];
                    if clock.ambiguous && order.is_none() {
                        return Err(fault(
                            codes::AMBIGUOUS_DATE,
                            "Day and month cannot be told apart in the dates",
                            "State the order of the date in the reading plan.",
                            rows.lines.of(row),
                        ));
                    }
                    clock.seconds_since(self.first.get_or_insert(*clock))
                }
                TimeSource::Rate { samples_per_s } => self.n_in_run as f64 / samples_per_s,
                TimeSource::Elapsed { .. } | TimeSource::FramingLines => 0.0,
            };
            if second < self.last_s {
                return Err(backward(self.last_s, second, rows.lines.of(row)));
            }
            self.last_s = second;
            self.n_in_run += 1;
            seconds.push(second);
        }
        Ok(seconds)
    }
}

fn backward(before: f64, now: f64, line: u64) -> Refusal {
    fault(
        codes::BACKWARD_TIME,
        &format!("Time runs backward, from {before} s to {now} s"),
        "Name the column that tells the runs apart: run = \"...\" in the reading plan.",
        line,
    )
}

fn fault(code: &'static str, what: &str, next: &str, line: u64) -> Refusal {
    Message::refused(code, what).at_line(line).done("Reading was stopped.").next(next).into()
}
