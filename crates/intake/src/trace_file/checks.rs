//! What is odd about the pressures of a channel. Nothing is changed here.

use study::PressureTrace;

use super::propose::Channel;
use crate::codes;
use crate::message::{Message, Refusal, quoted};
use crate::reading_plan::PressurePlan;

/// A channel as read, with the line of each sample.
pub(super) struct Seen<'a> {
    pub(super) trace: &'a PressureTrace,
    pub(super) lines: &'a [u64],
    pub(super) channel: &'a Channel<PressurePlan>,
    pub(super) factor: f64,
    pub(super) offset_pa: f64,
}

impl Seen<'_> {
    fn place(&self, message: Message, sample: usize) -> Message {
        message
            .at_line(self.lines[sample])
            .in_column(self.channel.index as u64 + 1, &self.channel.plan.column)
    }

    /// The value as the file writes it.
    fn written(&self, sample: usize) -> f64 {
        (self.trace.pressures_pa[sample] - self.offset_pa) / self.factor
    }

    fn run_at_end(&self) -> usize {
        let pressures = &self.trace.pressures_pa;
        let last = pressures.last().copied().unwrap_or(0.0);
        pressures.iter().rev().take_while(|&&pressure| pressure == last).count()
    }
}

/// Values that loggers write where they have none.
const SENTINELS: [f64; 8] = [-999.0, -9999.0, -99.0, -1.0e3, -32_768.0, 9999.0, 65_535.0, 1.0e37];

/// Refuses sentinels and pressures below perfect vacuum.
pub(super) fn refuse_impossible(seen: &Seen<'_>) -> Result<(), Refusal> {
    let Some(sample) = seen
        .trace
        .pressures_pa
        .iter()
        .position(|&pressure| !(pressure >= 0.0 && pressure.is_finite()))
    else {
        return Ok(());
    };
    let written = seen.written(sample);
    let count = seen.trace.pressures_pa.iter().filter(|&&pressure| pressure < 0.0).count();
    let column = quoted(&seen.channel.plan.column);
    let sentinel = SENTINELS.iter().any(|&value| (value - written).abs() < 1.0e-6 * value.abs());
    let message = if sentinel {
        Message::refused(codes::SENTINEL, format!("{column} holds {written}, which looks like a mark for no value ({count} samples below perfect vacuum)"))
            .next(format!("If it means that there is no value, state missing = [\"{written}\"] in the reading plan."))
    } else {
        Message::refused(codes::IMPOSSIBLE_PRESSURE, format!("{column} falls to {written} {}, below perfect vacuum ({count} samples)", seen.channel.plan.unit.name))
            .next("If it is against the atmosphere, state gauge = true for the column and barometer = \"1013 mbar\" in the reading plan.")
    };
    Err(seen.place(message.done("Nothing was read."), sample).into())
}

/// Finds a block at the end that stands still at one atmosphere, give or take
/// a tenth, while the trace before it is far below: the chamber was opened.
pub(super) fn vented_end(seen: &Seen<'_>, messages: &mut Vec<Message>) -> Option<usize> {
    const SHORTEST_BLOCK: usize = 3;
    const ATMOSPHERE_PA: core::ops::RangeInclusive<f64> = 9.0e4..=1.1e5;
    let pressures = &seen.trace.pressures_pa;
    let n_block = seen.run_at_end();
    let first = pressures.len() - n_block;
    let level = pressures[first];
    if n_block < SHORTEST_BLOCK || !ATMOSPHERE_PA.contains(&level) {
        return None;
    }
    if median_of(&pressures[..first])? > 0.5 * level {
        return None;
    }
    messages.push(
        seen.place(
            Message::warning(
                codes::SENTINEL,
                format!(
                    "The last {n_block} samples stand at {} {}: vented, or the top of the gauge",
                    seen.written(first),
                    seen.channel.plan.unit.name
                ),
            )
            .done("They were kept and marked; they are not part of the test.")
            .next("Leave them out of every fit."),
            first,
        ),
    );
    Some(first)
}

