//! Likelihood of a unit whose readings share an effect of their own.
//!
//! On the axes of the fit `y = b0 + b1 x + h (t v + w e)`, `v` one normal for
//! each unit and `e` one for each reading, `h` the spread factor. The readings
//! that were read give a closed form and leave `v` normal; of the others the
//! probability is averaged over that `v`: in closed form for one, by the rule
//! of Gauss and Legendre between the bends of the integrand for several.

use super::Signal;
use super::spread::Spread;
use crate::detection::Link;
use crate::quadrature::gauss_legendre;
use digits::scalar::{exp, ln};

/// Readings of one unit on the axes of the fit.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Unit {
    pub rows: Vec<(f64, Signal)>,
}

/// Parameters on the axes of the fit.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Parameters {
    pub intercept: f64,
    pub slope: f64,
    /// Standard deviation within units.
    pub within: f64,
    /// Standard deviation between units.
    pub between: f64,
    /// Exponent of the spread.
    pub exponent: f64,
}

impl Parameters {
    /// Standard deviation of one reading of a new unit where the factor is 1.
    pub(super) fn total(&self) -> f64 {
        (self.within * self.within + self.between * self.between).sqrt()
    }
}

/// Nodes of one panel of the average over `v`.
const NODES: usize = 12;

/// Censored readings of a unit with one end: less the line, over the factor.
#[derive(Debug, Clone, Copy, PartialEq)]
struct End {
    z: f64,
    below: bool,
    count: f64,
}

/// The model without its parameters.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Model {
    pub units: Vec<Unit>,
    pub spread: Spread,
    /// Nodes and weights on -1 to 1.
    rule: Vec<(f64, f64)>,
}

impl Model {
    pub(super) fn new(units: Vec<Unit>, spread: Spread) -> Self {
        Self { units, spread, rule: gauss_legendre(NODES, -1.0, 1.0) }
    }

    /// Logarithm of the likelihood; `None` outside the domain.
    pub(super) fn value(&self, p: &Parameters) -> Option<f64> {
        let mut total = 0.0;
        for unit in &self.units {
            total += self.unit(unit, p)?;
        }
        total.is_finite().then_some(total)
    }

    /// Value less half the logarithm of the determinant of the information on
    /// intercept and slope: the restricted likelihood, which does not take the
    /// scatter for smaller than it is. Censored readings count there as read.
    pub(super) fn restricted(&self, p: &Parameters) -> Option<f64> {
        let (w, t) = (p.within * p.within, p.between * p.between);
        let (mut a, mut b, mut c) = (0.0, 0.0, 0.0);
        for unit in &self.units {
            let shrink = t / (w * (w + unit.rows.len() as f64 * t));
            let (mut one, mut x1) = (0.0, 0.0);
            for (x, _) in &unit.rows {
                let h = self.spread.factor(p.exponent, *x, p.intercept + p.slope * x)?;
                let (u, v) = (1.0 / h, x / h);
                one += u;
                x1 += v;
                a += u * u / w;
                b += u * v / w;
                c += v * v / w;
            }
            a -= shrink * one * one;
            b -= shrink * one * x1;
            c -= shrink * x1 * x1;
        }
        let determinant = a * c - b * b;
        (determinant > 0.0).then(|| -0.5 * ln(determinant)).and_then(|p0| Some(p0 + self.value(p)?))
    }

    fn unit(&self, unit: &Unit, p: &Parameters) -> Option<f64> {
        let (w2, t2) = (p.within * p.within, p.between * p.between);
        let mut value = 0.0;
        let (mut count, mut sum, mut squares) = (0.0, 0.0, 0.0);
        let mut ends: Vec<End> = Vec::new();
        let mut end =
            |z: f64, below: bool| match ends.iter_mut().find(|e| e.z == z && e.below == below) {
                Some(same) => same.count += 1.0,
                None => ends.push(End { z, below, count: 1.0 }),
            };
        for (x, signal) in &unit.rows {
            let mean = p.intercept + p.slope * x;
            let h = self.spread.factor(p.exponent, *x, mean)?;
            let z = (signal.value() - mean) / h;
            match signal {
                Signal::Read(_) => {
                    value -= ln(h);
                    count += 1.0;
                    sum += z;
                    squares += z * z;
                }
                Signal::Below(_) => end(z, true),
                Signal::Above(_) => end(z, false),
            }
        }
        let all = w2 + count * t2;
        if count > 0.0 {
            let mean = sum / count;
            value -= 0.5
                * ((count - 1.0) * ln(w2)
                    + ln(all)
                    + (squares - count * mean * mean) / w2
                    + count * mean * mean / all)
                + count * 0.918_938_533_204_672_8;
        }
        if ends.is_empty() {
            return Some(value);
        }
        // The unit effect, given what was read.
        let centre = p.between * sum / all;
        let deviation = (w2 / all).sqrt();
        Some(value + self.ends(&ends, p, centre, deviation))
    }

