//! The intervals between samples: runs that begin again, clock changes,
//! repeated times, gaps.

use super::times::{RunSpan, TimeColumn};
use crate::codes;
use crate::delimited::ClockReading;
use crate::message::{Message, Refusal};

/// A local clock that is put back by an hour in autumn repeats that hour. The
/// order of the rows tells, so that the hour is added from there on; a clock
/// put forward in spring cannot be told from a gap and is only mentioned.
pub(super) fn undo_clock_change(
    seconds: &mut [f64],
    clocks: &[ClockReading],
    column: &TimeColumn<'_>,
    messages: &mut Vec<Message>,
) {
    const HOUR_S: f64 = 3600.0;
    let local = clocks.iter().all(|clock| clock.zone_s.is_none() && clock.day.is_some());
    // Only a step of about an hour, either way, makes it worth looking.
    let is_large = |pair: &[f64]| (pair[1] - pair[0]).abs() > 0.5 * HOUR_S;
    if !local || seconds.len() < 3 || !seconds.windows(2).any(is_large) {
        return;
    }
    let mut added_s = 0.0;
    let usual_s = median_interval(seconds);
    for row in 1..seconds.len() {
        let step_s = seconds[row] + added_s - seconds[row - 1];
        let day = clocks[row].day.unwrap_or(0);
        if (step_s + HOUR_S - usual_s).abs() <= usual_s.max(1.0) && is_sunday_of(day, &[10, 11]) {
            added_s += HOUR_S;
            messages.push(
                column.at(
                    Message::warning(
                        codes::CLOCK_CHANGE,
                        "The clock was put back by an hour at the end of summer time",
                    )
                    .done("An hour was added from there on.")
                    .next("Let the logger write UTC."),
                    row,
                ),
            );
        } else if (step_s - HOUR_S - usual_s).abs() <= usual_s.max(1.0)
            && is_sunday_of(day, &[3, 4])
        {
            messages.push(
                column.at(
                    Message::warning(
                        codes::CLOCK_CHANGE,
                        "An hour is missing on a day on which summer time may begin",
                    )
                    .done("The times were kept as written.")
                    .next("If the clock was put forward, let the logger write UTC."),
                    row,
                ),
            );
        }
        seconds[row] += added_s;
    }
}

/// True for a Sunday in one of the months. 1970-01-01 was a Thursday.
fn is_sunday_of(day: i64, months: &[u32]) -> bool {
    (day + 4).rem_euclid(7) == 0 && months.contains(&month_of(day))
}

/// The month of a day counted from 1970-01-01.
fn month_of(day: i64) -> u32 {
    // Days from 0000-03-01, in eras of 400 years (146 097 days).
    let day_of_era = (day + 719_468).rem_euclid(146_097);
    let year_of_era =
        (day_of_era - day_of_era / 1460 + day_of_era / 36_524 - day_of_era / 146_096) / 365;
    let day_of_year = day_of_era - (365 * year_of_era + year_of_era / 4 - year_of_era / 100);
    let from_march = (5 * day_of_year + 2) / 153;
    u32::try_from((from_march + 2) % 12 + 1).unwrap_or(1)
}

/// The runs of a file: its named parts, and where the plan allows it the
/// places at which the times begin again.
pub(super) fn runs_of(
    seconds: &[f64],
    parts: &[(usize, String)],
    column: &TimeColumn<'_>,
    split_at_restart: bool,
    messages: &mut Vec<Message>,
) -> Result<Vec<RunSpan>, Refusal> {
    let mut runs: Vec<RunSpan> = Vec::new();
    for (number, (first, name)) in parts.iter().enumerate() {
        let end = parts.get(number + 1).map_or(seconds.len(), |(next, _)| *next);
        if *first == end {
            continue;
        }
        runs.push(RunSpan { first: *first, name: name.clone(), start: None });
        for row in first + 1..end {
            let (before, now) = (seconds[row - 1], seconds[row]);
            if now >= before {
                continue;
            }
            if !split_at_restart {
                return Err(backward(before, now, row, column));
            }
            runs.push(RunSpan { first: row, name: name.clone(), start: None });
        }
    }
    if runs.len() > 1 {
        name_unnamed(&mut runs);
        messages.push(
            Message::remark(codes::SEVERAL_TRACES, format!("The file holds {} runs", runs.len()))
                .at_line(column.lines.of(runs[1].first))
                .done("Each was read as a trace of its own."),
        );
    }
    Ok(runs)
}

fn backward(before: f64, now: f64, row: usize, column: &TimeColumn<'_>) -> Refusal {
    column
        .at(
            Message::refused(codes::BACKWARD_TIME, format!("Time runs backward, from {before} s to {now} s"))
                .done("Nothing was read.")
                .next("If a new run begins here, state split_at_restart = true in the reading plan, or run = \"...\" with the column that names the run."),
            row,
        )
        .into()
}

