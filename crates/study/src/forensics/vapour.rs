//! Vapour: a liquid film evaporates until the gas above it is saturated.

use physics::liquids::Liquid;

use super::circumstances::Circumstances;
use super::term::{Cause, SLOW, Shape, logarithmic_grid, saturating};
use super::window::Window;

/// Time constants that are tried.
const N_TIME_CONSTANTS: usize = 10;

/// `1 - e^(-t/tau)`, not below zero. Creep and, where the headspace is not
/// known, an emptying leak have the same shape; the size tells which can be.
pub(super) fn shapes(window: &Window) -> Vec<Shape> {
    let length = window.length_s();
    let shortest = (length / 10.0).max(3.0 * window.interval_s);
    logarithmic_grid(shortest, length * 2.0, N_TIME_CONSTANTS)
        .into_iter()
        .map(|tau| at(window, tau))
        .collect()
}

/// The same at one time constant.
pub(super) fn at(window: &Window, tau: f64) -> Shape {
    Shape {
        cause: Cause::Vapour,
        place: SLOW,
        column: saturating(&window.times_s, tau),
        lowest: 0.0,
        highest: f64::INFINITY,
        constant: Some(tau),
        age_s: 0.0,
        n_searched: 1,
    }
}

/// Whether vapour of water can give a rise of this size: not beyond
/// saturation, with a tenth for the temperature being off.
pub(super) fn can_be(rise_pa: f64, start_pa: f64, circumstances: &Circumstances) -> bool {
    if circumstances.wet == Some(false) {
        return false;
    }
    let Some(temperature) = circumstances.temperature else { return true };
    let Ok(water) = Liquid::Water.at(temperature) else { return true };
    let saturation_pa = water.vapour_pressure.pa();
    rise_pa <= 1.1 * saturation_pa && start_pa < saturation_pa
}
