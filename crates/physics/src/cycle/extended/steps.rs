//! Adaptive steps of the extended state: Dormand-Prince 5(4), as in the plain
//! cycle, one lane.

use super::rates::{
    CHAMBER, CREEP, ELASTIC, EVAPORATED, ExtendedRates, HEADSPACE, N, PLUNGER, POCKET, PUMPED,
    ROOM, RUN_OUT, SURFACE, State, TUBING, VAPOUR, Valve, WARMTH,
};

/// One trial step with its continuous output.
pub(super) struct Step {
    pub start_s: f64,
    pub length_s: f64,
    pub end: State,
    pub end_rates: State,
    /// Error over tolerance; good at 1 or below.
    pub error: f64,
    dense: [State; 5],
}

/// Relative error of chamber gas and temperature allowed per step.
const TOLERANCE: f64 = 1.0e-9;

impl Step {
    pub fn attempt(
        model: &ExtendedRates,
        start_s: f64,
        state: &State,
        k1: &State,
        h: f64,
        valve: Valve,
    ) -> Self {
        let at = |terms: &[(f64, &State)]| -> State {
            core::array::from_fn(|i| {
                state[i] + h * terms.iter().fold(0.0, |sum, &(a, k)| sum + a * k[i])
            })
        };
        let rates = |c: f64, y: &State| model.rates(start_s + c * h, y, valve);
        let k2 = rates(0.2, &at(&[(0.2, k1)]));
        let k3 = rates(0.3, &at(&[(3.0 / 40.0, k1), (9.0 / 40.0, &k2)]));
        let k4 = rates(0.8, &at(&[(44.0 / 45.0, k1), (-56.0 / 15.0, &k2), (32.0 / 9.0, &k3)]));
        let k5 = rates(
            8.0 / 9.0,
            &at(&[
                (19_372.0 / 6561.0, k1),
                (-25_360.0 / 2187.0, &k2),
                (64_448.0 / 6561.0, &k3),
                (-212.0 / 729.0, &k4),
            ]),
        );
        let k6 = rates(
            1.0,
            &at(&[
                (9017.0 / 3168.0, k1),
                (-355.0 / 33.0, &k2),
                (46_732.0 / 5247.0, &k3),
                (49.0 / 176.0, &k4),
                (-5103.0 / 18_656.0, &k5),
            ]),
        );
        let end = at(&[
            (35.0 / 384.0, k1),
            (500.0 / 1113.0, &k3),
            (125.0 / 192.0, &k4),
            (-2187.0 / 6784.0, &k5),
            (11.0 / 84.0, &k6),
        ]);
        let k7 = rates(1.0, &end);
        let gas = model.gas(start_s, state).abs().min(model.gas(start_s + h, &end).abs());
        let allowed = |i: usize| match i {
            WARMTH | SURFACE => TOLERANCE * 10.0,
            CHAMBER | HEADSPACE | POCKET | TUBING | VAPOUR | EVAPORATED => {
                TOLERANCE * gas.max(0.01 * state[i].abs())
            }
            PUMPED | ROOM => TOLERANCE * gas.max(state[i].abs()),
            // Parts of a volume, and of a mass.
            ELASTIC | CREEP | PLUNGER | RUN_OUT => TOLERANCE,
            _ => TOLERANCE,
        };
        let mut squares = 0.0;
        for i in 0..N {
            let e = h
                * (71.0 / 57_600.0 * k1[i] - 71.0 / 16_695.0 * k3[i] + 71.0 / 1920.0 * k4[i]
                    - 17_253.0 / 339_200.0 * k5[i]
                    + 22.0 / 525.0 * k6[i]
                    - 1.0 / 40.0 * k7[i]);
            let ratio = e / (allowed(i) + 1e-30);
            squares += ratio * ratio;
        }
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
        Self {
            start_s,
            length_s: h,
            end,
            end_rates: k7,
            error: (squares / N as f64).sqrt(),
            dense: [*state, change, bow, twist, rest],
        }
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
}
