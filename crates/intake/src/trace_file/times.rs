//! Sample times in seconds, and what is odd about them.

use super::propose::{Reading, TimeSource, no_time};
use super::rows::Rows;
use crate::codes;
use crate::delimited::{ClockReading, ClockStyle, DelimitedText, Record, read_clock};
use crate::message::{Message, Refusal, quoted};
use crate::reading_plan::ReadingPlan;

/// Times beyond this are seconds of an epoch and not of a run: three years.
const LONGEST_ELAPSED_S: f64 = 1.0e8;

/// The times of a file.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Times {
    /// Seconds, one for each row.
    pub(super) seconds: Vec<f64>,
    /// Index of the first row of each run; the first is 0.
    pub(super) starts: Vec<usize>,
    /// Clock time of the first row.
    pub(super) start: Option<ClockReading>,
    /// What was noticed.
    pub(super) messages: Vec<Message>,
}

/// Turns the time column, the rate or the framing lines into seconds.
pub(super) fn sample_times(
    file: &DelimitedText<'_>,
    reading: &Reading,
    rows: &Rows,
    plan: &ReadingPlan,
) -> Result<Times, Refusal> {
    let mut messages = Vec::new();
    let (seconds, start) = match &reading.time {
        TimeSource::Elapsed { unit, .. } => {
            (elapsed_seconds(&rows.elapsed, unit.factor, &mut messages), None)
        }
        TimeSource::Clock { index, column, order } => {
            refuse_ambiguous_dates(rows, *index, column, order.is_some())?;
            (clock_seconds(&rows.clocks, &mut messages), rows.clocks.first().copied())
        }
        TimeSource::Rate { samples_per_s } => {
            let seconds = (0..rows.lines.len()).map(|row| row as f64 / samples_per_s).collect();
            return Ok(Times { seconds, starts: vec![0], start: None, messages });
        }
        TimeSource::FramingLines => {
            let (seconds, start, message) = framed_seconds(file, rows.lines.len(), plan)?;
            messages.push(message);
            return Ok(Times { seconds, starts: vec![0], start: Some(start), messages });
        }
    };
    let column = reading.time.index().unwrap_or(0);
    let name = &file.names[column];
    let starts = runs_of(&seconds, rows, column, name, plan.split_at_restart, &mut messages)?;
    note_intervals(&seconds, &starts, rows, column, name, &mut messages);
    Ok(Times { seconds, starts, start, messages })
}

fn elapsed_seconds(elapsed: &[f64], factor: f64, messages: &mut Vec<Message>) -> Vec<f64> {
    let first = elapsed.first().copied().unwrap_or(0.0) * factor;
    if first.abs() < LONGEST_ELAPSED_S {
        return elapsed.iter().map(|time| time * factor).collect();
    }
    messages.push(
        Message::remark(codes::ELAPSED_TIME, "The times are seconds of an epoch")
            .done("The first of them was subtracted from all."),
    );
    let origin = elapsed.first().copied().unwrap_or(0.0);
    elapsed.iter().map(|time| (time - origin) * factor).collect()
}

fn clock_seconds(clocks: &[ClockReading], messages: &mut Vec<Message>) -> Vec<f64> {
    let Some(first) = clocks.first() else { return Vec::new() };
    let mut seconds = Vec::with_capacity(clocks.len());
    let mut days_passed = 0.0;
    let mut previous = first.second_of_day;
    for clock in clocks {
        // A clock without a date that falls by nearly a day has passed midnight.
        if clock.day.is_none() && clock.second_of_day + 43_200.0 < previous {
            days_passed += 86_400.0;
            messages.push(
                Message::remark(codes::ELAPSED_TIME, "The time of day passes midnight")
                    .done("A day was added from there on."),
            );
        }
        previous = clock.second_of_day;
        seconds.push(clock.seconds_since(first) + days_passed);
    }
    let n_zones = clocks.iter().filter(|clock| clock.zone_s.is_some()).count();
    if n_zones != 0 && n_zones != clocks.len() {
        messages.push(
            Message::warning(
                codes::ZONE,
                format!("{n_zones} of {} clock times carry a zone", clocks.len()),
            )
            .done("The others were read as UTC.")
            .next("Export the file again with the zone in every row."),
        );
    }
    seconds
}

