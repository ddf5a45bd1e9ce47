//! The integral of a conductance coefficient, tabulated once for a whole cycle.
//!
//! A cycle asks for the mean coefficient ten thousand times; a table of its
//! integral answers each in a few operations.

use super::flow_law::Coefficient;

/// Parts into which each octave of rarefaction is divided, as a power of two.
const OCTAVE_BITS: u32 = 4;
/// Lowest rarefaction in the table, 2^-20: below, the integral is a straight
/// line through zero.
const LOWEST: f64 = 9.536_743_164_062_5e-7;
/// Below this share of the higher rarefaction, a difference of integrals would
/// lose digits: the law is asked itself.
const NARROW: f64 = 0.1;

/// A coefficient with its tabulated integral.
#[derive(Debug, Clone)]
pub(super) struct Tabulated<L> {
    law: L,
    /// Integral from zero and coefficient at each node.
    nodes: Vec<(f64, f64)>,
}

const fn place(rarefaction: f64) -> usize {
    let step = 52 - OCTAVE_BITS;
    ((rarefaction.to_bits() >> step) - (LOWEST.to_bits() >> step)) as usize
}

fn node(index: usize) -> f64 {
    let step = 52 - OCTAVE_BITS;
    f64::from_bits(((LOWEST.to_bits() >> step) + index as u64) << step)
}

impl<L: Coefficient> Tabulated<L> {
    /// Tabulates a law up to a rarefaction; beyond it the law is asked itself.
    pub fn new(law: L, highest: f64) -> Self {
        let count = if highest > LOWEST { place(highest.min(1e9)) + 2 } else { 0 };
        let mut nodes = Vec::with_capacity(count);
        let mut integral = law.mean(LOWEST, 0.0) * LOWEST;
        for index in 0..count {
            let at = node(index);
            nodes.push((integral, law.at(at)));
            let next = node(index + 1);
            integral += law.mean(next, at) * (next - at);
        }
        Self { law, nodes }
    }

    /// Integral from zero: cubic between nodes, with the coefficient as slope.
    fn integral(&self, rarefaction: f64) -> Option<f64> {
        let &(first, _) = self.nodes.first()?;
        if rarefaction <= LOWEST {
            return Some(first * (rarefaction / LOWEST));
        }
        let index = place(rarefaction);
        let (&(a, slope_a), &(b, slope_b)) = (self.nodes.get(index)?, self.nodes.get(index + 1)?);
        let (from, to) = (node(index), node(index + 1));
        let width = to - from;
        let t = (rarefaction - from) / width;
        let u = 1.0 - t;
        Some(
            u * u * (1.0 + 2.0 * t) * a
                + t * t * (1.0 + 2.0 * u) * b
                + width * u * t * (u * slope_a - t * slope_b),
        )
    }
}

impl<L: Coefficient> Coefficient for Tabulated<L> {
    fn at(&self, rarefaction: f64) -> f64 {
        self.law.at(rarefaction)
    }

    fn mean(&self, high: f64, low: f64) -> f64 {
        let width = high - low;
        if width < NARROW * high {
            return self.law.mean(high, low);
        }
        match (self.integral(high), self.integral(low)) {
            (Some(upper), Some(lower)) => (upper - lower) / width,
            _ => self.law.mean(high, low),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::super::channel::ChannelLaw;
    use super::super::slit::SlitLaw;
    use super::*;

    fn worst<L: Coefficient + Clone>(law: &L) -> f64 {
        let table = Tabulated::new(law.clone(), 500.0);
        let mut worst = 0.0_f64;
        for step in 0..4000 {
            let high = digits::scalar::pow(10.0, -5.0 + 7.69 * f64::from(step) / 4000.0);
            let low = high * 0.87 * f64::from(step % 7) / 6.0;
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
        let channel = worst(&ChannelLaw::new(50.0));
        assert!(channel < 1e-7, "{channel:e}");
        // The slit's own table has kinks of curvature at its points.
        let slit = worst(&SlitLaw::new(300.0));
        assert!(slit < 1e-4, "{slit:e}");
    }
}
