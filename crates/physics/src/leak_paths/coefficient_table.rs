//! The integrals of the two kinetic coefficients, tabulated once for all leaks.
//!
//! A cycle asks for the mean coefficient of a channel or gap thousands of times.
//! Its shape enters the coefficient by one number only, so one table of each
//! curve's integral, made when it is first needed, answers for every leak.

use std::sync::LazyLock;

use super::channel::{ChannelLaw, channel_conductance_fit};
use super::flow_law::Coefficient;
use super::slit::{SlitLaw, slit_conductance_coefficient};

/// Parts into which each octave of rarefaction is divided, as a power of two.
const OCTAVE_BITS: u32 = 6;
/// Lowest rarefaction in the table, 2^-40: below, the coefficient of the channel
/// is its limit within 3e-8.
const LOWEST: f64 = 1.0 / 1_099_511_627_776.0;
/// Highest rarefaction in the table, 2^20: a hole of a decimetre at 1 atm lies
/// below.
pub(super) const HIGHEST: f64 = 1_048_576.0;
/// Below this share of the higher rarefaction a difference of integrals would
/// lose digits; the mean is then taken over the table's own slopes.
const NARROW: f64 = 1.0e-3;

const STEP: u32 = 52 - OCTAVE_BITS;

const fn place(rarefaction: f64) -> usize {
    ((rarefaction.to_bits() >> STEP) - (LOWEST.to_bits() >> STEP)) as usize
}

fn node(index: usize) -> f64 {
    f64::from_bits(((LOWEST.to_bits() >> STEP) + index as u64) << STEP)
}

/// Integral from zero, and value, of several curves at each node.
type Nodes<const K: usize> = Vec<[(f64, f64); K]>;

/// Long channel, and what a short one has beyond it (see [`ChannelLaw`]).
static CHANNEL: LazyLock<Nodes<2>> = LazyLock::new(|| {
    tabulate([
        (channel_conductance_fit as Curve, channel_conductance_fit(0.0) * LOWEST),
        (ChannelLaw::dip, 0.0),
    ])
});

/// Endless gap; its integral counts from the lowest node.
static SLIT: LazyLock<Nodes<1>> =
    LazyLock::new(|| tabulate([(slit_conductance_coefficient as Curve, 0.0)]));

/// A coefficient over rarefaction.
type Curve = fn(f64) -> f64;

/// Each curve with its integral up to the lowest node.
fn tabulate<const K: usize>(curves: [(Curve, f64); K]) -> Nodes<K> {
    let count = place(HIGHEST) + 2;
    let mut integrals = curves.map(|(_, below)| below);
    (0..count)
        .map(|index| {
            let (from, to) = (node(index), node(index + 1));
            let entry = core::array::from_fn(|k| (integrals[k], (curves[k].0)(from)));
            for (integral, (curve, _)) in integrals.iter_mut().zip(curves) {
                *integral += panel(curve, from, to);
            }
            entry
        })
        .collect()
}

/// Integral over a short panel, Gauss with three points.
fn panel(curve: Curve, from: f64, to: f64) -> f64 {
    let (middle, half) = (0.5 * (from + to), 0.5 * (to - from));
    let reach = half * 0.774_596_669_241_483_4;
    half * (5.0 * (curve(middle - reach) + curve(middle + reach)) + 8.0 * curve(middle)) / 9.0
}

/// The cell of a rarefaction: index, part of the cell, width.
#[inline(always)]
fn cell(rarefaction: f64) -> (usize, f64, f64) {
    let index = place(rarefaction);
    let from = node(index);
    let width = node(index + 1) - from;
    (index, (rarefaction - from) / width, width)
}

/// Cubic between two nodes, with the curve as slope.
#[inline(always)]
fn cubic([(a, slope_a), (b, slope_b)]: [(f64, f64); 2], t: f64, width: f64) -> f64 {
    let u = 1.0 - t;
    u * u * (1.0 + 2.0 * t) * a
        + t * t * (1.0 + 2.0 * u) * b
        + width * u * t * (u * slope_a - t * slope_b)
}

/// Slope of [`cubic`].
#[inline(always)]
fn slope([(a, slope_a), (b, slope_b)]: [(f64, f64); 2], t: f64, width: f64) -> f64 {
    let u = 1.0 - t;
    6.0 * u * t * ((b - a) / width) + u * (1.0 - 3.0 * t) * slope_a + t * (3.0 * t - 2.0) * slope_b
}

/// A coefficient that answers from the tables: within 1e-9 of its law (channel)
/// and 1e-6 (gap, whose own table has bends of curvature).
#[derive(Debug, Clone, Copy)]
pub(super) struct Tabulated<L> {
    law: L,
    /// Gap: where the finite depth stops cutting the coefficient off.
    cut: f64,
}

