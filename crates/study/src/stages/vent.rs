//! Where the chamber is opened at the end, at once or slowly.
//!
//! A rise back towards the pressure at the start that ends the record is a vent
//! where it bends upward: gas through a leak, however large, comes ever more
//! slowly as chamber and source even out.

use super::isolation::floor;
use super::knot::{Before, knot};
use super::record::Record;

/// A record that ends above one of these shares of the way back to its start was
/// vented, or has a leak that fills the chamber. The rise itself may pass the
/// lower ones.
const BACK: [f64; 7] = [0.05, 0.1, 0.2, 0.3, 0.5, 0.7, 0.9];
/// How many times steeper than before a vent rises.
const STEEPER: f64 = 5.0;
/// A vent leaves what came before it by more than this share of the way back.
const FAR: f64 = 0.1;
/// A jump between two pieces of this share of the way back is no noise.
const A_JUMP: f64 = 0.02;
/// A vent begins with no less than this share of its steepness.
const A_FOOT: f64 = 0.02;
/// A vent goes on this share of the way back at least,
const HALFWAY: f64 = 0.5;
/// and until then keeps this share of its first steepness.
const SLACKENS: f64 = 0.1;
/// A valve that opens slowly makes it steeper by this factor at most.
const OPENS: f64 = 25.0;

/// The vent.
#[derive(Debug, Clone, Copy)]
pub(super) struct Vent {
    /// Its first block.
    pub(super) block: usize,
    /// Its first sample, to the sample.
    pub(super) at: usize,
}

/// The vent of a record whose pressure had come down at the block `down`.
pub(super) fn vent(record: &Record<'_>, down: usize) -> Option<Vent> {
    let floor = floor(&record.cut.pieces);
    let way = record.start - floor;
    BACK.into_iter().find_map(|share| vent_past(record, down, floor, floor + share * way, way))
}

fn vent_past(record: &Record<'_>, down: usize, floor: f64, back: f64, way: f64) -> Option<Vent> {
    let (pieces, blocks) = (&record.cut.pieces, &record.blocks);
    let n = blocks.values.len();
    // The last time that it passes.
    let crossing = blocks.values.iter().rposition(|&value| value < back)? + 1;
    if crossing >= n || crossing <= down {
        return None;
    }
    let time = |piece: usize| blocks.times[pieces[piece].to - 1];
    // Mean rise from when it had come down to the end of a piece.
    let mean_rise = |piece: usize| {
        let since = time(piece) - blocks.times[down];
        if since > 0.0 { ((pieces[piece].last - floor) / since).max(0.0) } else { f64::INFINITY }
    };
    // Of the piece as a whole, or of the jump into it.
    let rate = |piece: usize| {
        let (before, here) = (&pieces[piece - 1], &pieces[piece]);
        let whole = (here.last - before.last) / (time(piece) - time(piece - 1));
        let jump = here.first - before.last;
        let jump_s = blocks.times[here.from] - time(piece - 1);
        if jump > A_JUMP * way { whole.max(jump / jump_s) } else { whole }
    };
    let mut first = pieces.iter().position(|piece| piece.to > crossing)?;
    // Back over everything that is steep.
    let is_steep = |piece: usize| {
        piece > 0
            && pieces[piece - 1].to > down
            && rate(piece) > STEEPER * mean_rise(piece - 1)
            && rate(piece) > 0.0
    };
    if !is_steep(first) {
        return None;
    }
    let is_short = |piece: usize| pieces[piece].to - pieces[piece].from < 3;
    while is_steep(first - 1) && (rate(first - 1) > A_FOOT * rate(first) || is_short(first - 1)) {
        first -= 1;
    }
    // A closed chamber comes before it, which rose less steeply itself.
    let before = &pieces[first - 1];
    let climb_s = blocks.times[crossing] - time(first - 1);
    let steepness = (back - before.last) / climb_s.max(f64::MIN_POSITIVE);
    let highest = blocks.values[pieces[first].from..].iter().copied().fold(before.last, f64::max);
    if highest - before.last < FAR * way || steepness < STEEPER * before.slope {
        return None;
    }
    // A rise that takes longer than the chamber was closed before it is no vent,
    // but a gross leak.
    let closed_s = time(first - 1) - blocks.times[down];
    let halfway = blocks.values.iter().rposition(|&value| value < floor + HALFWAY * way);
    let there = halfway.map_or(n - 1, |at| (at + 1).min(n - 1));
    if blocks.times[there] - time(first - 1) > closed_s {
        return None;
    }
    if !goes_on(record, crossing, floor + HALFWAY * way, steepness) {
        return None;
    }
    let at = to_the_sample(record, first);
    Some(Vent { block: pieces[first].from, at })
}

/// Whether a rise goes on steeply to half of the way back, or to the end of the
/// record: gas that warms up again after pumping comes to rest before.
fn goes_on(record: &Record<'_>, crossing: usize, halfway: f64, steepness: f64) -> bool {
    let (pieces, times) = (&record.cut.pieces, &record.blocks.times);
    let (mut level, mut since) = (record.blocks.values[crossing - 1], times[crossing - 1]);
    for piece in pieces.iter().filter(|piece| piece.to > crossing) {
        let now = times[piece.to - 1];
        if level >= halfway {
            return true;
        }
        let usual = steepness * (now - since);
        // It slackens; or what was taken for the vent is a rise before it.
        if piece.last - level < SLACKENS * usual || piece.last - level > OPENS * usual {
            return false;
        }
        (level, since) = (piece.last, now);
    }
    true
}

/// The bend at the start of the first piece of the vent.
fn to_the_sample(record: &Record<'_>, first: usize) -> usize {
    /// Deviations of a sample beyond which the rise is not noise.
    const BEYOND: f64 = 5.0;
    let stride = record.blocks.stride;
    let pieces = &record.cut.pieces;
    let bend = record.sample(pieces[first].from);
    let before = &pieces[first - 1];
    let from = record.sample(before.from).max(bend.saturating_sub(20 * stride.max(3)));
    // The line before it, carried on, until the samples leave it for good.
    let start_s = record.blocks.times[before.from];
    let noise = record.sample_noise.max(record.least_noise);
    let line = |at: usize| before.first + before.slope * (record.times[at] - start_s);
    let until = (bend + 2 * stride + 1).min(record.values.len());
    let stays = |at: &usize| record.values[*at] - line(*at) <= BEYOND * noise;
    let leaves = (from..until).rfind(stays).map_or(from, |at| at + 1);
    // Where it leaves slowly the bend itself lies before.
    let to = (leaves + 2 * stride.max(4)).min(record.values.len());
    match knot(record.times, &record.values, from..to, Before::Sloping, record.least_noise) {
        Some(found) => found.from.min(leaves),
        None => leaves,
    }
}
