//! One trial step in every lane: Dormand-Prince 5(4).
//!
//! Coefficients: J. R. Dormand and P. J. Prince, J. Comp. Appl. Math. 6 (1980)
//! 19; continuous output: E. Hairer, S. P. Nørsett and G. Wanner, Solving
//! Ordinary Differential Equations I, section II.6.

use digits::lanes::Lanes;

use super::leak_lanes::LeakLanes;
use super::rates::{CHAMBER, GasRates, HEADSPACE, N, POCKET, WARMTH};

/// A trial step with its continuous output.
pub(super) struct Trial<V> {
    /// State at the end.
    pub end: [V; N],
    /// Rates at the end: the first rates of the next step.
    pub end_rates: [V; N],
    /// Square of error over tolerance; good at 1 or below.
    pub error: V,
    /// Rates inside, for the continuous output.
    inner: [[V; N]; 4],
}

/// Where in the step the rates are taken.
const POINTS: [f64; 7] = [0.0, 0.2, 0.3, 0.8, 8.0 / 9.0, 1.0, 1.0];

/// Relative error of chamber gas and temperature allowed per step.
const TOLERANCE: f64 = 7.0e-9;

/// What headspace and pocket lose by error the chamber gains, now or later, so
/// their error counts against the chamber's gas or this many times their own,
/// whichever is smaller.
const DONOR_SHARE: f64 = 2.0;

/// About `0.9 error^(-1/5)` from the square of the error, within 7 %.
///
/// The step length need not be exact, only the same in every build: logarithm
/// and exponential are read off the bits of the number, mantissa taken as
/// linear.
#[inline(always)]
pub(super) fn next_length_factor(squared_error: f64) -> f64 {
    const TWO_52: f64 = 4_503_599_627_370_496.0;
    const PER_OCTAVE: f64 = 1_048_576.0;
    let x = if squared_error > 1e-12 { squared_error } else { 1e-12 };
    let x = if x < 1e12 { x } else { 1e12 };
    // Upper half of the bits as a number: 2^20 per octave, offset 1023.
    let high = f64::from_bits(0x4330_0000_0000_0000 | (x.to_bits() >> 32)) - TWO_52;
    let octaves = 1023.0 * PER_OCTAVE - (high - 1023.0 * PER_OCTAVE) * 0.1;
    0.88 * f64::from_bits((octaves + TWO_52).to_bits() << 32)
}

#[inline(always)]
fn sum<V: Lanes, const K: usize>(terms: [(f64, V); K]) -> V {
    let mut total = V::splat(terms[0].0) * terms[0].1;
    let mut index = 1;
    while index < K {
        total = total + V::splat(terms[index].0) * terms[index].1;
        index += 1;
    }
    total
}

