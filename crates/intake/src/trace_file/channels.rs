//! From columns and times to one trace per pressure channel and run.

use study::PressureTrace;

use super::checks;
use super::propose::{Channel, Reading};
use super::rows::Rows;
use super::times::Times;
use super::{FEWEST_SAMPLES, ImportedTrace};
use crate::codes;
use crate::message::{Message, Refusal, quoted};
use crate::reading_plan::PressurePlan;

/// Builds the traces; a channel that is dead gives none.
pub(super) fn traces(
    reading: &Reading,
    rows: &Rows,
    times: &Times,
) -> Result<Vec<ImportedTrace>, Refusal> {
    let mut traces = Vec::new();
    let mut messages = Vec::new();
    for (number, channel) in reading.pressures.iter().enumerate() {
        let values = &rows.pressures[number];
        let seen =
            |message: Message| message.in_column(channel.index as u64 + 1, &channel.plan.column);
        if values.iter().flatten().all(|&value| value == 0.0) {
            messages.push(seen(
                Message::warning(
                    codes::STUCK,
                    format!(
                        "{} is zero in every row: a dead channel",
                        quoted(&channel.plan.column)
                    ),
                )
                .done("It gave no trace.")
                .next("Leave the column out of the reading plan."),
            ));
            continue;
        }
        for (run, &first) in times.starts.iter().enumerate() {
            let last = times.starts.get(run + 1).copied().unwrap_or(rows.lines.len());
            let name = if times.starts.len() > 1 {
                format!("{} #{}", channel.plan.column, run + 1)
            } else {
                channel.plan.column.clone()
            };
            traces.push(one_trace(name, channel, reading, rows, times, first..last)?);
        }
    }
    match traces.first_mut() {
        Some(first) => {
            first.messages.splice(0..0, messages);
            Ok(traces)
        }
        None => {
            messages.push(
                Message::refused(codes::STUCK, "No pressure channel holds anything but zero")
                    .done("Nothing was read.")
                    .next("State the pressure columns in the reading plan."),
            );
            Err(Refusal::of(messages))
        }
    }
}

fn one_trace(
    name: String,
    channel: &Channel<PressurePlan>,
    reading: &Reading,
    rows: &Rows,
    times: &Times,
    range: core::ops::Range<usize>,
) -> Result<ImportedTrace, Refusal> {
    let number =
        reading.pressures.iter().position(|other| other.index == channel.index).unwrap_or(0);
    let factor = channel.plan.unit.factor * channel.plan.scale;
    let offset_pa = if channel.plan.gauge { reading.barometer_pa } else { 0.0 };
    let temperature =
        reading.temperatures.first().map(|chosen| (&rows.temperatures[0], chosen.plan.unit));
    let mut trace = PressureTrace::default();
    let mut kept_lines = Vec::new();
    let mut all_temperatures = temperature.is_some();
    for row in range.clone() {
        let Some(value) = rows.pressures[number][row] else { continue };
        trace.times_s.push(times.seconds[row]);
        trace.pressures_pa.push(value * factor + offset_pa);
        kept_lines.push(rows.lines[row]);
        match temperature.and_then(|(values, unit)| values[row].map(|value| unit.in_kelvin(value)))
        {
            Some(kelvin) => trace.temperatures_k.push(kelvin),
            None => all_temperatures = false,
        }
    }
    if !all_temperatures {
        trace.temperatures_k.clear();
    }
    let place =
        |message: Message| message.in_column(channel.index as u64 + 1, &channel.plan.column);
    if trace.times_s.len() < FEWEST_SAMPLES {
        return Err(place(
            Message::refused(
                codes::TOO_SHORT,
                format!(
                    "{} has {} samples; a trace needs at least {FEWEST_SAMPLES}",
                    quoted(&name),
                    trace.times_s.len()
                ),
            )
            .at_line(rows.lines[range.start])
            .done("Nothing was read.")
            .next("Check that the export finished."),
        )
        .into());
    }
    let seen = checks::Seen { trace: &trace, lines: &kept_lines, channel, factor, offset_pa };
    checks::refuse_impossible(&seen)?;
    let mut messages = Vec::new();
    if temperature.is_some() && !all_temperatures {
        messages.push(
            Message::remark(codes::EMPTY_CELLS, "Some rows have no temperature")
                .done("The trace was read without temperatures."),
        );
    }
    let vented_from = checks::vented_end(&seen, &mut messages);
    checks::note_sensor(&seen, vented_from, &mut messages);
    Ok(ImportedTrace { name, start: times.start, vented_from, messages, trace })
}