/// Numbers runs that have no name, or the same name as the one before.
fn name_unnamed(runs: &mut [RunSpan]) {
    let all_named =
        runs.windows(2).all(|pair| !pair[0].name.is_empty() && pair[0].name != pair[1].name);
    if all_named {
        return;
    }
    for (number, run) in runs.iter_mut().enumerate() {
        let name = format!("{} #{}", run.name, number + 1);
        run.name = name.trim_start().to_owned();
    }
}

fn median_interval(seconds: &[f64]) -> f64 {
    let mut intervals: Vec<f64> = seconds.windows(2).map(|pair| pair[1] - pair[0]).collect();
    intervals.sort_by(f64::total_cmp);
    intervals.get(intervals.len() / 2).copied().unwrap_or(0.0)
}

/// Says where times repeat, where samples are missing, and how much the
/// interval varies.
pub(super) fn note_intervals(
    seconds: &[f64],
    runs: &[RunSpan],
    column: &TimeColumn<'_>,
    messages: &mut Vec<Message>,
) {
    let mut starts: Vec<usize> = runs.iter().map(|run| run.first).collect();
    starts.push(seconds.len());
    let mut intervals: Vec<f64> = Vec::with_capacity(seconds.len());
    let mut first_repeat = None;
    let mut longest = (0.0, 0);
    for bounds in starts.windows(2) {
        for row in bounds[0] + 1..bounds[1] {
            let interval = seconds[row] - seconds[row - 1];
            if interval == 0.0 && first_repeat.is_none() {
                first_repeat = Some(row);
            }
            if interval > longest.0 {
                longest = (interval, row);
            }
            intervals.push(interval);
        }
    }
    if intervals.is_empty() {
        return;
    }
    // The middle without sorting all: a long file has millions of intervals.
    let middle = intervals.len() / 2;
    let median = *intervals.select_nth_unstable_by(middle, f64::total_cmp).1;
    let shortest = intervals.iter().copied().fold(f64::INFINITY, f64::min);
    let n_repeated = intervals.iter().filter(|&&interval| interval <= 0.0).count();
    if let Some(row) = first_repeat {
        messages.push(
            column.at(
                Message::warning(
                    codes::DUPLICATE_TIMES,
                    format!("{n_repeated} times repeat the one before"),
                )
                .done("The rows were kept with the times as written.")
                .next(coarse_clock_hint(seconds)),
                row,
            ),
        );
        return;
    }
    if longest.0 > 1.5 * median {
        messages.push(
            column.at(
                Message::warning(
                    codes::IRREGULAR_TIMES,
                    format!(
                        "Samples are missing: {} s pass where the usual interval is {} s",
                        tidy(longest.0),
                        tidy(median)
                    ),
                )
                .done("The gap was kept; nothing was filled in.")
                .next("Check that the gap is outside the measure stage."),
                longest.1,
            ),
        );
    } else if longest.0 - shortest > 1.0e-6 * median {
        messages.push(
            Message::remark(
                codes::IRREGULAR_TIMES,
                format!(
                    "The interval between samples varies from {} s to {} s (median {} s)",
                    tidy(shortest),
                    tidy(longest.0),
                    tidy(median)
                ),
            )
            .done("The times were kept as written."),
        );
    }
}

/// Where a clock of whole seconds hides a higher rate, the rate is offered.
fn coarse_clock_hint(seconds: &[f64]) -> String {
    let span_s = seconds.last().copied().unwrap_or(0.0) - seconds.first().copied().unwrap_or(0.0);
    let mut n_distinct = seconds.to_vec();
    n_distinct.dedup();
    if span_s > 0.0 && seconds.len() >= 3 * n_distinct.len() {
        let rate = (seconds.len() as f64 / (span_s + 1.0)).round();
        return format!(
            "The clock is coarse: if sampling was even, state time = {{ rate = {rate} }} in the reading plan."
        );
    }
    "Check why the rows repeat their time.".to_owned()
}

/// Digits of a difference that somebody would write, for sentences.
fn tidy(value: f64) -> f64 {
    format!("{value:.6e}").parse().unwrap_or(value)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn months_and_sundays() {
        // 2026-10-25 is the last Sunday of October: 20 751 days from 1970.
        let day = 20_751;
        assert_eq!(month_of(day), 10);
        assert!(is_sunday_of(day, &[10]) && !is_sunday_of(day + 1, &[10]));
        assert_eq!(month_of(0), 1);
        // 2000-02-29 and the day after.
        assert_eq!((month_of(11_016), month_of(11_017)), (2, 3));
    }
}