impl<V: Lanes> Trial<V> {
    /// Tries a step of length `h` in every lane.
    #[inline(always)]
    pub fn attempt<L: LeakLanes<V>>(
        model: &GasRates<V, L>,
        time: V,
        state: &[V; N],
        k1: &[V; N],
        h: V,
        open: V,
        any_open: bool,
    ) -> Self {
        // Rates at seven points; the loop keeps the equations in one place of
        // the compiled code, whichever point they are evaluated at.
        let zero = [V::splat(0.0); N];
        let mut k = [*k1, zero, zero, zero, zero, zero, zero];
        let mut y = *state;
        for stage in 1..7 {
            // The newest rates enter last and by themselves: all else is ready
            // when they arrive.
            macro_rules! point {
                ($($a:expr => $k:expr),*; $last:expr => $newest:expr) => {
                    for i in 0..N {
                        let before = sum([$(($a, k[$k][i])),*]);
                        y[i] = (state[i] + h * before) + (h * V::splat($last)) * k[$newest][i];
                    }
                };
            }
            match stage {
                1 => {
                    for i in 0..N {
                        y[i] = state[i] + (h * V::splat(0.2)) * k[0][i];
                    }
                }
                2 => point!(3.0 / 40.0 => 0; 9.0 / 40.0 => 1),
                3 => point!(44.0 / 45.0 => 0, -56.0 / 15.0 => 1; 32.0 / 9.0 => 2),
                4 => point!(
                    19_372.0 / 6561.0 => 0,
                    -25_360.0 / 2187.0 => 1,
                    64_448.0 / 6561.0 => 2;
                    -212.0 / 729.0 => 3
                ),
                5 => point!(
                    9017.0 / 3168.0 => 0,
                    -355.0 / 33.0 => 1,
                    46_732.0 / 5247.0 => 2,
                    49.0 / 176.0 => 3;
                    -5103.0 / 18_656.0 => 4
                ),
                _ => point!(
                    35.0 / 384.0 => 0,
                    500.0 / 1113.0 => 2,
                    125.0 / 192.0 => 3,
                    -2187.0 / 6784.0 => 4;
                    11.0 / 84.0 => 5
                ),
            }
            let at = time + V::splat(POINTS[stage]) * h;
            k[stage] = model.rates(at, &y, open, any_open);
        }
        let [_, _, k3, k4, k5, k6, k7] = k;
        let end = y;
        let mut errors = y;
        for i in 0..N {
            errors[i] = h * sum([
                (71.0 / 57_600.0, k1[i]),
                (-71.0 / 16_695.0, k3[i]),
                (71.0 / 1920.0, k4[i]),
                (-17_253.0 / 339_200.0, k5[i]),
                (22.0 / 525.0, k6[i]),
                (-1.0 / 40.0, k7[i]),
            ]);
        }
        // The smaller of both ends: a step that loses much is judged by what
        // is left of it.
        let gas = state[CHAMBER].abs().smaller(end[CHAMBER].abs());
        let tolerance = V::splat(TOLERANCE);
        let own = V::splat(DONOR_SHARE);
        let tiny = V::splat(1e-30);
        let over = |error: V, allowed: V| {
            let ratio = error / (allowed + tiny);
            ratio * ratio
        };
        let donor = |stored: V| tolerance * gas.smaller(own * stored);
        let error = (over(errors[CHAMBER], tolerance * gas)
            + over(errors[WARMTH], tolerance * state[WARMTH])
            + over(errors[HEADSPACE], donor(state[HEADSPACE]))
            + over(errors[POCKET], donor(state[POCKET])))
            * V::splat(0.25);
        Self { end, end_rates: k7, error, inner: [k3, k4, k5, k6] }
    }

    /// Continuous output of one lane, for the states below `HEADSPACE + 1`:
    /// what samples and events need.
    #[inline(always)]
    pub fn dense(&self, lane: usize, state: &[V; N], k1: &[V; N], h: f64) -> Dense {
        let mut out = Dense { c: [[0.0; 5]; DENSE] };
        for (i, c) in out.c.iter_mut().enumerate() {
            let first = k1[i].lane(lane);
            let [k3, k4, k5, k6] = &self.inner;
            let (k3, k4) = (k3[i].lane(lane), k4[i].lane(lane));
            let (k5, k6) = (k5[i].lane(lane), k6[i].lane(lane));
            let k7 = self.end_rates[i].lane(lane);
            let start = state[i].lane(lane);
            let change = self.end[i].lane(lane) - start;
            let bow = h * first - change;
            let twist = change - h * k7 - bow;
            let middle = sum([
                (-12_715_105_075.0 / 11_282_082_432.0, first),
                (87_487_479_700.0 / 32_700_410_799.0, k3),
                (-10_690_763_975.0 / 1_880_347_072.0, k4),
                (701_980_252_875.0 / 199_316_789_632.0, k5),
                (-1_453_857_185.0 / 822_651_844.0, k6),
                (69_997_945.0 / 29_380_423.0, k7),
            ]);
            *c = [start, change, bow, twist, h * middle];
        }
        out
    }
}

/// States with continuous output: chamber, warmth, headspace.
const DENSE: usize = 3;

/// Continuous output of a step in one lane; argument from 0 to 1.
pub(super) struct Dense {
    c: [[f64; 5]; DENSE],
}

impl Dense {
    #[inline(always)]
    pub fn at<W: Lanes>(&self, state: usize, part: W) -> W {
        let [a, b, c, d, e] = self.c[state];
        let rest = W::splat(1.0) - part;
        let inner = W::splat(c) + part * (W::splat(d) + rest * W::splat(e));
        W::splat(a) + part * (W::splat(b) + rest * inner)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_factor_is_near_the_fifth_root() {
        for exponent in -120..=120 {
            let error = digits::scalar::pow(10.0, f64::from(exponent) / 20.0);
            let exact = 0.9 * digits::scalar::pow(error, -0.2);
            let ratio = next_length_factor(error * error) / exact;
            assert!((0.9..1.08).contains(&ratio), "{error}: {ratio}");
        }
    }
}