/// Says where the sensor does not move, moves in steps, or stands at its end.
pub(super) fn note_sensor(
    seen: &Seen<'_>,
    vented_from: Option<usize>,
    messages: &mut Vec<Message>,
) {
    let pressures =
        &seen.trace.pressures_pa[..vented_from.unwrap_or(seen.trace.pressures_pa.len())];
    let column = quoted(&seen.channel.plan.column);
    let levels = distinct_levels(pressures);
    if levels.len() == 1 {
        messages.push(
            seen.place(
                Message::warning(
                    codes::STUCK,
                    format!("{column} never moves: {} samples of one value", pressures.len()),
                )
                .done("The trace was kept.")
                .next("Check the sensor; its noise cannot be taken from this trace."),
                0,
            ),
        );
        return;
    }
    let highest = pressures.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    note_clipping(seen, pressures, highest, messages);
    if pressures.len() >= 200 && levels.len() <= MOST_STEPS {
        let step = levels.windows(2).map(|pair| pair[1] - pair[0]).fold(f64::INFINITY, f64::min);
        messages.push(
            Message::remark(
                codes::STUCK,
                format!(
                    "{column} moves in steps: {} different values, the smallest step {} Pa",
                    levels.len(),
                    rounded(step)
                ),
            )
            .in_column(seen.channel.index as u64 + 1, &seen.channel.plan.column)
            .done("The trace was kept.")
            .next("Take a noise of at least the step divided by the root of 12."),
        );
    }
}

/// A flat top: at the stated full scale three samples are enough, elsewhere
/// a run of ten at the highest value of an otherwise moving trace.
fn note_clipping(seen: &Seen<'_>, pressures: &[f64], highest: f64, messages: &mut Vec<Message>) {
    let full_scale_pa = seen.channel.plan.full_scale.map(study::quantities::AbsolutePressure::pa);
    let at_end = full_scale_pa.is_some_and(|full| highest >= full * (1.0 - 1.0e-6));
    let needed = if at_end { 3 } else { 10 };
    let mut longest = (0, 0);
    let mut run = 0;
    for (sample, &pressure) in pressures.iter().enumerate() {
        run = if pressure == highest { run + 1 } else { 0 };
        if run > longest.0 {
            longest = (run, sample + 1 - run);
        }
    }
    if longest.0 < needed || longest.0 == pressures.len() {
        return;
    }
    messages.push(seen.place(
        Message::warning(codes::CLIPPED, format!("{} stands at its highest value for {} samples: the gauge may be at full scale", quoted(&seen.channel.plan.column), longest.0))
            .done("The samples were kept; a flat top is not a tight unit.")
            .next("State full_scale for the column in the reading plan, and do not evaluate a rise that ends there."),
        longest.1,
    ));
}

fn median_of(values: &[f64]) -> Option<f64> {
    if values.is_empty() {
        return None;
    }
    let mut shuffled = values.to_vec();
    let middle = shuffled.len() / 2;
    Some(*shuffled.select_nth_unstable_by(middle, f64::total_cmp).1)
}

/// With so few different values a channel moves in steps.
const MOST_STEPS: usize = 32;

/// The different values of a channel in order; one more than [`MOST_STEPS`]
/// where there are more.
fn distinct_levels(pressures: &[f64]) -> Vec<f64> {
    let mut levels: Vec<f64> = Vec::with_capacity(MOST_STEPS + 1);
    for &pressure in pressures {
        if let Err(place) = levels.binary_search_by(|level| level.total_cmp(&pressure)) {
            levels.insert(place, pressure);
            if levels.len() > MOST_STEPS {
                break;
            }
        }
    }
    levels
}

/// Four digits, for sentences.
fn rounded(value: f64) -> f64 {
    format!("{value:.3e}").parse().unwrap_or(value)
}
