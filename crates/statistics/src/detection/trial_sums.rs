//! Likelihood of a logistic curve over many single trials, in one pass.

use digits::lanes::{Eight, Lanes};
use digits::scalar::{exp, ln};

/// Log-likelihood of a line with its gradient and information.
#[derive(Debug, Clone, Copy)]
pub(super) struct Sums {
    pub value: f64,
    pub gradient: [f64; 2],
    pub information: [f64; 3],
}

/// Number of hits and sum of their places.
pub(super) type Hits = (f64, f64);

#[inline(always)]
fn total(lanes: Eight) -> f64 {
    let v = lanes.to_array();
    ((v[0] + v[4]) + (v[2] + v[6])) + ((v[1] + v[5]) + (v[3] + v[7]))
}

/// Running sums over blocks of eight trials.
struct Running {
    linear: Eight,
    logs: f64,
    product: Eight,
    p: [Eight; 2],
    w: [Eight; 3],
}

impl Running {
    #[inline(always)]
    fn add(&mut self, x: Eight, counts: Eight, b0: f64, b1: f64) {
        let zero = Eight::splat(0.0);
        let one = Eight::splat(1.0);
        let eta = Eight::splat(b0) + Eight::splat(b1) * x;
        // One exponential serves probability, weight and logarithm.
        let small = (-eta.abs()).exp() * counts;
        let whole = one + small;
        let inverse = one / whole;
        let above = Eight::select(zero.at_most(eta), inverse, small * inverse) * counts;
        let weight = small * inverse * inverse;
        self.linear = self.linear + eta.larger(zero) * counts;
        self.product = self.product * whole;
        self.p[0] = self.p[0] + above;
        self.p[1] = self.p[1] + above * x;
        let weighted = weight * x;
        self.w[0] = self.w[0] + weight;
        self.w[1] = self.w[1] + weighted;
        self.w[2] = self.w[2] + weighted * x;
    }
}

/// Sums over every trial.
pub(super) fn every_trial(x: &[f64], hits: Hits, b0: f64, b1: f64) -> Sums {
    let zero = Eight::splat(0.0);
    let one = Eight::splat(1.0);
    let mut run = Running { linear: zero, logs: 0.0, product: one, p: [zero; 2], w: [zero; 3] };
    // A factor is at most 2, so 512 of them stay within a double and their
    // logarithm is taken once.
    for part in x.chunks(512 * 8) {
        let mut blocks = part.chunks_exact(8);
        for block in &mut blocks {
            run.add(Eight::from_array(core::array::from_fn(|i| block[i])), one, b0, b1);
        }
        let rest = blocks.remainder();
        if !rest.is_empty() {
            let at = |i: usize| rest.get(i).copied();
            run.add(
                Eight::from_array(core::array::from_fn(|i| at(i).unwrap_or(0.0))),
                Eight::from_array(core::array::from_fn(|i| f64::from(u8::from(at(i).is_some())))),
                b0,
                b1,
            );
        }
        run.logs += total(run.product.ln());
        run.product = one;
    }
    Sums {
        value: hits.0 * b0 + hits.1 * b1 - total(run.linear) - run.logs,
        gradient: [hits.0 - total(run.p[0]), hits.1 - total(run.p[1])],
        information: [total(run.w[0]), total(run.w[1]), total(run.w[2])],
    }
}

/// Trials gathered in narrow bins of the axis, each with the moments of its
/// places around its centre.
///
/// Within a bin the likelihood is a Taylor series in those moments. With
/// `reach = |slope| half_width` the part left out of the gradient is below
/// `reach^6/720` per trial.
pub(super) struct Bins {
    half_width: f64,
    /// Centre and moments 0 to 6, the last place unused.
    bins: Vec<(f64, [f64; 8])>,
}

impl Bins {
    /// Gathers places from -1 to 1 in `count` bins.
    pub(super) fn new(places: impl Iterator<Item = f64>, count: usize) -> Self {
        let half_width = 1.0 / count as f64;
        let mut bins: Vec<(f64, [f64; 8])> =
            (0..count).map(|i| ((2 * i + 1) as f64 * half_width - 1.0, [0.0; 8])).collect();
        let half = 0.5 * count as f64;
        for x in places {
            let index = (((x + 1.0) * half) as usize).min(count - 1);
            let (centre, moments) = &mut bins[index];
            let d = x - *centre;
            let d2 = d * d;
            let d4 = d2 * d2;
            let powers = [1.0, d, d2, d2 * d, d4, d4 * d, d4 * d2, 0.0];
            for (moment, power) in moments.iter_mut().zip(powers) {
                *moment += power;
            }
        }
        bins.retain(|bin| bin.1[0] > 0.0);
        Self { half_width, bins }
    }

