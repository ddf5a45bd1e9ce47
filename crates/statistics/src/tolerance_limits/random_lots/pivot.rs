//! The pivotal limit of random lots as a factor, and its real confidence,
//! both by quadrature.

use super::Pivot;
use crate::distributions::chi_lanes::ChiLanes;
use crate::distributions::normal;
use crate::distributions::normal_lanes::density_and_survival;
use digits::lanes::{Eight, Lanes};
use digits::scalar::{exp, ln};

/// Numbers of lots and of values per lot (harmonic mean where unequal), and
/// the degrees of freedom within lots.
#[derive(Debug, Clone, Copy)]
pub(super) struct Design {
    pub lots: f64,
    pub per_lot: f64,
    pub within_df: f64,
}

/// Ratio of mean squares at which the grading begins and ends.
const GRADED: (f64, f64) = (0.05, 3.0);
/// Largest grading tried, and its step.
const STEEPEST: u32 = 20;
const STEP: f64 = 0.5;

/// Error share at a ratio of mean squares: `1 + grade` times nominal where
/// lots hardly differ, nominal from a ratio of 3 on.
pub(super) fn error_share(error: f64, ratio: f64, grade: f64) -> f64 {
    let place = ln(ratio.clamp(GRADED.0, GRADED.1) / GRADED.0) / ln(GRADED.1 / GRADED.0);
    (error * (1.0 + grade * (1.0 - place))).min(0.5)
}

impl Design {
    /// Factor `g` of `mean + g sqrt(W)` at a ratio of mean squares: the
    /// `target` quantile of the pivotal quantity in units of the deviation
    /// within lots.
    pub(super) fn factor(&self, ratio: f64, z: f64, target: f64) -> Option<f64> {
        let between_lanes = ChiLanes::new(self.lots - 1.0, 0.0, 1e-10);
        let within_lanes = ChiLanes::new(self.within_df, 0.0, 1e-10);
        let zero = Eight::splat(0.0);
        let one = Eight::splat(1.0);
        let mut parts = Vec::new();
        for (s, b_weight) in between_lanes.nodes().filter(|node| node.1 > 1e-12) {
            let between = ratio / (s * s);
            // A vanishing error would divide by zero; this one is a step.
            let error = (between / (self.lots * self.per_lot)).sqrt().max(1e-12);
            for (s, weight) in within_lanes.blocks() {
                let within = one / (*s * *s);
                let lots = (Eight::splat(between) - within) * Eight::splat(1.0 / self.per_lot);
                let centre = (lots.larger(zero) + within).sqrt() * Eight::splat(z);
                parts.push((*weight * Eight::splat(b_weight), 1.0 / error, centre));
            }
        }
        let below = |x: f64| {
            let (mut sum, mut slope) = (zero, zero);
            for (weight, inverse, centre) in &parts {
                let inverse = Eight::splat(*inverse);
                let argument = (*centre - Eight::splat(x)) * inverse;
                let (density, survival) = density_and_survival(argument);
                sum = sum + *weight * survival;
                slope = slope + *weight * density * inverse;
            }
            let total = |lanes: Eight| lanes.to_array().iter().sum::<f64>();
            (total(sum) - target, total(slope))
        };
        let mut high = z + 4.0;
        while below(high).0 < 0.0 {
            high *= 2.0;
            if high > 1e9 {
                return None;
            }
        }
        let start = (0.5 * high).max(z.min(high));
        let root = digits::roots::newton_in_bracket(-high, high, start, 1e-9, below);
        root.is_finite().then_some(root)
    }

