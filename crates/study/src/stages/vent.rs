//! Where the chamber is opened at the end, at once or slowly.

use super::curve::Curve;
use super::{first_index_of_least, noise_of, running_means};

/// A record that ends above one of these shares of the way back to its start was
/// vented, or has a leak that fills the chamber: the bend tells which. The rise
/// itself may pass the lower ones.
const BACK: [f64; 4] = [0.3, 0.5, 0.7, 0.9];
/// How many times steeper than before a vent rises.
const STEEPER: f64 = 5.0;
/// A vent leaves the curve before it by more than this share of the way back.
const FAR: f64 = 0.1;
/// Samples over which its steepness is taken at least.
const AT_LEAST: usize = 4;
/// Samples leave a curve beyond so many standard deviations.
const BEYOND: f64 = 4.0;

/// Index from which on the chamber is open again, the number of samples where it
/// stays closed to the end.
///
/// A rise back towards the pressure at the start that ends the record is a vent
/// where it bends upward: gas through a leak, however large, comes ever more
/// slowly as chamber and source even out.
pub(super) fn vented_from(times: &[f64], pressures: &[f64]) -> usize {
    let n = pressures.len();
    let smooth = running_means(pressures);
    let start = pressures[0];
    // The lowest after the room was left.
    let lowest_at = first_index_of_least(&smooth);
    let lowest = smooth[lowest_at];
    if !(start > lowest) {
        return n;
    }
    BACK.into_iter()
        .find_map(|share| {
            vent_below(times, pressures, lowest_at, lowest + share * (start - lowest))
        })
        .unwrap_or(n)
}

/// The vent, where the record bends upward before it passes `back` for the last
/// time.
fn vent_below(times: &[f64], pressures: &[f64], lowest_at: usize, back: f64) -> Option<usize> {
    let n = pressures.len();
    let crossing = pressures.iter().rposition(|&value| value < back).map_or(0, |at| at + 1);
    if crossing >= n || crossing < lowest_at + 4 {
        return None;
    }
    // Before the vent: the later part of what lies between, without its end.
    let between = crossing - lowest_at;
    let from = lowest_at + between * 2 / 5;
    let mut to = crossing - (between / 20).max(2);
    let mut open = crossing;
    let mut curve = None;
    // The first guess may hold some of the vent: the curve is drawn again through
    // what lies before it.
    for _ in 0..3 {
        let from = from.min(to.saturating_sub(3));
        let Some(before) = Curve::through(&times[from..to], &pressures[from..to]) else { break };
        curve = Some(before);
        let noise = noise_of(&pressures[lowest_at..to]).max(before.sd.min(noise_limit(pressures)));
        let leaves = |at: usize| pressures[at] - before.at(times[at]) > BEYOND * noise;
        let mut at = crossing;
        while at > from && leaves(at - 1) {
            at -= 1;
        }
        open = at;
        let next = open.saturating_sub(1).max(lowest_at + 3);
        if next >= to {
            break;
        }
        to = next;
    }
    // It goes far from what came before, and does so steeply: neighbours alone
    // may be apart by chance.
    let before = curve?;
    let departure =
        (open..n).map(|at| pressures[at] - before.at(times[at])).fold(f64::NEG_INFINITY, f64::max);
    let way = pressures[0] - smooth_lowest(pressures, lowest_at);
    let rate = |from: usize, to: usize| {
        let time = times[to] - times[from];
        if time > 0.0 { (pressures[to] - pressures[from]) / time } else { f64::INFINITY }
    };
    let last_before = open.saturating_sub(1);
    let steepness = rate(last_before, crossing.max(last_before + AT_LEAST).min(n - 1));
    let earlier = rate(lowest_at, last_before.max(lowest_at + 1)).max(0.0);
    (departure > FAR * way && steepness > STEEPER * earlier).then_some(open)
}

/// The level about the lowest sample.
fn smooth_lowest(pressures: &[f64], lowest_at: usize) -> f64 {
    let around = lowest_at.saturating_sub(2)..(lowest_at + 3).min(pressures.len());
    digits::sums::mean(&pressures[around]).unwrap_or(pressures[lowest_at])
}

/// A curve that fits badly must not hide the vent behind what it leaves.
fn noise_limit(pressures: &[f64]) -> f64 {
    let high = pressures.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    1e-3 * high.abs()
}
