//! Files too long to be held: bytes go in piece by piece, samples come out,
//! and nothing of either is kept.

use super::plain_rows;
use super::propose::{Reading, TimeSource, resolve};
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
}

impl TraceStream {
    /// A stream that reads by a plan.
    #[must_use]
    pub fn new(plan: &ReadingPlan) -> Self {
        Self { plan: plan.clone(), waiting: Vec::new(), active: None }
    }

    /// Takes the next bytes and gives the samples that are complete.
    ///
    /// # Errors
    /// Refuses what [`read_traces`](super::read_traces) refuses. After a
    /// refusal the stream gives nothing more.
    pub fn push(&mut self, bytes: &[u8]) -> Result<Vec<SampleBlock>, Refusal> {
        self.waiting.extend_from_slice(bytes);
        if self.active.is_none() && self.waiting.len() < FIRST_BYTES {
            return Ok(Vec::new());
        }
        let Some(end) = self.waiting.iter().rposition(|&byte| byte == b'\n') else {
            if self.waiting.len() > LONGEST_LINE {
                return Err(Message::refused(
                    codes::TOO_LARGE,
                    format!("A line is longer than {LONGEST_LINE} bytes"),
                )
                .done("Reading was stopped.")
                .next("Check that this is the right file.")
                .into());
            }
            return Ok(Vec::new());
        };
        let rest = self.waiting.split_off(end + 1);
        let lines = core::mem::replace(&mut self.waiting, rest);
        self.lines(&lines)
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
            let text = core::str::from_utf8(bytes).map_err(|_| not_utf_8())?;
            return active.read(Records::from(text, 0, active.line));
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
    clock: Clock,
    /// Lines that are no data: a trailer, unless data follow.
    pending: Vec<(u64, String)>,
    line: u64,
    n_rows: u64,
    run: Option<String>,
    messages: Vec<Message>,
}

impl Active {
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
            let times = self.clock.seconds(rows, *first..end)?;
            let mut channels = Vec::with_capacity(self.reading.pressures.len());
            for (number, channel) in self.reading.pressures.iter().enumerate() {
                let plan = &channel.plan;
                let factor = plan.unit.factor * plan.scale;
                let offset_pa = if plan.gauge { self.reading.barometer_pa } else { 0.0 };
                let mut block =
                    ChannelBlock { name: plan.column.clone(), ..ChannelBlock::default() };
                for (row, time) in (*first..end).zip(&times) {
                    let value = rows.pressures[number][row];
                    if value.is_nan() {
                        continue;
                    }
                    let pressure_pa = value * factor + offset_pa;
                    if pressure_pa < 0.0 {
                        return Err(Message::refused(codes::IMPOSSIBLE_PRESSURE, format!("{} falls to {value}, below perfect vacuum", quoted(&plan.column)))
                            .at_line(rows.lines[row])
                            .in_column(channel.index as u64 + 1, &plan.column)
                            .done("Reading was stopped.")
                            .next("Declare the value as missing, or state gauge = true and the barometer in the reading plan.")
                            .into());
                    }
                    block.times_s.push(*time);
                    block.pressures_pa.push(pressure_pa);
                }
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
        let mut seconds = Vec::with_capacity(range.len());
        for row in range {
            let second = match &self.source {
                TimeSource::Elapsed { unit, .. } => {
                    let value = rows.elapsed[row];
                    // Seconds of an epoch count from the first sample.
                    let origin =
                        *self.origin.get_or_insert(if (value * unit.factor).abs() < 1.0e8 {
                            0.0
                        } else {
                            value
                        });
                    (value - origin) * unit.factor
                }
                TimeSource::Clock { order, .. } => {
                    let clock = &rows.clocks[row];
                    if clock.ambiguous && order.is_none() {
                        return Err(fault(
                            codes::AMBIGUOUS_DATE,
                            "Day and month cannot be told apart in the dates",
                            "State the order of the date in the reading plan.",
                            rows.lines[row],
                        ));
                    }
                    clock.seconds_since(self.first.get_or_insert(*clock))
                }
                TimeSource::Rate { samples_per_s } => self.n_in_run as f64 / samples_per_s,
                TimeSource::FramingLines => 0.0,
            };
            if second < self.last_s {
                return Err(fault(
                    codes::BACKWARD_TIME,
                    &format!("Time runs backward, from {} s to {second} s", self.last_s),
                    "Name the column that tells the runs apart: run = \"...\" in the reading plan.",
                    rows.lines[row],
                ));
            }
            self.last_s = second;
            self.n_in_run += 1;
            seconds.push(second);
        }
        Ok(seconds)
    }
}

fn fault(code: &'static str, what: &str, next: &str, line: u64) -> Refusal {
    Message::refused(code, what).at_line(line).done("Reading was stopped.").next(next).into()
}
