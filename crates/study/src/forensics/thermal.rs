//! Thermal recovery: gas that was cooled by expansion, or that follows walls
//! on their way to another temperature.

use super::leak_rate::value_at;
use super::term::{Cause, FAST, FOLLOW, Shape, logarithmic_grid, saturating};
use super::window::Window;

/// Time constants of recovery that are tried.
const N_TIME_CONSTANTS: usize = 5;
/// Largest change of the absolute temperature that is believed, either way.
const LARGEST_SHARE: f64 = 0.5;

/// Largest share of the pressure that walls on their way to another
/// temperature can change it by: 30 K at room temperature.
const LARGEST_BY_WALLS: f64 = 0.1;
/// How much more than a recorded temperature the gas may have changed.
const LARGEST_AGAINST_SENSOR: f64 = 2.0;
/// Where the gas came from, Pa: pumping down expands it from about here.
const EXPANDED_FROM_PA: f64 = 101_325.0;
/// (γ - 1)/γ of air and nitrogen.
const ADIABATIC: f64 = 0.4 / 1.4;

/// Whether slow recovery of gas that was cooled by expansion can give a shape
/// of this size with this time constant: at most what gas that took up no heat
/// at all on its way down from the atmosphere has to make up,
/// `(p_atm/p)^((γ-1)/γ) - 1` of its pressure.
pub(super) fn can_recover(rise_pa: f64, tau_s: f64, window: &Window) -> bool {
    let start_pa = window.pressures_pa.first().copied().unwrap_or(0.0);
    if !(start_pa > 0.0) || tau_s >= 0.3 * window.length_s() {
        return false;
    }
    let adiabatic = digits::scalar::pow((EXPANDED_FROM_PA / start_pa).max(1.0), ADIABATIC) - 1.0;
    let (from, to) = window.measure_s;
    let left = |time: f64| digits::scalar::exp(-time / tau_s);
    rise_pa <= adiabatic * start_pa
        && goes_with_temperature(rise_pa * (left(from) - left(to)), window)
}

/// Whether walls that warm up or cool down can give a change of this size over
/// the measure stage, either way.
pub(super) fn can_follow_walls(change_pa: f64, window: &Window) -> bool {
    let start_pa = window.pressures_pa.first().copied().unwrap_or(0.0);
    change_pa.abs() <= LARGEST_BY_WALLS * start_pa && goes_with_temperature(change_pa, window)
}

/// Where temperatures were recorded they must have changed over the measure
/// stage as well, the same way and by enough.
fn goes_with_temperature(change_pa: f64, window: &Window) -> bool {
    if window.temperatures_k.len() != window.n() {
        return true;
    }
    let (from, to) = window.measure_s;
    let at = |values: &[f64], time: f64| value_at(&window.times_s, values, time);
    let before_k = at(&window.temperatures_k, from);
    if !(before_k > 0.0) {
        return true;
    }
    let warmed = at(&window.temperatures_k, to) / before_k - 1.0;
    let by_sensor_pa = at(&window.pressures_pa, from) * warmed;
    by_sensor_pa * change_pa > 0.0 && change_pa.abs() <= LARGEST_AGAINST_SENSOR * by_sensor_pa.abs()
}

/// Where temperatures were recorded the pressure follows them:
/// `f = p_start (T - T_start)/T_start`, coefficient between 0.3 and 2 because
/// the sensor of temperature is not the gas. Otherwise `1 - e^(-t/tau)` with
/// short time constants, either sign.
pub(super) fn shapes(window: &Window) -> Vec<Shape> {
    let start_pa = window.pressures_pa.first().copied().unwrap_or(0.0);
    let length = window.length_s();
    let shortest = window.interval_s.max(length / 200.0);
    let mut shapes: Vec<Shape> = logarithmic_grid(shortest, length / 10.0, N_TIME_CONSTANTS)
        .into_iter()
        .map(|tau| at(window, tau))
        .collect();
    let Some(&first) = window.temperatures_k.first() else { return shapes };
    let moves = window.temperatures_k.iter().any(|&now| (now - first).abs() > 0.02);
    if moves && first > 0.0 {
        shapes.push(Shape {
            cause: Cause::Thermal,
            place: FOLLOW,
            column: window
                .temperatures_k
                .iter()
                .map(|&now| start_pa * (now - first) / first)
                .collect(),
            lowest: 0.3,
            highest: 2.0,
            constant: None,
            age_s: 0.0,
            n_searched: 0,
        });
    }
    shapes
}

/// Recovery with one time constant.
pub(super) fn at(window: &Window, tau: f64) -> Shape {
    let start_pa = window.pressures_pa.first().copied().unwrap_or(0.0);
    Shape {
        cause: Cause::Thermal,
        place: FAST,
        column: saturating(&window.times_s, tau),
        lowest: -LARGEST_SHARE * start_pa,
        highest: LARGEST_SHARE * start_pa,
        constant: Some(tau),
        age_s: 0.0,
        n_searched: 1,
    }
}