/// Refuses dates that fit both orders where no row of the file tells which.
fn refuse_ambiguous_dates(
    rows: &Rows,
    index: usize,
    column: &str,
    given: bool,
) -> Result<(), Refusal> {
    let all = !given && !rows.clocks.is_empty() && rows.clocks.iter().all(|clock| clock.ambiguous);
    let orders =
        rows.clocks.iter().filter(|clock| !clock.ambiguous).filter_map(|clock| clock.order);
    let mut orders: Vec<_> = orders.map(crate::delimited::DateOrder::word).collect();
    orders.sort_unstable();
    orders.dedup();
    let mixed = rows.clocks.iter().any(|clock| clock.ambiguous)
        && orders.iter().any(|&order| order != crate::delimited::DateOrder::DayMonthYear.word());
    if !all && !mixed && orders.len() < 2 {
        return Ok(());
    }
    Err(Message::refused(codes::AMBIGUOUS_DATE, "Day and month cannot be told apart in the dates")
        .at_line(rows.lines.first().copied().unwrap_or(1))
        .in_column(index as u64 + 1, column)
        .done("Nothing was read.")
        .next(format!("State time = {{ column = {}, order = \"day month year\" }} (or \"month day year\") in the reading plan.", quoted(column)))
        .into())
}

/// Seconds of evenly spaced rows between a clock time before the data and
/// one after them: row i of n at `i (end - start) / n`.
fn framed_seconds(
    file: &DelimitedText<'_>,
    n_rows: usize,
    plan: &ReadingPlan,
) -> Result<(Vec<f64>, ClockReading, Message), Refusal> {
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
    let seconds = (0..n_rows).map(|row| row as f64 * span_s / n_rows as f64).collect();
    Ok((seconds, start, message))
}

/// The runs of a file: times may begin again only where the plan says so.
fn runs_of(
    seconds: &[f64],
    rows: &Rows,
    column: usize,
    name: &str,
    split_at_restart: bool,
    messages: &mut Vec<Message>,
) -> Result<Vec<usize>, Refusal> {
    let mut starts = vec![0];
    for (row, pair) in seconds.windows(2).enumerate() {
        if pair[1] >= pair[0] {
            continue;
        }
        if split_at_restart {
            starts.push(row + 1);
            continue;
        }
        let line = rows.lines[row + 1];
        return Err(Message::refused(
            codes::BACKWARD_TIME,
            format!("Time runs backward, from {} s to {} s", pair[0], pair[1]),
        )
        .at_line(line)
        .in_column(column as u64 + 1, name)
        .done("Nothing was read.")
        .next("If a new run begins here, state split_at_restart = true in the reading plan.")
        .into());
    }
    if starts.len() > 1 {
        messages.push(
            Message::remark(
                codes::SEVERAL_TRACES,
                format!("The times begin again {} times", starts.len() - 1),
            )
            .at_line(rows.lines[starts[1]])
            .in_column(column as u64 + 1, name)
            .done(format!("{} runs were read.", starts.len())),
        );
    }
    Ok(starts)
}

fn note_intervals(
    seconds: &[f64],
    starts: &[usize],
    rows: &Rows,
    column: usize,
    name: &str,
    messages: &mut Vec<Message>,
) {
    let mut intervals: Vec<f64> = Vec::with_capacity(seconds.len());
    let mut first_repeat = None;
    let mut longest = (0.0, 0);
    for (row, pair) in seconds.windows(2).enumerate() {
        if starts.contains(&(row + 1)) {
            continue;
        }
        let interval = pair[1] - pair[0];
        if interval == 0.0 && first_repeat.is_none() {
            first_repeat = Some(row + 1);
        }
        if interval > longest.0 {
            longest = (interval, row + 1);
        }
        intervals.push(interval);
    }
    if intervals.is_empty() {
        return;
    }
    intervals.sort_by(f64::total_cmp);
    let n_repeated = intervals.partition_point(|&interval| interval <= 0.0);
    let (shortest, median) = (intervals[0], intervals[intervals.len() / 2]);
    let place = |message: Message, row: usize| {
        message.at_line(rows.lines[row]).in_column(column as u64 + 1, name)
    };
    if let Some(row) = first_repeat {
        messages.push(place(
            Message::warning(
                codes::DUPLICATE_TIMES,
                format!("{n_repeated} times repeat the one before"),
            )
            .done("The rows were kept with the times as written.")
            .next("If the clock is only coarse, state time = { rate = ... } in the reading plan."),
            row,
        ));
    }
    let uneven = longest.0 - shortest > 1.0e-6 * median.abs().max(1.0e-9);
    if longest.0 > 1.5 * median && n_repeated == 0 {
        messages.push(place(
            Message::warning(
                codes::IRREGULAR_TIMES,
                format!(
                    "Samples are missing: {} s pass where the usual interval is {median} s",
                    longest.0
                ),
            )
            .done("The gap was kept; nothing was filled in.")
            .next("Check that the gap is outside the measure stage."),
            longest.1,
        ));
    } else if uneven && n_repeated == 0 {
        messages.push(
            Message::remark(codes::IRREGULAR_TIMES, format!("The interval between samples varies from {shortest} s to {} s (median {median} s)", longest.0))
                .done("The times were kept as written."),
        );
    }
}