    /// Grading under which the real confidence nowhere falls by more than a
    /// tenth of the error share below nominal.
    pub(super) fn grade(&self, content: f64, confidence: f64, pivot: Pivot) -> Option<f64> {
        if pivot == Pivot::Full {
            return Some(0.0);
        }
        let error = 1.0 - confidence;
        let z = normal::quantile(content);
        let mut table = Table::new(self, z, error, 0.0)?;
        let (mut good, mut bad) = (0, STEEPEST + 1);
        while bad - good > 1 {
            let middle = (good + bad) / 2;
            table.regrade(self, z, error, f64::from(middle) * STEP)?;
            let kept =
                |rho: &f64| self.real_confidence(&table, *rho, z) >= confidence - 0.1 * error;
            if RATIOS.iter().all(kept) {
                good = middle;
            } else {
                bad = middle;
            }
        }
        Some(f64::from(good) * STEP)
    }

    /// Probability that the tabled limit lies above the true quantile when
    /// the deviation between lots is `rho` times that within.
    pub(super) fn real_confidence(&self, table: &Table, rho: f64, z: f64) -> f64 {
        self.below(table, rho, z * (1.0 + rho * rho).sqrt(), true)
    }

    /// Probability that `mean + g sqrt(W)` lies above (or below) a place, for
    /// a true mean of zero and a true deviation within lots of one.
    pub(super) fn below(&self, table: &Table, rho: f64, place: f64, above: bool) -> f64 {
        let error = (rho * rho / self.lots + 1.0 / (self.lots * self.per_lot)).sqrt();
        let expected = 1.0 + self.per_lot * rho * rho;
        let between = ChiLanes::new(self.lots - 1.0, 0.0, 1e-8);
        let within: Vec<(f64, f64)> =
            ChiLanes::new(self.within_df, 0.0, 1e-8).nodes().filter(|n| n.1 > 1e-9).collect();
        let mut total = 0.0;
        for (b, b_weight) in between.nodes().filter(|node| node.1 > 1e-9) {
            for (w, w_weight) in &within {
                let g = table.factor(expected * b * b / (w * w));
                let distance = (w * g - place) / error;
                total += b_weight * w_weight * normal::cumulative(distance);
            }
        }
        if above { total } else { 1.0 - total }
    }
}

/// Deviations between lots over that within at which confidence is checked.
const RATIOS: [f64; 14] = [0.0, 0.15, 0.3, 0.4, 0.5, 0.6, 0.7, 0.85, 1.0, 1.25, 1.5, 2.0, 3.0, 6.0];

/// Factors over the logarithm of the ratio of mean squares.
pub(super) struct Table {
    /// Factor over `sqrt(1 + ratio)`, which is nearly flat.
    values: Vec<f64>,
}

const LOWEST: f64 = -5.0;
const SPACING: f64 = 0.15;
const NODES: usize = 114;

impl Table {
    pub(super) fn new(design: &Design, z: f64, error: f64, grade: f64) -> Option<Self> {
        let mut table = Self { values: vec![0.0; NODES] };
        for i in 0..NODES {
            table.fill(i, design, z, error, grade)?;
        }
        Some(table)
    }

    fn fill(&mut self, i: usize, design: &Design, z: f64, error: f64, grade: f64) -> Option<()> {
        let ratio = exp(LOWEST + SPACING * i as f64);
        let target = 1.0 - error_share(error, ratio, grade);
        self.values[i] = design.factor(ratio, z, target)? / (1.0 + ratio).sqrt();
        Some(())
    }

    /// Recomputes the part that the grading touches.
    fn regrade(&mut self, design: &Design, z: f64, error: f64, grade: f64) -> Option<()> {
        let touched = ((ln(GRADED.1) - LOWEST) / SPACING) as usize + 1;
        (0..touched.min(NODES)).try_for_each(|i| self.fill(i, design, z, error, grade))
    }

    fn factor(&self, ratio: f64) -> f64 {
        let place = ((ln(ratio.max(1e-300)) - LOWEST) / SPACING).clamp(0.0, (NODES - 1) as f64);
        let low = (place as usize).min(NODES - 2);
        let share = place - low as f64;
        let value = self.values[low] * (1.0 - share) + self.values[low + 1] * share;
        value * (1.0 + ratio).sqrt()
    }
}
