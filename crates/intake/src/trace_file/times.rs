//! Sample times in seconds: from a column of elapsed time, from clock times,
//! from a rate, or from the lines around the data.

use super::intervals;
use super::propose::{Reading, TimeSource, no_time};
use super::row_lines::RowLines;
use super::rows::Rows;
use crate::codes;
use crate::delimited::{ClockReading, ClockStyle, DateOrder, DelimitedText, Record, read_clock};
use crate::message::{Message, Refusal, quoted};
use crate::reading_plan::ReadingPlan;

/// Times beyond this are seconds of an epoch and not of a run: three years.
const LONGEST_ELAPSED_S: f64 = 1.0e8;

/// A run within a file.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct RunSpan {
    /// Its first row.
    pub(super) first: usize,
    /// Its name; empty where the file holds one run.
    pub(super) name: String,
    /// Clock time of its first row.
    pub(super) start: Option<ClockReading>,
}

/// The times of a file.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Times {
    /// Seconds, one for each row.
    pub(super) seconds: Vec<f64>,
    /// The runs, in order.
    pub(super) runs: Vec<RunSpan>,
    /// What was noticed.
    pub(super) messages: Vec<Message>,
}

/// The column from which times come, for messages.
pub(super) struct TimeColumn<'a> {
    pub(super) index: usize,
    pub(super) name: &'a str,
    pub(super) lines: &'a RowLines,
}

impl TimeColumn<'_> {
    pub(super) fn at(&self, message: Message, row: usize) -> Message {
        message.at_line(self.lines.of(row)).in_column(self.index as u64 + 1, self.name)
    }
}

/// Turns the time column, the rate or the framing lines into seconds.
pub(super) fn sample_times(
    file: &DelimitedText<'_>,
    reading: &Reading,
    rows: &Rows,
    plan: &ReadingPlan,
) -> Result<Times, Refusal> {
    let mut messages = Vec::new();
    let parts = parts_of(rows)?;
    let n_rows = rows.lines.len();
    let part_of = |row: usize| parts.partition_point(|(first, _)| *first <= row) - 1;
    let evenly = |step_s: f64| {
        (0..n_rows).map(|row| (row - parts[part_of(row)].0) as f64 * step_s).collect()
    };
    let index = reading.time.index().unwrap_or(0);
    let column = TimeColumn { index, name: &file.names[index], lines: &rows.lines };
    let mut start_of_file = None;
    let mut seconds: Vec<f64> = match &reading.time {
        TimeSource::Elapsed { unit, .. } => {
            elapsed_seconds(&rows.elapsed, unit.factor, &column, &mut messages)?
        }
        TimeSource::Clock { order, .. } => {
            refuse_ambiguous_dates(rows, &column, order.is_some())?;
            clock_seconds(&rows.clocks, &column, &mut messages)?
        }
        TimeSource::Rate { samples_per_s } => evenly(1.0 / samples_per_s),
        TimeSource::FramingLines => {
            let (step_s, start, message) = framed_step(file, n_rows, plan)?;
            messages.push(message);
            start_of_file = Some(start);
            evenly(step_s)
        }
    };
    let is_clock = !rows.clocks.is_empty();
    if is_clock {
        intervals::undo_clock_change(&mut seconds, &rows.clocks, &column, &mut messages);
    }
    let mut runs =
        intervals::runs_of(&seconds, &parts, &column, plan.split_at_restart, &mut messages)?;
    for run in &mut runs {
        run.start = if is_clock { rows.clocks.get(run.first).copied() } else { start_of_file };
    }
    if is_clock {
        count_from_start_of_run(&mut seconds, &runs);
    }
    if reading.time.index().is_some() {
        intervals::note_intervals(&seconds, &runs, &column, &mut messages);
    }
    Ok(Times { seconds, runs, messages })
}

/// The parts that the rows themselves name; one without a name elsewhere.
fn parts_of(rows: &Rows) -> Result<Vec<(usize, String)>, Refusal> {
    if rows.parts.is_empty() {
        return Ok(vec![(0, String::new())]);
    }
    let mut seen = std::collections::BTreeSet::new();
    for (first, name) in &rows.parts {
        if !name.is_empty() && !seen.insert(name) {
            return Err(Message::refused(
                codes::SEVERAL_TRACES,
                format!("The run {} begins a second time", quoted(name)),
            )
            .at_line(rows.lines.of(*first))
            .done("Nothing was read.")
            .next("Sort the rows by run, or give every run a name of its own.")
            .into());
        }
    }
    Ok(rows.parts.clone())
}

fn elapsed_seconds(
    elapsed: &[f64],
    factor: f64,
    column: &TimeColumn<'_>,
    messages: &mut Vec<Message>,
) -> Result<Vec<f64>, Refusal> {
    let origin = elapsed.first().copied().unwrap_or(0.0);
    if origin.abs() * factor < LONGEST_ELAPSED_S {
        return Ok(elapsed.iter().map(|time| time * factor).collect());
    }
    // Stored with 24 bits, seconds of the epoch move in steps of 64 or more.
    let coarse = elapsed.windows(2).all(|pair| (pair[1] - pair[0]) * factor % 64.0 == 0.0);
    if coarse && elapsed.len() > 4 {
        return Err(column
            .at(
                Message::refused(codes::COARSE_EPOCH, "Epoch times move in steps of 64 s or more: they were stored with too few digits")
                    .done("Nothing was read.")
                    .next("Export the times again with all their digits, or state time = { rate = ... } in the reading plan."),
                0,
            )
            .into());
    }
    messages.push(
        Message::remark(codes::ELAPSED_TIME, "The times are seconds of an epoch")
            .done("The first of them was subtracted from all."),
    );
    Ok(elapsed.iter().map(|time| (time - origin) * factor).collect())
}

