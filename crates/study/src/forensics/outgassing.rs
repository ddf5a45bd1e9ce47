//! Outgassing of walls and seals: the gas given off since isolation.

use super::term::{Cause, GAS, Shape};
use super::window::Window;
use digits::scalar::{ln_1p, pow};

/// Exponents of the rate `t^-n` that are tried: 1 for unbaked metal and glass,
/// 0.5 for diffusion out of elastomers, and between. Source: physics note 6;
/// the real logs of the project's data note lie at 0.87 to 1.00.
pub(super) const EXPONENTS: [f64; 3] = [1.0, 0.75, 0.5];

/// Times under vacuum that are tried where the start of pumping is not known.
const AGES_S: [f64; 4] = [1.0, 5.0, 20.0, 100.0];

/// Every shape that is tried first.
pub(super) fn shapes(window: &Window) -> Vec<Shape> {
    ages(window)
        .iter()
        .flat_map(|&age| EXPONENTS.map(|exponent| at(window, age, exponent)))
        .collect()
}

/// Times under vacuum that are tried.
pub(super) fn ages(window: &Window) -> Vec<f64> {
    match window.age_s {
        Some(age) => vec![age.max(window.interval_s).max(0.1)],
        None => AGES_S.to_vec(),
    }
}

/// The gas from a rate `(t + age)^-n`:
/// `ln(1 + t/age)`, or `((t + age)^(1-n) - age^(1-n))/(1 - n)`.
pub(super) fn at(window: &Window, age_s: f64, exponent: f64) -> Shape {
    let left = 1.0 - exponent;
    let released = |time: f64| {
        if left.abs() < 1e-3 {
            ln_1p(time / age_s)
        } else {
            (pow(time + age_s, left) - pow(age_s, left)) / left
        }
    };
    Shape {
        cause: Cause::Outgassing,
        place: GAS,
        column: window.times_s.iter().map(|&time| released(time)).collect(),
        lowest: 0.0,
        highest: f64::INFINITY,
        constant: Some(exponent),
        age_s,
        n_searched: usize::from(exponent != 1.0) + usize::from(window.age_s.is_none()),
    }
}
