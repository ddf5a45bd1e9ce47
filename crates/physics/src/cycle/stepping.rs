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
    middle: [V; N],
}

/// Where in the step the rates are taken.
const POINTS: [f64; 7] = [0.0, 0.2, 0.3, 0.8, 8.0 / 9.0, 1.0, 1.0];

/// Relative error of chamber gas and temperature allowed per step.
const TOLERANCE: f64 = 8.0e-9;

/// What headspace and pocket lose by error the chamber gains, now or later, so
/// their error counts against the chamber's gas or this many times their own,
/// whichever is smaller.
const DONOR_SHARE: f64 = 2.0;

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
            macro_rules! point {
                ($($a:expr => $k:expr),+) => {
                    for i in 0..N {
                        y[i] = state[i] + h * sum([$(($a, k[$k][i])),+]);
                    }
                };
            }
            match stage {
                1 => point!(0.2 => 0),
                2 => point!(3.0 / 40.0 => 0, 9.0 / 40.0 => 1),
                3 => point!(44.0 / 45.0 => 0, -56.0 / 15.0 => 1, 32.0 / 9.0 => 2),
                4 => point!(
                    19_372.0 / 6561.0 => 0,
                    -25_360.0 / 2187.0 => 1,
                    64_448.0 / 6561.0 => 2,
                    -212.0 / 729.0 => 3
                ),
                5 => point!(
                    9017.0 / 3168.0 => 0,
                    -355.0 / 33.0 => 1,
                    46_732.0 / 5247.0 => 2,
                    49.0 / 176.0 => 3,
                    -5103.0 / 18_656.0 => 4
                ),
                _ => point!(
                    35.0 / 384.0 => 0,
                    500.0 / 1113.0 => 2,
                    125.0 / 192.0 => 3,
                    -2187.0 / 6784.0 => 4,
                    11.0 / 84.0 => 5
                ),
            }
            let at = time + V::splat(POINTS[stage]) * h;
            k[stage] = model.rates(at, &y, open, any_open);
        }
        let [_, _, k3, k4, k5, k6, k7] = k;
        let end = y;
        let mut middle = y;
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
            middle[i] = sum([
                (-12_715_105_075.0 / 11_282_082_432.0, k1[i]),
                (87_487_479_700.0 / 32_700_410_799.0, k3[i]),
                (-10_690_763_975.0 / 1_880_347_072.0, k4[i]),
                (701_980_252_875.0 / 199_316_789_632.0, k5[i]),
                (-1_453_857_185.0 / 822_651_844.0, k6[i]),
                (69_997_945.0 / 29_380_423.0, k7[i]),
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
        Self { end, end_rates: k7, error, middle }
    }

    /// Continuous output of one lane.
    #[inline(always)]
    pub fn dense(&self, lane: usize, state: &[V; N], k1: &[V; N], h: f64) -> Dense {
        let mut out = Dense { c: [[0.0; 5]; N] };
        for i in 0..N {
            let start = state[i].lane(lane);
            let change = self.end[i].lane(lane) - start;
            let bow = h * k1[i].lane(lane) - change;
            let twist = change - h * self.end_rates[i].lane(lane) - bow;
            let rest = h * self.middle[i].lane(lane);
            out.c[i] = [start, change, bow, twist, rest];
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
        let c = self.c[state].map(W::splat);
        let rest = W::splat(1.0) - part;
        c[0] + part * (c[1] + rest * (c[2] + part * (c[3] + rest * c[4])))
    }
}
