//! What is odd about the pressures of a channel. Nothing is changed here.

use study::PressureTrace;

use super::propose::Channel;
use crate::codes;
use crate::message::{Message, Refusal, quoted};
use crate::reading_plan::PressurePlan;

/// A channel as read.
pub(super) struct Seen<'a> {
    pub(super) trace: &'a PressureTrace,
    /// The line of a sample.
    pub(super) line_of: &'a dyn Fn(usize) -> u64,
    pub(super) channel: &'a Channel<PressurePlan>,
    pub(super) factor: f64,
    pub(super) offset_pa: f64,
}

impl Seen<'_> {
    fn place(&self, message: Message, sample: usize) -> Message {
        message
            .at_line((self.line_of)(sample))
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

/// No gauge of this work reads more, 100 bar in Pa.
const LARGEST_PRESSURE_PA: f64 = 1.0e7;

/// Refuses sentinels, and pressures below perfect vacuum or beyond any gauge.
pub(super) fn refuse_impossible(seen: &Seen<'_>) -> Result<(), Refusal> {
    let possible = 0.0..=LARGEST_PRESSURE_PA;
    let pressures = &seen.trace.pressures_pa;
    let Some(sample) = pressures.iter().position(|pressure| !possible.contains(pressure)) else {
        return Ok(());
    };
    let written = tidy(seen.written(sample));
    let count = pressures.iter().filter(|pressure| !possible.contains(pressure)).count();
    let column = quoted(&seen.channel.plan.column);
    let unit = seen.channel.plan.unit.name;
    let is_sentinel = SENTINELS.iter().any(|&value| (value - written).abs() < 1.0e-6 * value.abs());
    let message = if is_sentinel || pressures[sample] > LARGEST_PRESSURE_PA {
        Message::refused(
            codes::SENTINEL,
            format!("{column} holds {written} {unit}, which no gauge reads ({count} samples): a mark for no value, or another unit"),
        )
        .next(format!("If it means that there is no value, state missing with the cell as it is written, such as missing = [\"{written}\"], in the reading plan."))
    } else {
        Message::refused(
            codes::IMPOSSIBLE_PRESSURE,
            format!("{column} falls to {written} {unit}, below perfect vacuum ({count} samples)"),
        )
        .next("If it is against the atmosphere, state gauge = true for the column and barometer = \"1013 mbar\" in the reading plan.")
    };
    Err(seen.place(message.done("Nothing was read."), sample).into())
}

/// Says so where a value that loggers write for none stands far above the
/// rest, again and again.
pub(super) fn note_sentinels(seen: &Seen<'_>, messages: &mut Vec<Message>) {
    const HIGH_MARKS: [f64; 5] = [9999.0, 99_999.0, 999_999.0, 32_767.0, 65_535.0];
    let pressures = &seen.trace.pressures_pa;
    for mark in HIGH_MARKS {
        let mark_pa = mark * seen.factor + seen.offset_pa;
        let is_mark = |pressure: f64| (pressure - mark_pa).abs() < 1.0e-9 * mark_pa.abs();
        let Some(first) = pressures.iter().position(|&pressure| is_mark(pressure)) else {
            continue;
        };
        let others: Vec<f64> =
            pressures.iter().copied().filter(|&pressure| !is_mark(pressure)).collect();
        let count = pressures.len() - others.len();
        let is_far = median_of(&others).is_some_and(|median| mark_pa > 5.0 * median);
        if count >= 2 && is_far {
            messages.push(seen.place(
                Message::warning(codes::SENTINEL, format!("{} holds {mark} {count} times, far above the rest", quoted(&seen.channel.plan.column)))
                    .done("The samples were kept.")
                    .next(format!("If it means that there is no value, state missing = [\"{mark}\"] in the reading plan.")),
                first,
            ));
        }
    }
}

/// Most samples in a row that are a spike or a dropout, and no event.
const LONGEST_SPIKE: usize = 5;

/// Says where a few samples jump away and back; none is removed.
pub(super) fn note_spikes(seen: &Seen<'_>, messages: &mut Vec<Message>) {
    let pressures = &seen.trace.pressures_pa;
    if pressures.len() < 20 {
        return;
    }
    let mut steps: Vec<f64> = pressures.windows(2).map(|pair| (pair[1] - pair[0]).abs()).collect();
    let largest = steps.iter().copied().fold(0.0, f64::max);
    let middle = steps.len() / 2;
    let median = *steps.select_nth_unstable_by(middle, f64::total_cmp).1;
    let limit = 50.0 * median;
    if median <= 0.0 || largest <= limit {
        return;
    }
    // Samples away, from one on: they come back to where they were.
    let away = |at: usize| {
        let jump = pressures[at] - pressures[at - 1];
        (1..=LONGEST_SPIKE).find(|length| {
            let Some(after) = pressures.get(at + length) else { return false };
            let back = after - pressures[at + length - 1];
            let is_back = *length == 1 || (after - pressures[at - 1]).abs() < 0.2 * jump.abs();
            jump * back < 0.0 && jump.abs() > limit && back.abs() > limit && is_back
        })
    };
    let (mut count, mut first, mut at) = (0, None, 1);
    while at + 1 < pressures.len() {
        let n = away(at).unwrap_or(0);
        if n > 0 {
            first.get_or_insert(at);
            count += n;
        }
        at += n + 1;
    }
    let Some(first) = first else { return };
    messages.push(seen.place(
        Message::warning(codes::SPIKES, format!("{count} samples jump away from those around them by more than 50 times the usual step"))
            .done("They were kept.")
            .next("Leave them out only by a rule that the method states beforehand."),
        first,
    ));
}

/// Says so where the values carry no more than 24 bits, and what step that is.
fn note_coarse_storage(seen: &Seen<'_>, messages: &mut Vec<Message>) {
    let n = seen.trace.pressures_pa.len();
    let written = |sample: usize| seen.written(sample);
    // Samples enough to tell; decimal numbers of a few digits are not in it.
    let picked: Vec<f64> = (0..n).step_by((n / 64).max(1)).map(written).collect();
    let is_single =
        |&&value: &&f64| f64::from(value as f32) == value && (value * 1000.0).fract() != 0.0;
    if picked.iter().filter(is_single).count() * 10 < picked.len() * 8 {
        return;
    }
    let Some(level) = median_of(&picked).map(|level| level as f32) else { return };
    let step = f64::from(f32::from_bits(level.to_bits() + 1)) - f64::from(level);
    messages.push(
        Message::remark(
            codes::COARSE_PRESSURE,
            format!(
                "{} was stored with 24 bits: steps of {} Pa at {} Pa",
                quoted(&seen.channel.plan.column),
                tidy(step * seen.factor.abs()),
                tidy(f64::from(level) * seen.factor)
            ),
        )
        .in_column(seen.channel.index as u64 + 1, &seen.channel.plan.column)
        .done("It was read with all its digits.")
        .next("Export the values with double precision if the step matters."),
    );
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
                    tidy(seen.written(first)),
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
    note_standstill(seen, pressures, levels.len(), messages);
    note_coarse_storage(seen, messages);
    if pressures.len() >= 200 && levels.len() <= MOST_STEPS {
        let step = levels.windows(2).map(|pair| pair[1] - pair[0]).fold(f64::INFINITY, f64::min);
        messages.push(
            Message::remark(
                codes::STUCK,
                format!(
                    "{column} moves in steps: {} different values, the smallest step {} Pa",
                    levels.len(),
                    tidy(step)
                ),
            )
            .in_column(seen.channel.index as u64 + 1, &seen.channel.plan.column)
            .done("The trace was kept.")
            .next("Take a noise of at least the step divided by the root of 12."),
        );
    }
}

/// A stretch in which nothing moves while the rest does: at its highest value
/// the gauge may be at full scale, elsewhere it may hang. At the stated full
/// scale three samples are enough, elsewhere ten are needed.
fn note_standstill(
    seen: &Seen<'_>,
    pressures: &[f64],
    n_levels: usize,
    messages: &mut Vec<Message>,
) {
    let highest = pressures.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    let full_scale_pa = seen.channel.plan.full_scale.map(study::quantities::AbsolutePressure::pa);
    let is_full =
        |pressure: f64| full_scale_pa.is_some_and(|full| pressure >= full * (1.0 - 1.0e-6));
    // Where a channel moves in steps, standing still is its nature.
    let moves = n_levels > MOST_STEPS || n_levels * 4 > pressures.len();
    let (mut longest, mut at) = (0, 0);
    let mut run = 0;
    for sample in 0..pressures.len() {
        run = if sample > 0 && pressures[sample] == pressures[sample - 1] { run + 1 } else { 1 };
        let counts = run >= 10 && moves || run >= 3 && is_full(pressures[sample]);
        if counts && run > longest {
            (longest, at) = (run, sample + 1 - run);
        }
    }
    if longest == 0 {
        return;
    }
    let column = quoted(&seen.channel.plan.column);
    let message = if pressures[at] == highest || is_full(pressures[at]) {
        Message::warning(codes::CLIPPED, format!("{column} stands at its highest value for {longest} samples: the gauge may be at full scale"))
            .done("The samples were kept; a flat top is not a tight unit.")
            .next("State full_scale for the column in the reading plan, and do not evaluate a rise that ends there.")
    } else {
        Message::warning(codes::STUCK, format!("{column} stands still for {longest} samples"))
            .done("The samples were kept.")
            .next("Check whether the gauge hung, or was at the end of its range.")
    };
    messages.push(seen.place(message, at));
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

/// Six digits, for sentences.
fn tidy(value: f64) -> f64 {
    format!("{value:.5e}").parse().unwrap_or(value)
}
