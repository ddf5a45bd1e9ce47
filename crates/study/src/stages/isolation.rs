//! Where the chamber was isolated: the bend from pumping into the rise.

use statistics::autocorrelation::slope_with_autocorrelation;

use super::curve::Curve;
use super::{FEWEST, noise_of};

/// The bend.
#[derive(Debug, Clone, Copy)]
pub(super) struct Bend {
    /// First sample of the isolated chamber.
    pub(super) at: usize,
    /// Whether what follows rises beyond chance; without a rise the bend cannot
    /// be seen, and `at` is where the pressure had come down.
    pub(super) rises: bool,
}

/// Standard errors beyond which a slope is not chance.
const NOT_CHANCE: f64 = 3.0;
/// A rise to so many standard deviations of a sample is none by chance.
const FAR_ABOVE: f64 = 20.0;
/// A rise is under way where its means stand so many standard deviations of a
/// sample above the lowest.
const UNDER_WAY: f64 = 3.0;
/// Share of the record after the lowest pressure through which the curve of the
/// rise is drawn.
const FOLLOWED: f64 = 0.4;

/// Finds the bend. `smooth` are means over a few samples, `lowest_at` the place of
/// the least of them.
pub(super) fn isolated_at(
    times: &[f64],
    pressures: &[f64],
    smooth: &[f64],
    lowest_at: usize,
    noise: f64,
) -> Bend {
    let end = pressures.len();
    // Where the pressure had come down: the first sample near the lowest.
    let lowest = smooth[lowest_at];
    let near = lowest + (3.0 * noise).max(0.02 * lowest.abs());
    let down = smooth.iter().position(|&value| value <= near).unwrap_or(lowest_at);
    let after = end - lowest_at;
    if after < FEWEST {
        return Bend { at: lowest_at, rises: false };
    }
    let slope = slope_with_autocorrelation(&times[lowest_at..], &pressures[lowest_at..]);
    let highest = smooth[lowest_at..].iter().copied().fold(f64::NEG_INFINITY, f64::max);
    // A gauge that ends on the way bends the record more than a line allows.
    let rises = slope.is_ok_and(|found| found.slope > NOT_CHANCE * found.standard_error)
        || highest > lowest + FAR_ABOVE * noise;
    if !rises {
        return Bend { at: down, rises };
    }
    // Where the rise is surely under way; a curve through what follows is then
    // drawn back to the level from which it began.
    let from = smooth
        .iter()
        .rposition(|&value| value <= lowest + UNDER_WAY * noise)
        .map_or(lowest_at, |last| last.max(lowest_at))
        .min(end - FEWEST);
    let left = end - from;
    let mut follow = ((left as f64 * FOLLOWED) as usize).max(FEWEST);
    // Shorter, until a parabola says no less than the noise does.
    let rise = loop {
        let to = (from + follow).min(end);
        let Some(rise) = Curve::through(&times[from..to], &pressures[from..to]) else {
            return Bend { at: from, rises };
        };
        if rise.sd <= 1.3 * noise_of(&pressures[from..to]) || follow <= FEWEST {
            break rise;
        }
        follow = (follow / 2).max(FEWEST);
    };
    let mut at = from;
    while at > down {
        let (here, before) = (rise.at(times[at]), rise.at(times[at - 1]));
        if before < lowest || before > here {
            break;
        }
        at -= 1;
    }
    Bend { at, rises }
}
