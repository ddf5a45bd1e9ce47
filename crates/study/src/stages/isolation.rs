//! Where the chamber was isolated: the bend from pumping into the rise.

use statistics::autocorrelation::slope_with_autocorrelation;

use super::knot::{Before, knot};
use super::pieces::Piece;
use super::record::Record;

/// The bend.
#[derive(Debug, Clone, Copy)]
pub(super) struct Bend {
    /// First sample of the isolated chamber.
    pub(super) at: usize,
    /// Earliest and latest sample that may as well be it.
    pub(super) from: usize,
    pub(super) to: usize,
    /// Whether what follows rises beyond chance; without a rise the bend cannot
    /// be seen, and `at` is where the pressure had come down.
    pub(super) rises: bool,
}

/// Standard errors beyond which the slope of the closed chamber is not chance.
const NOT_CHANCE: f64 = 3.0;
/// And that of one of many pieces.
const NOT_CHANCE_OF_MANY: f64 = 4.0;
/// The bend is sought below so many deviations of a sample over the lowest: the
/// fall above is no straight line.
const NEAR_THE_BOTTOM: f64 = 10.0;
/// A fall by so many deviations of a block within the closed chamber is none by
/// chance, though the largest of many.
const FALLS_BACK: f64 = 8.0;
/// Samples, or blocks, at the bottom of a fall that may still belong to it.
const STILL_FALLING: usize = 2;
/// A bend explains so many variances at least: the best of many places explains
/// some by chance.
const CLEAR: f64 = 20.0;
/// A stretch that rises by this share of what follows is no level that is held.
const RISES_ALREADY: f64 = 0.3;

/// Where the pressure had come down: the first block that stands, within noise,
/// at the lowest level of the pieces.
pub(super) fn came_down(record: &Record<'_>) -> usize {
    let tolerance = 4.0 * record.cut.noise;
    let floor = floor(&record.cut.pieces);
    let near = |level: f64| level <= floor + tolerance;
    record
        .cut
        .pieces
        .iter()
        .find_map(|piece| {
            if near(piece.first) {
                Some(piece.from)
            } else if near(piece.last) {
                Some(piece.to - 1)
            } else {
                None
            }
        })
        .unwrap_or(0)
}

/// Lowest level of the pieces, Pa.
pub(super) fn floor(pieces: &[Piece]) -> f64 {
    pieces.iter().map(|piece| piece.first.min(piece.last)).fold(f64::INFINITY, f64::min)
}

/// Finds the bend between `down` and the block `end`, where the closed chamber
/// ends, to the sample at `end_sample`.
pub(super) fn isolated_at(record: &Record<'_>, down: usize, end: usize, end_sample: usize) -> Bend {
    let down_sample = record.sample(down).min(end_sample);
    let pieces = &record.cut.pieces;
    let first = pieces.iter().position(|piece| piece.from >= down).unwrap_or(pieces.len());
    let last = pieces.iter().position(|piece| piece.from >= end).unwrap_or(pieces.len());
    // The foot of the vent is no rise of the closed chamber.
    let foot = end - ((end - down.min(end)) / 30).max(3).min(end);
    let rising = (first..last).find(|&place| rises(record, place) && pieces[place].from < foot);
    let Some(rising) = rising else {
        // A slope too small to be told in pieces may yet be no chance. The block in
        // which it came down may still fall.
        let at = record.sample(down + STILL_FALLING).min(end_sample);
        let rises = slope_is_no_chance(record, at, end_sample);
        return Bend { at, from: down_sample, to: end_sample, rises };
    };
    let (at, from, to) = bend_before(record, rising, end_sample);
    Bend { at, from, to, rises: true }
}

/// Whether a piece rises beyond chance, by its slope or by a jump into it.
fn rises(record: &Record<'_>, place: usize) -> bool {
    let (piece, noise) = (&record.cut.pieces[place], record.cut.noise);
    let by_slope = piece.slope > NOT_CHANCE_OF_MANY * piece.slope_error
        && piece.last - piece.first > 2.0 * noise;
    let by_jump = place > 0
        && piece.first - record.cut.pieces[place - 1].last > 5.0 * noise
        && record.cut.pieces[place - 1].last - floor(&record.cut.pieces) <= 4.0 * noise;
    by_slope || by_jump
}

fn slope_is_no_chance(record: &Record<'_>, from: usize, to: usize) -> bool {
    slope_with_autocorrelation(&record.times[from..to], &record.values[from..to])
        .is_ok_and(|found| found.slope > NOT_CHANCE * found.standard_error)
}

/// Whether the pressure falls within the closed chamber, from the sample `from`
/// to the block `end`, by more than noise and a tenth of its rise.
pub(super) fn falls_within(record: &Record<'_>, from: usize, end: usize) -> bool {
    const SHARE: f64 = 0.1;
    let inside = |block: &usize| record.sample(*block) >= from && *block < end.saturating_sub(1);
    let values = &record.blocks.values;
    let mut highest = f64::NEG_INFINITY;
    let mut lowest_after = 0.0_f64;
    let mut first = None;
    for block in (0..values.len()).filter(inside) {
        // Means of two neighbours, so that one odd block is no fall.
        let level = 0.5 * (values[block] + values[(block + 1).min(values.len() - 1)]);
        first.get_or_insert(level);
        highest = highest.max(level);
        lowest_after = lowest_after.max(highest - level);
    }
    let rise = highest - first.unwrap_or(highest);
    lowest_after > (FALLS_BACK * record.cut.noise).max(SHARE * rise)
}

