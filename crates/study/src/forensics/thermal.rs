//! Thermal recovery: gas that was cooled by expansion, or that follows walls
//! on their way to another temperature.

use super::term::{Cause, FAST, FOLLOW, Shape, logarithmic_grid, saturating};
use super::window::Window;

/// Time constants of recovery that are tried.
const N_TIME_CONSTANTS: usize = 5;
/// Largest change of the absolute temperature that is believed, either way.
const LARGEST_SHARE: f64 = 0.5;

/// Whether slow recovery can give a rise of this size with this time
/// constant; where temperatures were recorded they must have risen as well.
pub(super) fn can_be(rise_pa: f64, tau_s: f64, window: &Window) -> bool {
    let start_pa = window.pressures_pa.first().copied().unwrap_or(0.0);
    let warmed = match (window.temperatures_k.first(), window.temperatures_k.last()) {
        (Some(first), Some(last)) => *last > 1.01 * first,
        _ => true,
    };
    warmed && rise_pa < 1.2 * start_pa && tau_s < 0.3 * window.length_s()
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