    /// Logarithm of the mean probability of the censored readings of a unit.
    fn ends(&self, ends: &[End], p: &Parameters, centre: f64, deviation: f64) -> f64 {
        let log_phi = |z: f64| Link::Probit.log_hit(z).value;
        let side = |end: &End, shift: f64, scale: f64| {
            let z = (end.z - shift) / scale;
            end.count * log_phi(if end.below { z } else { -z })
        };
        if p.between == 0.0 {
            return ends.iter().map(|end| side(end, 0.0, p.within)).sum();
        }
        if let [end] = ends
            && end.count == 1.0
        {
            let t = p.between * deviation;
            let scale = (p.within * p.within + t * t).sqrt();
            return side(end, p.between * centre, scale);
        }
        let bend = p.within / p.between.abs();
        let (low, high) = (centre - 9.0 * deviation, centre + 9.0 * deviation);
        let mut edges: Vec<f64> =
            (0..=6).map(|i| low + (high - low) * f64::from(i) / 6.0).collect();
        for end in ends.iter().filter(|_| bend < deviation) {
            let middle = end.z / p.between;
            edges.extend([-8.0, -3.0, 0.0, 3.0, 8.0].map(|k| middle + k * bend));
        }
        edges.retain(|edge| *edge >= low && *edge <= high);
        edges.sort_by(f64::total_cmp);
        let mut terms = Vec::with_capacity((edges.len() - 1) * NODES);
        for pair in edges.windows(2) {
            let (half, middle) = (0.5 * (pair[1] - pair[0]), 0.5 * (pair[0] + pair[1]));
            // Edges nearer to each other than the finest bend add nothing.
            if !(half > 1e-9 * bend.min(deviation)) {
                continue;
            }
            for (node, weight) in &self.rule {
                let v = middle + half * node;
                let z = (v - centre) / deviation;
                let mut term =
                    ln(weight * half / deviation) - 0.5 * z * z - 0.918_938_533_204_672_8;
                for end in ends {
                    term += side(end, p.between * v, p.within);
                }
                terms.push(term);
            }
        }
        let largest = terms.iter().copied().fold(f64::NEG_INFINITY, f64::max);
        largest + ln(terms.iter().map(|term| exp(term - largest)).sum::<f64>())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn parameters(within: f64, between: f64) -> Parameters {
        Parameters { intercept: 0.3, slope: 1.0, within, between, exponent: 0.0 }
    }

    /// The same average by a plain sum of 400 000 narrow strips.
    fn strips(ends: &[(f64, bool)], p: &Parameters) -> f64 {
        let n = 400_000;
        let total: f64 = (0..n)
            .map(|i| {
                let v = -10.0 + 20.0 * (f64::from(i) + 0.5) / f64::from(n);
                let inside: f64 = ends
                    .iter()
                    .map(|(end, below)| {
                        let z = (end - p.between * v) / p.within;
                        digits::normal::cumulative(if *below { z } else { -z })
                    })
                    .product();
                digits::normal::density(v) * inside * 20.0 / f64::from(n)
            })
            .sum();
        ln(total)
    }

    #[test]
    fn the_average_over_the_unit_effect_is_the_integral() {
        let model = Model::new(Vec::new(), Spread::Constant);
        for p in [parameters(1.0, 0.7), parameters(0.1, 2.0), parameters(0.02, 1.0)] {
            for ends in [
                vec![(0.5, false), (0.5, false), (0.5, false)],
                vec![(-1.0, true), (-0.4, true)],
                vec![(1.5, false), (1.8, true)],
            ] {
                let mut own: Vec<End> = Vec::new();
                for (z, below) in &ends {
                    own.push(End { z: *z, below: *below, count: 1.0 });
                }
                let own = model.ends(&own, &p, 0.0, 1.0);
                assert!((own - strips(&ends, &p)).abs() < 1e-7, "{p:?} {ends:?} {own}");
            }
        }
    }

    #[test]
    fn readings_of_one_unit_are_a_correlated_normal() {
        // Two readings: density of the bivariate normal, written out.
        let p = parameters(0.6, 0.8);
        let unit = Unit { rows: vec![(0.0, Signal::Read(0.5)), (0.0, Signal::Read(-0.1))] };
        let model = Model::new(vec![unit], Spread::Constant);
        let (a, b, r) = (0.2_f64, -0.4_f64, 0.64_f64);
        let quadratic = (a * a - 2.0 * r * a * b + b * b) / (1.0 - r * r);
        let by_hand = -0.5 * quadratic - 0.5 * ln(1.0 - r * r) - ln(2.0 * core::f64::consts::PI);
        assert!((model.value(&p).unwrap() - by_hand).abs() < 1e-12);
        // One read, one censored: half the probability of the other given it.
        let unit = Unit { rows: vec![(0.0, Signal::Read(0.5)), (0.0, Signal::Above(0.3 + r * a))] };
        let model = Model::new(vec![unit], Spread::Constant);
        let by_hand = -0.5 * a * a - 0.918_938_533_204_672_8 + ln(0.5);
        assert!((model.value(&p).unwrap() - by_hand).abs() < 1e-12);
    }
}
