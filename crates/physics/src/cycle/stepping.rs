//! One trial step in every lane: Dormand-Prince 5(4).
//!
//! Coefficients: J. R. Dormand and P. J. Prince, J. Comp. Appl. Math. 6 (1980)
//! 19; continuous output: E. Hairer, S. P. Nørsett and G. Wanner, Solving
//! Ordinary Differential Equations I, section II.6.

use digits::lanes::Lanes;

use super::leak_lanes::LeakLanes;
use super::rates::{CHAMBER, Contents, GasRates, HEADSPACE, N, POCKET, WARMTH};

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

/// Relative error of chamber gas and temperature allowed per step.
const TOLERANCE: f64 = 1.2e-8;

/// What headspace and pocket lose by error the chamber gains, now or later, so
/// their error counts against the chamber's gas or this many times their own,
/// whichever is smaller.
const DONOR_SHARE: f64 = 0.5;

/// About `0.9 error^(-1/5)` from the square of the error, within 7 %.
///
/// The step length need not be exact, only the same in every build: logarithm
/// and exponential are read off the bits of the number, mantissa taken as
/// linear.
#[inline(always)]
pub(super) fn next_length_factor<V: Lanes>(squared_error: V) -> V {
    const TWO_52: f64 = 4_503_599_627_370_496.0;
    const PER_OCTAVE: f64 = 1_048_576.0;
    let v = V::splat;
    // An error that is not a number is a large one.
    let x = squared_error.smaller(v(1e12)).larger(v(1e-12));
    // Upper half of the bits as a number: 2^20 per octave, offset 1023.
    let high = x.bits_down::<32>().set_bits(0x4330_0000_0000_0000) - v(TWO_52);
    let octaves = v(1023.0 * PER_OCTAVE) - (high - v(1023.0 * PER_OCTAVE)) * v(0.1);
    v(0.88) * (octaves + v(TWO_52)).bits_up::<32>()
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

/// Sum of squares of error over allowance, over one denominator: a function
/// and no closure, so that it is compiled for the registers of its caller.
#[inline(always)]
fn over<V: Lanes>(error: [V; 2], allowed: [V; 2]) -> (V, V) {
    let (left, right) = (error[0] * allowed[1], error[1] * allowed[0]);
    let below = allowed[0] * allowed[1];
    (left * left + right * right, below * below)
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
        // Rates at seven points, written out one after the other so that they
        // stay in registers. The newest rates enter last and by themselves:
        // all else is ready when they arrive.
        macro_rules! point {
            ($at:expr; $($a:expr => $k:ident),*; $last:expr => $newest:ident) => {{
                let mut y = *state;
                for i in 0..N {
                    let before = sum([$(($a, $k[i])),*]);
                    y[i] = (state[i] + h * before) + (h * V::splat($last)) * $newest[i];
                }
                (y, model.rates(time + V::splat($at) * h, &y, open, any_open))
            }};
        }
        let mut y = *state;
        for i in 0..N {
            y[i] = state[i] + (h * V::splat(0.2)) * k1[i];
        }
        let k2 = model.rates(time + V::splat(0.2) * h, &y, open, any_open);
        let (_, k3) = point!(0.3; 3.0 / 40.0 => k1; 9.0 / 40.0 => k2);
        let (_, k4) = point!(0.8; 44.0 / 45.0 => k1, -56.0 / 15.0 => k2; 32.0 / 9.0 => k3);
        let (_, k5) = point!(
            8.0 / 9.0;
            19_372.0 / 6561.0 => k1,
            -25_360.0 / 2187.0 => k2,
            64_448.0 / 6561.0 => k3;
            -212.0 / 729.0 => k4
        );
        let (_, k6) = point!(
            1.0;
            9017.0 / 3168.0 => k1,
            -355.0 / 33.0 => k2,
            46_732.0 / 5247.0 => k3,
            49.0 / 176.0 => k4;
            -5103.0 / 18_656.0 => k5
        );
        let (y, k7) = point!(
            1.0;
            35.0 / 384.0 => k1,
            500.0 / 1113.0 => k3,
            125.0 / 192.0 => k4,
            -2187.0 / 6784.0 => k5;
            11.0 / 84.0 => k6
        );
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
        let first = state[CHAMBER].abs().smaller(end[CHAMBER].abs());
        // While pumping: the root of the gas, four times as good as the gas
        // itself, and the warmth. While closed: gas, and pressure × volume.
        let mut gas = first;
        let mut allowed = [first, first];
        if any_open {
            let is_closed = open.at_most(V::splat(0.5));
            gas = V::select(is_closed, first, Contents::pumping(first, first).gas);
            allowed = [
                V::select(is_closed, first, first * V::splat(0.25)),
                V::select(is_closed, first, state[WARMTH]),
            ];
        }
        let own = V::splat(DONOR_SHARE);
        let tiny = V::splat(1e-30);
        let donors =
            [gas.smaller(own * state[HEADSPACE]) + tiny, gas.smaller(own * state[POCKET]) + tiny];
        let chamber =
            over([errors[CHAMBER], errors[WARMTH]], [allowed[0] + tiny, allowed[1] + tiny]);
        let donors = over([errors[HEADSPACE], errors[POCKET]], donors);
        let error = (chamber.0 * donors.1 + donors.0 * chamber.1) / (chamber.1 * donors.1)
            * V::splat(0.25 / (TOLERANCE * TOLERANCE));
        Self { end, end_rates: k7, error, inner: [k3, k4, k5, k6] }
    }

    /// Continuous output of one lane.
    #[inline(always)]
    pub fn dense(&self, lane: usize, state: &[V; N], k1: &[V; N], h: f64) -> Dense {
        let mut out = Dense { c: [[0.0; 5]; N] };
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

/// Continuous output of a step in one lane; argument from 0 to 1.
pub(super) struct Dense {
    c: [[f64; 5]; N],
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
            let ratio = next_length_factor::<f64>(error * error) / exact;
            assert!((0.9..1.08).contains(&ratio), "{error}: {ratio}");
        }
    }
}
