//! A second column of times beside the one that is read: how far the two part.

use std::borrow::Cow;

use study::quantities::units::Unit;

use super::propose::TimeSource;
use crate::codes;
use crate::delimited::{ClockStyle, DelimitedText, read_cell, read_clock, split_fields};
use crate::message::{Message, quoted};

/// Clocks of whole seconds differ from finer times by so much, s.
const COARSE_S: f64 = 1.5;

/// Says which of the columns of times is used, and by how much another parts
/// from it at most, counted from the first row. `found` are the columns that
/// hold times, with the unit of elapsed ones.
pub(super) fn compared(
    file: &DelimitedText<'_>,
    chosen: &TimeSource,
    found: &[(usize, Option<&'static Unit>)],
) -> Vec<Message> {
    let Some(used) = chosen.index() else { return Vec::new() };
    let unit = match chosen {
        TimeSource::Elapsed { unit, .. } => Some(*unit),
        _ => None,
    };
    found
        .iter()
        .filter(|(other, _)| *other != used)
        .map(|&(other, other_unit)| one(file, (used, unit), (other, other_unit)))
        .collect()
}

type Column = (usize, Option<&'static Unit>);

fn one(file: &DelimitedText<'_>, used: Column, other: Column) -> Message {
    let (used_name, other_name) = (&file.names[used.0], &file.names[other.0]);
    let what = format!("Two columns are times, {} and {}", quoted(used_name), quoted(other_name));
    let done = format!("{} was used.", quoted(used_name));
    let next = "State the other one in the reading plan if it counts.";
    let Some(widest) = widest_difference(file, used, other) else {
        return Message::remark(codes::TWO_TIME_COLUMNS, what)
            .in_column(used.0 as u64 + 1, used_name)
            .done(done)
            .next(next);
    };
    if widest.is_day {
        return Message::remark(codes::TWO_TIME_COLUMNS, what)
            .in_column(other.0 as u64 + 1, other_name)
            .done(format!("{} holds days alone, and {done}", quoted(other_name)))
            .next(next);
    }
    let what = format!("{what}; they differ by {} s at most", widest.seconds);
    let message = if widest.seconds > COARSE_S {
        Message::warning(codes::TWO_TIME_COLUMNS, what)
    } else {
        Message::remark(codes::TWO_TIME_COLUMNS, what)
    };
    message.at_line(widest.line).in_column(other.0 as u64 + 1, other_name).done(done).next(next)
}

struct Widest {
    seconds: f64,
    /// The other column holds dates without a time of day.
    is_day: bool,
    line: u64,
}

/// Rows that are not plain are passed over: reading them refuses or tells.
fn widest_difference(file: &DelimitedText<'_>, used: Column, other: Column) -> Option<Widest> {
    let mut cells: Vec<Cow<'_, str>> = Vec::new();
    let mut first: Option<(Moment, Moment)> = None;
    let mut widest: Option<Widest> = None;
    for record in file.rows() {
        let Ok(record) = record else { break };
        split_fields(record.text, file.separator, &mut cells);
        let moment = |(index, unit): Column| Moment::of(cells.get(index)?, unit, file);
        let (Some(one), Some(two)) = (moment(used), moment(other)) else { continue };
        let (from_one, from_two) = *first.get_or_insert((one, two));
        let apart = one.since(&from_one) - two.since(&from_two);
        // A clock that starts anew, or passes midnight, is another matter.
        let seconds = (apart.abs() * 1.0e6).round() / 1.0e6;
        if widest.as_ref().is_none_or(|widest| seconds > widest.seconds) {
            let is_day = other.1.is_none() && !cells[other.0].contains(':');
            widest = Some(Widest { seconds, is_day, line: record.line });
        }
    }
    widest
}

#[derive(Clone, Copy)]
enum Moment {
    Elapsed(f64),
    Clock(crate::delimited::ClockReading),
}

impl Moment {
    fn of(cell: &str, unit: Option<&'static Unit>, file: &DelimitedText<'_>) -> Option<Self> {
        match unit {
            Some(unit) => read_cell(cell, file.style).ok().map(|v| Self::Elapsed(v * unit.factor)),
            None => read_clock(cell, ClockStyle::default()).map(Self::Clock),
        }
    }

    fn since(&self, earlier: &Self) -> f64 {
        match (self, earlier) {
            (Self::Elapsed(now), Self::Elapsed(before)) => now - before,
            (Self::Clock(now), Self::Clock(before)) => now.seconds_since(before),
            _ => 0.0,
        }
    }
}
