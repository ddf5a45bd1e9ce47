//! The chi distribution as weighted nodes, eight at a time.
//!
//! `S^2` is a chi-squared value over its degrees of freedom `nu`. An
//! expectation over `S` is a sum over equal steps of `u = ln S`, which
//! converges faster than any power of the step.

use super::normal_lanes::density_and_survival;
use super::stirling::stirling_error;
use digits::lanes::{Eight, Lanes};
use digits::scalar::exp;

const TWO_PI: f64 = 2.0 * core::f64::consts::PI;

/// Constant of the density of `u`: `2 (nu/2)^(nu/2) e^(-nu/2) / Gamma(nu/2)`,
/// by Stirling's formula.
pub(super) fn scale(nu: f64) -> f64 {
    let a = 0.5 * nu;
    2.0 * (a / TWO_PI).sqrt() * exp(-stirling_error(a))
}

/// Nodes `S` with their weights.
pub(crate) struct ChiLanes {
    blocks: Vec<(Eight, Eight)>,
}

/// A tail probability with three derivatives in `x`.
pub(super) struct Tail {
    pub value: f64,
    pub first: f64,
    pub second: f64,
    pub third: f64,
}

#[inline(always)]
fn total(lanes: Eight) -> f64 {
    let v = lanes.to_array();
    ((v[0] + v[4]) + (v[2] + v[6])) + ((v[1] + v[5]) + (v[3] + v[7]))
}

impl ChiLanes {
    /// Nodes for integrands no steeper in `u` than a normal step of width
    /// `1/steep`, dropped where their weight is below `least` of the largest.
    pub(crate) fn new(nu: f64, steep: f64, least: f64) -> Self {
        // Error of the rule: about exp(-2 pi^2 / 0.75^2) = 6e-16 of the whole for a
        // normal weight, 1e-11 for the skewed ones met here (tested).
        let h = (0.75 / (2.0 * nu + steep * steep).sqrt()).min(0.12);
        let constant = Eight::splat(h * scale(nu));
        let mut blocks = Vec::with_capacity(24);
        for (step, first) in [(h, 0.0), (-h, -h)] {
            for block in 0..30_000 {
                let start = first + step * f64::from(8 * block);
                let u = Eight::from_array(core::array::from_fn(|i| start + step * i as f64));
                let s = u.exp();
                let weight = (bend(u, s, nu) * Eight::splat(nu)).exp();
                blocks.push((s, weight * constant));
                if weight.lane(7) < least {
                    break;
                }
            }
        }
        Self { blocks }
    }

    /// Nodes and weights, eight at a time.
    pub(crate) fn blocks(&self) -> &[(Eight, Eight)] {
        &self.blocks
    }

    /// Nodes one by one.
    pub(crate) fn nodes(&self) -> impl Iterator<Item = (f64, f64)> {
        self.blocks.iter().flat_map(|(s, weight)| s.to_array().into_iter().zip(weight.to_array()))
    }

    /// `E[Q(x S - delta)]` (upper tail of the noncentral t distribution at
    /// `x`) or `E[Phi(x S - delta)]` (lower), with derivatives in `x`.
    pub(super) fn tail(&self, x: f64, delta: f64, lower: bool) -> Tail {
        let zero = Eight::splat(0.0);
        let one = Eight::splat(1.0);
        let (x, delta) = (Eight::splat(x), Eight::splat(delta));
        let (mut value, mut first, mut second, mut third) = (zero, zero, zero, zero);
        for &(s, weight) in &self.blocks {
            let z = x * s - delta;
            // Mirrored for the lower tail, so that small values keep their
            // digits.
            let (density, survival) = density_and_survival(if lower { -z } else { z });
            value = value + weight * survival;
            let d1 = weight * s * density;
            let d2 = d1 * s;
            first = first + d1;
            second = second + d2 * z;
            third = third + d2 * s * (one - z * z);
        }
        let sign = if lower { -1.0 } else { 1.0 };
        Tail {
            value: total(value),
            first: -sign * total(first),
            second: sign * total(second),
            third: sign * total(third),
        }
    }
}

/// `u - (e^{2u} - 1)/2`, given `s = e^u`.
#[inline(always)]
fn bend(u: Eight, s: Eight, nu: f64) -> Eight {
    if nu < 2000.0 {
        return u - (s * s - Eight::splat(1.0)) * Eight::splat(0.5);
    }
    // All nodes with weight lie within |u| < 0.14: the series, because the
    // difference would lose the digits that nu multiplies.
    const INVERSE_FACTORIALS: [f64; 12] = [
        1.0 / 2.0,
        1.0 / 6.0,
        1.0 / 24.0,
        1.0 / 120.0,
        1.0 / 720.0,
        1.0 / 5040.0,
        1.0 / 40_320.0,
        1.0 / 362_880.0,
        1.0 / 3_628_800.0,
        1.0 / 39_916_800.0,
        1.0 / 479_001_600.0,
        1.0 / 6_227_020_800.0,
    ];
    let t = u * Eight::splat(2.0);
    let mut sum = Eight::splat(0.0);
    for c in INVERSE_FACTORIALS.iter().rev() {
        sum = sum * t + Eight::splat(*c);
    }
    sum * t * t * Eight::splat(-0.5)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn weights_add_to_one_and_give_the_second_moment() {
        for nu in [1.0, 2.0, 4.0, 29.0, 1999.0, 2000.0, 1e5] {
            let lanes = ChiLanes::new(nu, 3.0, 1e-16);
            let (mut all, mut square) = (0.0, 0.0);
            for (s, weight) in lanes.nodes() {
                all += weight;
                square += weight * s * s;
            }
            assert!((all - 1.0).abs() < 2e-11, "{nu}: {all}");
            assert!((square - 1.0).abs() < 2e-11, "{nu}: {square}");
        }
    }
}