impl<L> Tabulated<L> {
    /// Mean from integral and slope.
    #[inline(always)]
    fn mean_of(high: f64, low: f64, both: impl Fn(f64) -> (f64, f64)) -> f64 {
        let width = high - low;
        let (above, below) = (both(high), both(low));
        if width >= NARROW * high {
            return (above.0 - below.0) / width;
        }
        (above.1 + below.1 + 4.0 * both(0.5 * (high + low)).1) / 6.0
    }
}

impl Tabulated<ChannelLaw> {
    pub const fn channel(law: ChannelLaw) -> Self {
        Self { law, cut: 0.0 }
    }

    /// Integral from zero, and coefficient.
    #[inline(always)]
    fn both(&self, nodes: &Nodes<2>, rarefaction: f64) -> (f64, f64) {
        if rarefaction < LOWEST {
            let first = channel_conductance_fit(0.0);
            return (first * rarefaction, first);
        }
        let (index, t, width) = cell(rarefaction);
        let (Some(a), Some(b)) = (nodes.get(index), nodes.get(index + 1)) else {
            return (f64::NAN, f64::NAN);
        };
        // One cubic of the weighed sum.
        let w = self.law.dip_weight;
        let join = |n: &[(f64, f64); 2]| (n[0].0 + w * n[1].0, n[0].1 + w * n[1].1);
        let ends = [join(a), join(b)];
        (cubic(ends, t, width), slope(ends, t, width))
    }
}

impl Coefficient for Tabulated<ChannelLaw> {
    fn mean(&self, high: f64, low: f64) -> f64 {
        if high > HIGHEST {
            return self.law.mean(high, low);
        }
        let nodes = &*CHANNEL;
        Self::mean_of(high, low, |rarefaction| self.both(nodes, rarefaction))
    }
}

impl Tabulated<SlitLaw> {
    pub fn slit(law: SlitLaw) -> Self {
        Self { cut: law.cut(), law }
    }

    /// Integral from zero, and coefficient.
    #[inline(always)]
    fn both(&self, nodes: &Nodes<1>, rarefaction: f64) -> (f64, f64) {
        let m = self.law.molecular;
        let below = |d: f64| (m * d + d * d / 12.0, m + d / 6.0);
        if rarefaction <= self.cut {
            return below(rarefaction);
        }
        let ((whole, value), (start, _)) = (endless(nodes, rarefaction), endless(nodes, self.cut));
        (below(self.cut).0 + (whole - start), value)
    }
}

/// Integral of the endless gap from the lowest node, and its coefficient.
#[inline(always)]
fn endless(nodes: &Nodes<1>, rarefaction: f64) -> (f64, f64) {
    let (index, t, width) = cell(rarefaction);
    match (nodes.get(index), nodes.get(index + 1)) {
        (Some(a), Some(b)) => (cubic([a[0], b[0]], t, width), slope([a[0], b[0]], t, width)),
        _ => (f64::NAN, f64::NAN),
    }
}

impl Coefficient for Tabulated<SlitLaw> {
    fn mean(&self, high: f64, low: f64) -> f64 {
        if high > HIGHEST || self.cut < LOWEST {
            return self.law.mean(high, low);
        }
        let nodes = &*SLIT;
        Self::mean_of(high, low, |rarefaction| self.both(nodes, rarefaction))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn worst(law: &impl Coefficient, table: &impl Coefficient) -> f64 {
        let mut worst = 0.0_f64;
        for step in 0..3000 {
            let high = digits::scalar::pow(10.0, -5.0 + 7.69 * f64::from(step) / 3000.0);
            let part = [0.0, 0.3, 0.9, 0.99, 0.9999][step as usize % 5];
            let low = high * part;
            // Second route: many narrow panels of the law itself.
            let panels = 64;
            let width = (high - low) / f64::from(panels);
            let mean = (0..panels)
                .map(|k| low + width * f64::from(k))
                .map(|from| law.mean(from + width, from))
                .sum::<f64>()
                / f64::from(panels);
            worst = worst.max((table.mean(high, low) / mean - 1.0).abs());
        }
        worst
    }

    #[test]
    fn the_table_has_the_mean_of_the_law() {
        for length_over_radius in [1e-3, 1.0, 50.0, 1e5] {
            let law = ChannelLaw::new(length_over_radius);
            let channel = worst(&law, &Tabulated::channel(law));
            println!("channel {length_over_radius}: {channel:.1e}");
            assert!(channel < 2e-7, "{channel:e}");
        }
        for depth_over_height in [0.01, 1.0, 300.0, 1e4] {
            let law = SlitLaw::new(depth_over_height);
            let slit = worst(&law, &Tabulated::slit(law));
            println!("slit {depth_over_height}: {slit:.1e}");
            assert!(slit < 2e-5, "{slit:e}");
        }
    }
}
