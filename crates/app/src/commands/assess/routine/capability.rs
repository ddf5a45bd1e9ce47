//! Capability against specification limits, and the most likely step.

use statistics::control_charts::capability::{Capability, capability};
use statistics::control_charts::change_point::{ChangePoint, change_point};
use study::Note;

use super::Routine;
use super::chart::Chart;
use crate::answer::from_statistics;
use crate::fault::Fault;

/// Capability of all readings, where a specification limit was given.
pub fn of(
    command: &Routine,
    readings: &[f64],
    chart: &Chart,
    notes: &mut Vec<Note>,
) -> Result<Option<Capability>, Fault> {
    let (lower, upper) = (command.lower_specification, command.upper_specification);
    if lower.is_none() && upper.is_none() {
        return Ok(None);
    }
    let mean = digits::sums::mean(readings).unwrap_or(f64::NAN);
    let sd = digits::sums::standard_deviation(readings).unwrap_or(f64::NAN);
    let found = capability(mean, sd, readings.len(), lower, upper, command.confidence)?;
    notes.extend(from_statistics(found.notes.clone()));
    if !chart.signals.is_empty() {
        notes.push(Note::caution(
            "capability-not-in-control",
            "the chart has signals: the record is not one stable population, and an index of it \
             foretells nothing",
            "find the cause first, then take the index from a stretch in control",
        ));
    }
    Ok(Some(found))
}

/// The most likely step of the values behind the plot.
pub fn step(command: &Routine, chart: &Chart, notes: &mut Vec<Note>) -> Option<ChangePoint> {
    match change_point(&chart.values, command.orders, command.seed) {
        Ok(found) => {
            notes.extend(from_statistics(found.notes.clone()));
            Some(found)
        }
        Err(refusal) => {
            notes.push(Note::refusal("no-change-point", refusal.to_string(), refusal.next_step()));
            None
        }
    }
}
