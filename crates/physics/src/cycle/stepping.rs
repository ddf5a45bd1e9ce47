//! Adaptive steps: Dormand-Prince 5(4) with continuous output.

use super::model::{Model, State};

const N: usize = 5;

/// One accepted step with its continuous output.
#[derive(Debug, Clone)]
pub(super) struct Step {
    pub start_s: f64,
    pub length_s: f64,
    pub end: State,
    dense: [State; 5],
    last_rate: State,
    /// Error over tolerance; a step is good below 1.
    pub error: f64,
}

/// Relative error allowed per step, and the pressure that always counts, as a
/// share of the chamber's gas at the start.
const RELATIVE_TOLERANCE: f64 = 1.0e-10;

impl Step {
    /// Tries a step; `first_rate` is the rate at its start.
    ///
    /// Coefficients: J. R. Dormand and P. J. Prince, J. Comp. Appl. Math. 6
    /// (1980) 19; continuous output: Hairer, Nørsett and Wanner, Solving
    /// Ordinary Differential Equations I, section II.6.
    pub fn attempt(
        model: &Model,
        start_s: f64,
        state: &State,
        first_rate: &State,
        length_s: f64,
        pump_open: bool,
    ) -> Self {
        let h = length_s;
        let k1 = *first_rate;
        let combine = |terms: &[(f64, &State)]| -> State {
            core::array::from_fn(|i| {
                state[i] + h * terms.iter().fold(0.0, |sum, &(a, k)| sum + a * k[i])
            })
        };
        let rate = |c: f64, y: &State| model.rates(start_s + c * h, y, pump_open);
        let k2 = rate(0.2, &combine(&[(0.2, &k1)]));
        let k3 = rate(0.3, &combine(&[(3.0 / 40.0, &k1), (9.0 / 40.0, &k2)]));
        let k4 = rate(0.8, &combine(&[(44.0 / 45.0, &k1), (-56.0 / 15.0, &k2), (32.0 / 9.0, &k3)]));
        let k5 = rate(
            8.0 / 9.0,
            &combine(&[
                (19_372.0 / 6561.0, &k1),
                (-25_360.0 / 2187.0, &k2),
                (64_448.0 / 6561.0, &k3),
                (-212.0 / 729.0, &k4),
            ]),
        );
        let k6 = rate(
            1.0,
            &combine(&[
                (9017.0 / 3168.0, &k1),
                (-355.0 / 33.0, &k2),
                (46_732.0 / 5247.0, &k3),
                (49.0 / 176.0, &k4),
                (-5103.0 / 18_656.0, &k5),
            ]),
        );
        let end = combine(&[
            (35.0 / 384.0, &k1),
            (500.0 / 1113.0, &k3),
            (125.0 / 192.0, &k4),
            (-2187.0 / 6784.0, &k5),
            (11.0 / 84.0, &k6),
        ]);
        let k7 = rate(1.0, &end);
        let sizes = model.sizes(start_s, state);
        let end_sizes = model.sizes(start_s + h, &end);
        let mut squares = 0.0;
        for i in 0..N {
            let e = h
                * (71.0 / 57_600.0 * k1[i] - 71.0 / 16_695.0 * k3[i] + 71.0 / 1920.0 * k4[i]
                    - 17_253.0 / 339_200.0 * k5[i]
                    + 22.0 / 525.0 * k6[i]
                    - 1.0 / 40.0 * k7[i]);
            let scale = RELATIVE_TOLERANCE * sizes[i].max(end_sizes[i]) + 1e-30;
            squares += (e / scale) * (e / scale);
        }
        let dense = {
            let change: State = core::array::from_fn(|i| end[i] - state[i]);
            let bow: State = core::array::from_fn(|i| h * k1[i] - change[i]);
            let twist: State = core::array::from_fn(|i| change[i] - h * k7[i] - bow[i]);
            let rest: State = core::array::from_fn(|i| {
                h * (-12_715_105_075.0 / 11_282_082_432.0 * k1[i]
                    + 87_487_479_700.0 / 32_700_410_799.0 * k3[i]
                    - 10_690_763_975.0 / 1_880_347_072.0 * k4[i]
                    + 701_980_252_875.0 / 199_316_789_632.0 * k5[i]
                    - 1_453_857_185.0 / 822_651_844.0 * k6[i]
                    + 69_997_945.0 / 29_380_423.0 * k7[i])
            });
            [*state, change, bow, twist, rest]
        };
        let error = (squares / N as f64).sqrt();
        Self { start_s, length_s, end, dense, last_rate: k7, error }
    }

    /// State inside the step.
    pub fn at(&self, time_s: f64) -> State {
        let t = ((time_s - self.start_s) / self.length_s).clamp(0.0, 1.0);
        let u = 1.0 - t;
        let d = &self.dense;
        core::array::from_fn(|i| {
            d[0][i] + t * (d[1][i] + u * (d[2][i] + t * (d[3][i] + u * d[4][i])))
        })
    }

    pub const fn last_rate(&self) -> &State {
        &self.last_rate
    }

    pub fn end_s(&self) -> f64 {
        self.start_s + self.length_s
    }
}