    /// How far the series has to reach at a slope; below 0.02 it is exact to
    /// rounding.
    pub(super) fn reach(&self, slope: f64) -> f64 {
        slope.abs() * self.half_width
    }

    /// Sums over every bin.
    pub(super) fn sums(&self, hits: Hits, b0: f64, b1: f64) -> Sums {
        let mut factors = [1.0; 7];
        for k in 1..7 {
            factors[k] = factors[k - 1] * b1 / k as f64;
        }
        let (mut value, mut p_sums, mut w_sums) = (0.0, [0.0; 2], [0.0; 3]);
        for (centre, m) in &self.bins {
            let eta = b0 + b1 * centre;
            let small = exp(-eta.abs());
            let inverse = 1.0 / (1.0 + small);
            let p = if eta >= 0.0 { inverse } else { small * inverse };
            let w = small * inverse * inverse;
            let r = 1.0 - 2.0 * p;
            // Derivatives 0 to 6 of ln(1 + e^eta).
            let f = [
                eta.max(0.0) + ln(1.0 + small),
                p,
                w,
                w * r,
                w * (1.0 - 6.0 * w),
                w * r * (1.0 - 12.0 * w),
                w * (1.0 - 30.0 * w + 120.0 * w * w),
            ];
            let (mut v, mut g0, mut g1, mut h0, mut h1, mut h2) = (0.0, 0.0, 0.0, 0.0, 0.0, 0.0);
            for k in 0..7 {
                v += f[k] * factors[k] * m[k];
                if k < 6 {
                    g0 += f[k + 1] * factors[k] * m[k];
                    g1 += f[k + 1] * factors[k] * m[k + 1];
                }
                if k < 5 {
                    h0 += f[k + 2] * factors[k] * m[k];
                    h1 += f[k + 2] * factors[k] * m[k + 1];
                    h2 += f[k + 2] * factors[k] * m[k + 2];
                }
            }
            value += v;
            p_sums[0] += g0;
            p_sums[1] += centre * g0 + g1;
            w_sums[0] += h0;
            w_sums[1] += centre * h0 + h1;
            w_sums[2] += centre * centre * h0 + 2.0 * centre * h1 + h2;
        }
        Sums {
            value: hits.0 * b0 + hits.1 * b1 - value,
            gradient: [hits.0 - p_sums[0], hits.1 - p_sums[1]],
            information: w_sums,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use digits::RandomStream;
    use digits::scalar::ln_1p;

    fn places(n: u64) -> Vec<f64> {
        (0..n).map(|i| 2.0 * RandomStream::new(2, i).uniform() - 1.0).collect()
    }

    #[test]
    fn one_pass_is_the_plain_sum() {
        let x = places(4103);
        let (b0, b1) = (0.5, 3.0);
        let hits = (2000.0, 350.0);
        let (mut value, mut g0, mut g1, mut w1) = (hits.0 * b0 + hits.1 * b1, hits.0, hits.1, 0.0);
        for x in &x {
            let eta: f64 = b0 + b1 * x;
            let p = 1.0 / (1.0 + exp(-eta));
            value -= if eta > 0.0 { eta + ln_1p(exp(-eta)) } else { ln_1p(exp(eta)) };
            g0 -= p;
            g1 -= p * x;
            w1 += p * (1.0 - p) * x;
        }
        let sums = every_trial(&x, hits, b0, b1);
        assert!((sums.value - value).abs() < 1e-9);
        assert!((sums.gradient[0] - g0).abs() < 1e-9 && (sums.gradient[1] - g1).abs() < 1e-9);
        assert!((sums.information[1] - w1).abs() < 1e-9);
    }

    #[test]
    fn bins_within_reach_are_exact() {
        let x = places(20_000);
        let bins = Bins::new(x.iter().copied(), 512);
        for slope in [0.0, 3.0, -10.0] {
            assert!(bins.reach(slope) < 0.02);
            let exact = every_trial(&x, (0.0, 0.0), 0.3, slope);
            let short = bins.sums((0.0, 0.0), 0.3, slope);
            assert!((exact.value - short.value).abs() < 1e-8, "{slope}");
            for k in 0..2 {
                assert!((exact.gradient[k] - short.gradient[k]).abs() < 1e-8, "{slope} {k}");
            }
            for k in 0..3 {
                let error = (exact.information[k] - short.information[k]).abs();
                assert!(error < 1e-8, "{slope} {k} {error}");
            }
        }
        // Out of reach the series fails, so the limit matters.
        assert!(bins.reach(600.0) > 1.0);
        let far = bins.sums((0.0, 0.0), 0.3, 600.0).gradient[1];
        assert!((far - every_trial(&x, (0.0, 0.0), 0.3, 600.0).gradient[1]).abs() > 1e-6);
    }
}
