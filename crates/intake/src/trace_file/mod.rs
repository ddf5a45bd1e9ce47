//! Traces from the files of loggers.
//!
//! A reading is proposed from the file and from what the user has said in a
//! [`ReadingPlan`]; it is carried out only where nothing is left to guess.
//! The samples are never changed: what looks wrong is said, and marked.

mod channels;
mod checks;
mod intervals;
mod plain_rows;
mod propose;
mod row_lines;
mod row_parts;
mod row_template;
mod rows;
mod second_time;
mod stages;
mod stream;
mod times;

use study::PressureTrace;

use crate::delimited::{ClockReading, decode, read_delimited};
use crate::message::{Message, Refusal};
use crate::reading_plan::ReadingPlan;

pub use propose::propose_reading;
pub use row_lines::RowLines;
pub use stream::{ChannelBlock, SampleBlock, StreamEnd, TraceStream};

/// One pressure channel of a file as a trace.
#[derive(Debug, Clone, PartialEq)]
pub struct ImportedTrace {
    /// Name of its column.
    pub name: String,
    /// The samples; stages are not known yet.
    pub trace: PressureTrace,
    /// Clock time of the first sample, where the file has one.
    pub start: Option<ClockReading>,
    /// Name of the run in a file that holds several; empty elsewhere.
    pub run: String,
    /// Samples that the gauge could not read because they were beyond its
    /// range: a trace that has any is no sign of a tight unit.
    pub n_over_range: usize,
    /// Index of the first sample of a block at the end in which the gauge
    /// stands at atmosphere: the test is over there.
    pub vented_from: Option<usize>,
    /// What was noticed on this channel.
    pub messages: Vec<Message>,
    /// The line of each sample; of none where the file was read piece by piece.
    pub lines: RowLines,
    /// Its column in the file, counted from 1; 0 where it is not known.
    pub column: u64,
    /// The column of clock times, counted from 1, with its name.
    pub clock_column: Option<(u64, String)>,
}

impl ImportedTrace {
    /// The trace without the block at its end in which the chamber is vented.
    #[must_use]
    pub fn without_vented_end(&self) -> PressureTrace {
        let n = self.vented_from.unwrap_or(self.trace.times_s.len());
        let cut = |values: &[f64]| values[..n.min(values.len())].to_vec();
        PressureTrace {
            times_s: cut(&self.trace.times_s),
            pressures_pa: cut(&self.trace.pressures_pa),
            temperatures_k: cut(&self.trace.temperatures_k),
            stages: self.trace.stages.clone(),
        }
    }
}

/// What came out of a file.
#[derive(Debug, Clone, PartialEq)]
pub struct TraceFile {
    /// One trace for each pressure channel and run.
    pub traces: Vec<ImportedTrace>,
    /// The plan with every choice filled in.
    pub plan: ReadingPlan,
    /// What was noticed on the file as a whole.
    pub messages: Vec<Message>,
}

/// Reads the traces of a file.
///
/// # Errors
/// Refuses what is not text, what leaves a choice open (separator, decimal
/// mark, unit, gauge or absolute, day or month), cells that are no numbers and
/// no declared tokens, rows of another length, times that run backward, and
/// pressures below perfect vacuum. Every refusal carries its code, line and
/// column, and what to state in the plan.
///
/// # Example
/// ```
/// use intake::reading_plan::ReadingPlan;
/// use intake::trace_file::read_traces;
/// let text = b"time_s,p [mbar]\n0,1.5\n1,1.625\n2,1.75\n";
/// let file = read_traces(text, &ReadingPlan::default())?;
/// assert_eq!(file.traces[0].trace.times_s, [0.0, 1.0, 2.0]);
/// assert_eq!(file.traces[0].trace.pressures_pa, [150.0, 162.5, 175.0]);
/// # Ok::<(), intake::Refusal>(())
/// ```
pub fn read_traces(bytes: &[u8], plan: &ReadingPlan) -> Result<TraceFile, Refusal> {
    read_traces_in_parts(bytes, plan, row_parts::PART_BYTES)
}

/// [`read_traces`] with the rows read side by side in parts of about
/// `part_bytes` bytes. What comes out, refusals and their places among it,
/// depends neither on that length nor on the number of threads.
///
/// # Errors
/// As [`read_traces`].
pub fn read_traces_in_parts(
    bytes: &[u8],
    plan: &ReadingPlan,
    part_bytes: usize,
) -> Result<TraceFile, Refusal> {
    let decoded = decode(bytes, plan.encoding)?;
    let mut messages = decoded.messages.clone();
    let file = read_delimited(&decoded.text, &plan.given())
        .map_err(|refusal| refusal.after(messages.clone()))?;
    messages.extend(file.messages.iter().cloned());
    let reading =
        propose::resolve(&file, plan).map_err(|refusal| refusal.after(messages.clone()))?;
    messages.extend(reading.messages.iter().cloned());
    let rows = rows::read_rows(&file, &reading, plan, part_bytes)
        .map_err(|refusal| refusal.after(messages.clone()))?;
    messages.extend(rows.messages.iter().cloned());
    let times = times::sample_times(&file, &reading, &rows, plan)
        .map_err(|refusal| refusal.after(messages.clone()))?;
    messages.extend(times.messages.iter().cloned());
    let traces = channels::traces(&reading, &rows, &times, plan)
        .map_err(|refusal| refusal.after(messages.clone()))?;
    let plan = ReadingPlan {
        name: plan.name.clone(),
        encoding: Some(decoded.encoding),
        separator: Some(file.separator),
        style: Some(file.style),
        missing: plan.missing.clone(),
        over_range: plan.over_range.clone(),
        run: plan.run.clone(),
        stage: plan.stage.clone(),
        time: Some(reading.time.plan()),
        pressures: reading.pressures.iter().map(|channel| channel.plan.clone()).collect(),
        temperatures: reading.temperatures.iter().map(|channel| channel.plan.clone()).collect(),
        barometer: plan.barometer,
        split_at_restart: plan.split_at_restart,
    };
    Ok(TraceFile { traces, plan, messages })
}

/// Fewest samples that make a trace: two give a slope and none to check it.
pub const FEWEST_SAMPLES: usize = 3;