/// The bend at the start of a rising piece, to the sample.
fn bend_before(record: &Record<'_>, rising: usize, end: usize) -> (usize, usize, usize) {
    let (at, from, to) = bend_by_lines(record, rising, end);
    // A chamber that has left its lowest pressure for good is closed: a fast recovery
    // bends more than two lines do.
    let noise = record.remembering_noise().max(record.sample_noise);
    let back = from.min(record.sample(record.cut.pieces[rising].from));
    let searched = back.saturating_sub(2 * record.blocks.stride.max(2))..(at + 1).min(end);
    let Some(bottom) = searched.min_by(|a, b| record.values[*a].total_cmp(&record.values[*b]))
    else {
        return (at, from, to);
    };
    let near = record.values[bottom] + NEAR_THE_BOTTOM * noise;
    match (bottom..at).find(|&later| record.values[later..at].iter().all(|&value| value > near)) {
        Some(left) if left < at => (left, from.min(left), left.max(bottom)),
        _ => (at, from, to),
    }
}

fn bend_by_lines(record: &Record<'_>, rising: usize, end: usize) -> (usize, usize, usize) {
    let pieces = &record.cut.pieces;
    let stride = record.blocks.stride;
    let few = 3 * stride.max(2);
    let bend = record.sample(pieces[rising].from);
    let right = record.sample(pieces[rising].to).max(bend + few).min(end);
    let earlier = rising.checked_sub(1).map_or(bend, |before| record.sample(pieces[before].from));
    let left = earlier.min(bend.saturating_sub(few));
    // The fall is straight only near the bottom.
    let bottom = (left..right)
        .min_by(|a, b| record.values[*a].total_cmp(&record.values[*b]))
        .unwrap_or(bend);
    let near = record.values[bottom] + NEAR_THE_BOTTOM * record.sample_noise;
    let left = (left..bottom).rfind(|&at| record.values[at] > near).map_or(left, |at| at + 1);
    // The fall ends so fast that little of it stands near the bottom, unless the
    // record bends upward there.
    let mut found = (left, left.saturating_sub(1), bottom.max(left));
    // The pieces may tell a level before the rise that two lines do not.
    let held_piece = rising.checked_sub(1).and_then(|before| {
        let piece = &pieces[before];
        let still = piece.slope.abs() <= NOT_CHANCE_OF_MANY * piece.slope_error;
        (piece.to - piece.from >= 3 && still).then_some(bend)
    });
    let noise = record.remembering_noise();
    let bent = |from: usize, before: Before| {
        knot(record.times, &record.values, from..right, before, noise)
    };
    // A fall that runs out by itself gives way to the rise somewhere in its tail, or
    // after it.
    if let Some(tail_s) = tail_of_fall(record, rising) {
        return bent(left, Before::Tail(tail_s))
            .map_or(found, |tail| (tail.at, tail.from, tail.to));
    }
    // A bend of what is left of the fall comes before that into the rise.
    let mut from = left;
    for _ in 0..3 {
        let Some(bend) = bent(from, Before::Sloping) else { break };
        let (before, error) = bend.before;
        if bend.gain < CLEAR || before > -NOT_CHANCE * error || bend.after < before {
            break;
        }
        found = (bend.at, bend.from, bend.to);
        from = bend.at;
    }
    // A level that is held before the rise, or that may hide in it.
    // The first samples may still fall.
    let settled = if from == left { left + STILL_FALLING } else { from };
    if let Some(held) = bent(settled, Before::Level) {
        // What rises already at first, and more slowly then, is no level.
        let (before, error) = held.before;
        let is_level = before < (RISES_ALREADY * held.after).max(NOT_CHANCE * error);
        if held.gain > CLEAR && held.after > 0.0 && is_level {
            found = (held.at, held.from, held.to);
        } else if let Some(before) = held_piece {
            found = (before, before.saturating_sub(stride), before + stride);
        } else if held.gain <= CLEAR {
            found.2 = found.2.max(held.hidden_to);
        }
    }
    found
}

/// Time constant of the fall, s, if it runs out by itself: the last two falling
/// pieces, carried on as an exponential, come to rest at the lowest level. A fall
/// that would go on far below it was cut off.
fn tail_of_fall(record: &Record<'_>, rising: usize) -> Option<f64> {
    /// The level to which it runs may be off by so many deviations, and by this
    /// share of what was still to come.
    const OFF: f64 = 5.0;
    const OFF_SHARE: f64 = 0.3;
    let (pieces, times) = (&record.cut.pieces, &record.blocks.times);
    let falls = |piece: &&Piece| {
        piece.to - piece.from >= 2 && piece.slope < -NOT_CHANCE_OF_MANY * piece.slope_error
    };
    let mut falling = pieces[..rising].iter().rev().filter(falls);
    let (late, early) = (falling.next()?, falling.next()?);
    let centre = |piece: &Piece| 0.5 * (times[piece.from] + times[piece.to - 1]);
    let ratio = early.slope / late.slope;
    if !(ratio > 1.0) {
        return None;
    }
    let tau_s = (centre(late) - centre(early)) / digits::scalar::ln(ratio);
    // What is still to come after the last of them.
    let half_s = 0.5 * (times[late.to - 1] - times[late.from]);
    let left = -late.slope * tau_s * digits::scalar::exp(-half_s / tau_s);
    let off = (OFF * record.cut.noise).max(OFF_SHARE * left);
    (late.last - left >= floor(pieces) - off).then_some(tau_s)
}
