//! From columns and times to one trace per pressure channel and run.

use study::PressureTrace;

use super::checks;
use super::propose::{Channel, Reading};
use super::row_lines::RowLines;
use super::rows::Rows;
use super::times::{RunSpan, Times};
use super::{FEWEST_SAMPLES, ImportedTrace};
use crate::codes;
use crate::message::{Message, Refusal, quoted};
use crate::reading_plan::{PressurePlan, ReadingPlan};

/// Builds the traces; a channel that is dead gives none.
pub(super) fn traces(
    reading: &Reading,
    rows: &Rows,
    times: &Times,
    plan: &ReadingPlan,
) -> Result<Vec<ImportedTrace>, Refusal> {
    let mut traces = Vec::new();
    let mut messages = Vec::new();
    for (number, channel) in reading.pressures.iter().enumerate() {
        let values = &rows.pressures[number];
        let seen =
            |message: Message| message.in_column(channel.index as u64 + 1, &channel.plan.column);
        if values.iter().filter(|value| !value.is_nan()).all(|&value| value == 0.0) {
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
        for (position, run) in times.runs.iter().enumerate() {
            let end = times.runs.get(position + 1).map_or(rows.lines.len(), |next| next.first);
            let source = Source { number, channel, reading, rows, times, plan };
            traces.push(source.trace(run, run.first..end)?);
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

/// One channel of a file.
struct Source<'a> {
    number: usize,
    channel: &'a Channel<PressurePlan>,
    reading: &'a Reading,
    rows: &'a Rows,
    times: &'a Times,
    plan: &'a ReadingPlan,
}

impl Source<'_> {
    fn trace(
        &self,
        run: &RunSpan,
        range: core::ops::Range<usize>,
    ) -> Result<ImportedTrace, Refusal> {
        let plan = &self.channel.plan;
        let factor = plan.unit.factor * plan.scale;
        let offset_pa = if plan.gauge { self.reading.barometer_pa } else { 0.0 };
        let values = &self.rows.pressures[self.number];
        let first_line = self.rows.lines.of(range.start);
        let mut messages = Vec::new();
        let stages =
            super::stages::spans(self.plan, self.rows, &self.times.seconds, range.clone())?;
        let kept = KeptRows::of(values, range);
        let mut trace = PressureTrace {
            times_s: kept.of_column(&self.times.seconds),
            pressures_pa: kept
                .of_column(values)
                .into_iter()
                .map(|value| value * factor + offset_pa)
                .collect(),
            temperatures_k: Vec::new(),
            stages,
        };
        let place =
            |message: Message| message.in_column(self.channel.index as u64 + 1, &plan.column);
        if kept.len() < FEWEST_SAMPLES {
            return Err(place(
                Message::refused(
                    codes::TOO_SHORT,
                    format!(
                        "{} has {} samples; a trace needs at least {FEWEST_SAMPLES}",
                        quoted(&plan.column),
                        kept.len()
                    ),
                )
                .at_line(first_line)
                .done("Nothing was read.")
                .next("Check that the export finished."),
            )
            .into());
        }
        trace.temperatures_k = self.temperatures(&kept, &mut messages);
        let n_over_range = self.rows.over_range[self.number];
        if n_over_range > 0 {
            messages.push(place(
                Message::warning(
                    codes::CLIPPED,
                    format!(
                        "{n_over_range} samples of the column are beyond the range of the gauge"
                    ),
                )
                .done("They were left out and counted.")
                .next("Do not take a rise from this trace: a gross leak can look like this."),
            ));
        }
        let line_of = |sample: usize| self.rows.lines.of(kept.row(sample));
        let seen = checks::Seen {
            trace: &trace,
            line_of: &line_of,
            channel: self.channel,
            factor,
            offset_pa,
        };
        checks::refuse_impossible(&seen)?;
        let vented_from = checks::vented_end(&seen, &mut messages);
        checks::note_sensor(&seen, vented_from, &mut messages);
        checks::note_sentinels(&seen, &mut messages);
        checks::note_spikes(&seen, &mut messages);
        Ok(ImportedTrace {
            name: plan.column.clone(),
            run: run.name.clone(),
            start: run.start,
            n_over_range,
            vented_from,
            messages,
            lines: kept.lines(&self.rows.lines),
            column: self.channel.index as u64 + 1,
            clock_column: self.reading.time.clock_column(),
            trace,
        })
    }

    /// Temperatures of the kept rows; none where one is missing.
    fn temperatures(&self, kept: &KeptRows, messages: &mut Vec<Message>) -> Vec<f64> {
        let Some(chosen) = self.reading.temperatures.first() else { return Vec::new() };
        let values = kept.of_column(&self.rows.temperatures[0]);
        if values.iter().any(|value| value.is_nan()) {
            messages.push(
                Message::remark(codes::EMPTY_CELLS, "Some rows have no temperature")
                    .done("The trace was read without temperatures."),
            );
            return Vec::new();
        }
        values.into_iter().map(|value| chosen.plan.unit.in_kelvin(value)).collect()
    }
}

/// The rows of a run that have a pressure.
enum KeptRows {
    All(core::ops::Range<usize>),
    Some(Vec<usize>),
}

impl KeptRows {
    fn of(values: &[f64], range: core::ops::Range<usize>) -> Self {
        if values[range.clone()].iter().any(|value| value.is_nan()) {
            Self::Some(range.filter(|&row| !values[row].is_nan()).collect())
        } else {
            Self::All(range)
        }
    }

    fn len(&self) -> usize {
        match self {
            Self::All(range) => range.len(),
            Self::Some(rows) => rows.len(),
        }
    }

    /// The row of a sample.
    fn row(&self, sample: usize) -> usize {
        match self {
            Self::All(range) => range.start + sample,
            Self::Some(rows) => rows[sample],
        }
    }

    fn lines(&self, lines: &RowLines) -> RowLines {
        match self {
            Self::All(range) => lines.slice(range.clone()),
            Self::Some(rows) => {
                let mut found = RowLines::default();
                for &row in rows {
                    found.push(lines.of(row));
                }
                found
            }
        }
    }

    fn of_column(&self, values: &[f64]) -> Vec<f64> {
        match self {
            Self::All(range) => values[range.clone()].to_vec(),
            Self::Some(rows) => rows.iter().map(|&row| values[row]).collect(),
        }
    }
}