fn clock_seconds(
    clocks: &[ClockReading],
    column: &TimeColumn<'_>,
    messages: &mut Vec<Message>,
) -> Result<Vec<f64>, Refusal> {
    let Some(first) = clocks.first() else { return Ok(Vec::new()) };
    if let Some(row) =
        clocks.iter().position(|clock| clock.zone_s.is_some() != first.zone_s.is_some())
    {
        return Err(column
            .at(
                Message::refused(codes::ZONE, "Some clock times carry a zone and others do not")
                    .done("Nothing was read.")
                    .next("Export the file again with the zone in every row or in none."),
                row,
            )
            .into());
    }
    let mut seconds = Vec::with_capacity(clocks.len());
    let mut days_passed = 0.0;
    let mut previous = first.second_of_day;
    for (row, clock) in clocks.iter().enumerate() {
        // A clock without a date that falls by nearly a day has passed midnight.
        if clock.day.is_none() && clock.second_of_day + 43_200.0 < previous {
            days_passed += 86_400.0;
            messages.push(
                column.at(
                    Message::remark(codes::ELAPSED_TIME, "The time of day passes midnight")
                        .done("A day was added from there on."),
                    row,
                ),
            );
        }
        previous = clock.second_of_day;
        seconds.push(clock.seconds_since(first) + days_passed);
    }
    Ok(seconds)
}

/// Lets the first sample of each run stand at zero.
fn count_from_start_of_run(seconds: &mut [f64], runs: &[RunSpan]) {
    let mut ends: Vec<usize> = runs.iter().skip(1).map(|run| run.first).collect();
    ends.push(seconds.len());
    for (run, end) in runs.iter().zip(ends) {
        let origin = seconds[run.first];
        for second in &mut seconds[run.first..end] {
            *second -= origin;
        }
    }
}

/// Refuses dates that fit both orders where no row of the file tells which.
fn refuse_ambiguous_dates(
    rows: &Rows,
    column: &TimeColumn<'_>,
    given: bool,
) -> Result<(), Refusal> {
    let Some(row) = rows.clocks.iter().position(|clock| clock.ambiguous).filter(|_| !given) else {
        return Ok(());
    };
    let told = |order: DateOrder| {
        rows.clocks.iter().any(|clock| !clock.ambiguous && clock.order == Some(order))
    };
    // Ambiguous dates were read day first, which stands if another row says so.
    if told(DateOrder::DayMonthYear)
        && !told(DateOrder::MonthDayYear)
        && rows.clocks.iter().all(|clock| clock.order == Some(DateOrder::DayMonthYear))
    {
        return Ok(());
    }
    let name = quoted(column.name);
    Err(column
        .at(
            Message::refused(codes::AMBIGUOUS_DATE, "Day and month cannot be told apart in the dates")
                .done("Nothing was read.")
                .next(format!("State time = {{ column = {name}, order = \"day month year\" }} (or \"month day year\") in the reading plan.")),
            row,
        )
        .into())
}

/// The interval of evenly spaced rows between a clock time before the data and
/// one after them: `(end - start) / n`.
fn framed_step(
    file: &DelimitedText<'_>,
    n_rows: usize,
    plan: &ReadingPlan,
) -> Result<(f64, ClockReading, Message), Refusal> {
    let order = match &plan.time {
        Some(crate::reading_plan::TimePlan::Clock { order, .. }) => *order,
        _ => None,
    };
    let clock = |record: &Record<'_>| {
        let text = record.text.split_once(": ").map_or(record.text, |(_, after)| after);
        read_clock(text, ClockStyle { order })
            .filter(|clock| clock.day.is_some() && text.contains(':'))
    };
    let start = file.preamble.iter().rev().find_map(clock);
    let end = file.trailer.iter().find_map(clock);
    let (Some(start), Some(end)) = (start, end) else { return Err(no_time(file).into()) };
    let span_s = end.seconds_since(&start);
    if span_s <= 0.0 {
        return Err(Message::refused(
            codes::NO_TIME,
            "The clock time after the data is not later than the one before them",
        )
        .done("Nothing was read.")
        .next("State time = { rate = 10 } (samples per second) in the reading plan.")
        .into());
    }
    let rate = n_rows as f64 / span_s;
    let message = Message::remark(codes::NO_TIME, format!("There is no time column; {n_rows} rows lie between two clock times {span_s} s apart"))
        .done(format!("Even sampling at {rate:.3} per second was taken; the clock times are whole seconds, so that the rate is uncertain by {:.1} %.", 100.0 / span_s))
        .next("State time = { rate = ... } in the reading plan if the rate is known better.");
    Ok((span_s / n_rows as f64, start, message))
}
