//! The record as it is searched: odd samples taken out, what stands at room
//! pressure cut off, thinned and cut into straight pieces.

use super::pieces::{Blocks, Cut, cut, noise_by_second_differences};

/// The record between the rooms before and after it.
pub(super) struct Record<'a> {
    pub(super) times: &'a [f64],
    pub(super) values: Vec<f64>,
    pub(super) blocks: Blocks,
    pub(super) cut: Cut,
    /// Samples that were taken out and stood above both neighbours by a large part
    /// of the fall.
    pub(super) peaks: Vec<usize>,
    /// Index of its first sample in the whole.
    pub(super) offset: usize,
    /// Noise of a sample, Pa.
    pub(super) sample_noise: f64,
    /// Noise below which nothing is looked for, Pa.
    pub(super) least_noise: f64,
    /// From the start to the lowest, Pa.
    pub(super) fall: f64,
    /// Pressure at the start, Pa.
    pub(super) start: f64,
}

/// Share of the fall below which the room is left.
const LEFT: f64 = 0.1;
/// A single sample that stands out by this share of the fall may be a vent
/// between two cycles.
const PEAK: f64 = 0.2;
/// Digits of a double that a record without noise keeps.
const ROUNDING: f64 = 1e-7;

/// Standard deviation of a value that lies anywhere within a step, `1/sqrt(12)`.
const OF_A_STEP: f64 = 0.288_675;

impl<'a> Record<'a> {
    /// `None` where nothing falls.
    pub(super) fn of(times: &'a [f64], pressures: &[f64]) -> Option<Self> {
        let values = without_odd_samples(pressures);
        let start = Blocks::of(times, &values).values[0].max(values[0]);
        let lowest = Blocks::of(times, &values).values.into_iter().fold(f64::INFINITY, f64::min);
        let fall = start - lowest;
        if !(fall > 0.0) {
            return None;
        }
        let left = |value: &f64| *value < start - LEFT * fall;
        let first = values.iter().position(left)?;
        let last = values.iter().rposition(left)?;
        let beside = (last - first) / 20 + 8;
        let range = first.saturating_sub(beside)..(last + beside).min(values.len());
        let (times, values) = (&times[range.clone()], values[range.clone()].to_vec());
        let is_peak = |at: &usize| pressures[*at] - values[*at - range.start] > PEAK * fall;
        let peaks = range.clone().filter(is_peak).map(|at| at - range.start).collect();
        let blocks = Blocks::of(times, &values);
        let least_noise = (ROUNDING * fall).max(OF_A_STEP * step_of(&values));
        let cut = cut(&blocks, least_noise);
        let sample_noise = noise_by_second_differences(&values).max(least_noise);
        Some(Self {
            times,
            blocks,
            cut,
            offset: range.start,
            peaks,
            sample_noise,
            least_noise,
            fall,
            start,
            values,
        })
    }

    /// Noise of a block, with its memory, carried to a sample, Pa.
    pub(super) fn remembering_noise(&self) -> f64 {
        self.least_noise.max(self.cut.noise * (self.blocks.stride as f64).sqrt())
    }

    /// First sample of a block; the number of samples past the last.
    pub(super) fn sample(&self, block: usize) -> usize {
        (block * self.blocks.stride).min(self.values.len())
    }
}

/// Step of a gauge that moves in steps larger than its noise: the smallest
/// difference of neighbours, where a fifth of them do not differ at all in the
/// lower part of the record; zero otherwise.
fn step_of(values: &[f64]) -> f64 {
    let low = values.iter().copied().fold(f64::INFINITY, f64::min);
    let high = values.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    let below = low + 0.5 * (high - low);
    let (mut same, mut all, mut least) = (0_usize, 0_usize, f64::INFINITY);
    for two in values.windows(2).filter(|two| two[0] <= below && two[1] <= below) {
        let apart = (two[1] - two[0]).abs();
        all += 1;
        if apart > 1e-9 * high.abs() {
            least = least.min(apart);
        } else {
            same += 1;
        }
    }
    if 5 * same > all && least.is_finite() { least } else { 0.0 }
}

/// The pressures with single samples that stand far from both neighbours put
/// between them.
pub(super) fn without_odd_samples(pressures: &[f64]) -> Vec<f64> {
    /// So many times what the neighbours are apart, and noise.
    const FAR: f64 = 10.0;
    let noise = noise_by_second_differences(pressures);
    let mut values = pressures.to_vec();
    for (at, three) in pressures.windows(3).enumerate() {
        let [before, here, after] = [three[0], three[1], three[2]];
        let (up, down) = (here - before.max(after), before.min(after) - here);
        if up.max(down) > FAR * ((before - after).abs() + noise) {
            values[at + 1] = 0.5 * (before + after);
        }
    }
    values
}
