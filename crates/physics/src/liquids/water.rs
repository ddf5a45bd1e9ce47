//! Properties of water and ice.

use digits::scalar::{exp, pow};

use super::{Evaporating, LiquidState};
use crate::quantities::{AbsolutePressure, Temperature};

/// Temperature of the critical point, K.
const CRITICAL_K: f64 = 647.096;
/// Density at the critical point, kg/m³.
const CRITICAL_DENSITY: f64 = 322.0;

/// Vapour pressure of liquid water, Pa; region 4 of the industrial formulation
/// IAPWS-IF97, 273.15 to 647 K (coefficients from memory, checked against the
/// packages `iapws` 1.5.5 and CoolProp 8.0.0).
pub(super) fn vapour_pressure_pa(kelvin: f64) -> f64 {
    const N: [f64; 10] = [
        0.116_705_214_527_67e4,
        -0.724_213_167_032_06e6,
        -0.170_738_469_400_92e2,
        0.120_208_247_024_70e5,
        -0.323_255_503_223_33e7,
        0.149_151_086_135_30e2,
        -0.482_326_573_615_91e4,
        0.405_113_405_420_57e6,
        -0.238_555_575_678_49,
        0.650_175_348_447_98e3,
    ];
    let theta = kelvin + N[8] / (kelvin - N[9]);
    let a = theta * theta + N[0] * theta + N[1];
    let b = N[2] * theta * theta + N[3] * theta + N[4];
    let c = N[5] * theta * theta + N[6] * theta + N[7];
    let root = 2.0 * c / (-b + (b * b - 4.0 * a * c).sqrt());
    let squared = root * root;
    squared * squared * 1.0e6
}

/// Surface tension, N/m: IAPWS R1-76(2014), `σ = 0.2358 τ^1.256 (1 - 0.625 τ)`.
fn surface_tension(kelvin: f64) -> f64 {
    let tau = 1.0 - kelvin / CRITICAL_K;
    0.2358 * pow(tau, 1.256) * (1.0 - 0.625 * tau)
}

/// Viscosity at 0.1 MPa, Pa·s: IAPWS supplementary release on properties of
/// liquid water at 0.1 MPa (2008), 253 to 383 K.
fn viscosity(kelvin: f64) -> f64 {
    const TERMS: [(f64, f64); 4] =
        [(280.68, -1.9), (511.45, -7.7), (61.131, -19.6), (0.459_03, -40.0)];
    let t = kelvin / 300.0;
    TERMS.iter().fold(0.0, |sum, &(factor, power)| sum + factor * pow(t, power)) * 1.0e-6
}

/// Density of the saturated liquid, kg/m³: W. Wagner and A. Pruss, J. Phys.
/// Chem. Ref. Data 22 (1993) 783, equation for saturated liquid density.
fn density(kelvin: f64) -> f64 {
    const TERMS: [(f64, f64); 6] = [
        (1.992_740_64, 1.0 / 3.0),
        (1.099_653_42, 2.0 / 3.0),
        (-0.510_839_303, 5.0 / 3.0),
        (-1.754_934_79, 16.0 / 3.0),
        (-45.517_035_2, 43.0 / 3.0),
        (-6.746_944_50e5, 110.0 / 3.0),
    ];
    let tau = 1.0 - kelvin / CRITICAL_K;
    let sum = TERMS.iter().fold(1.0, |sum, &(factor, power)| sum + factor * pow(tau, power));
    CRITICAL_DENSITY * sum
}

/// Heat of evaporation, J/kg: parabola through the values of CoolProp 8.0.0
/// from 0 to 40 °C, within 0.02 %.
fn heat_of_evaporation(celsius: f64) -> f64 {
    2_500_920.0 - celsius * (2360.5 + 0.34 * celsius)
}

/// Molar mass, kg/mol.
const MOLAR_MASS: f64 = 18.015_268e-3;
/// Heat capacity of the liquid, J/(kg K).
const HEAT_CAPACITY: f64 = 4184.0;

/// What evaporation needs of the state, with the same digits.
pub(super) fn evaporating(temperature: Temperature) -> Evaporating {
    Evaporating {
        vapour_pressure_pa: vapour_pressure_pa(temperature.k()),
        molar_mass_kg_per_mol: MOLAR_MASS,
        heat_of_evaporation_j_per_kg: heat_of_evaporation(temperature.celsius()),
        heat_capacity_j_per_kg_k: HEAT_CAPACITY,
    }
}

pub(super) fn state(temperature: Temperature) -> LiquidState {
    let kelvin = temperature.k();
    LiquidState {
        temperature,
        molar_mass_kg_per_mol: MOLAR_MASS,
        vapour_pressure: AbsolutePressure::from_pa(vapour_pressure_pa(kelvin)),
        surface_tension_n_per_m: surface_tension(kelvin),
        viscosity_pa_s: viscosity(kelvin),
        density_kg_per_m3: density(kelvin),
        heat_of_evaporation_j_per_kg: heat_of_evaporation(temperature.celsius()),
        heat_capacity_j_per_kg_k: HEAT_CAPACITY,
    }
}

/// Vapour pressure of ice; `None` outside 130 to 273.16 K.
///
/// `ln(p/p_t) = θ^-1 Σ a_i θ^b_i`, `θ = T/273.16 K`, `p_t = 611.657 Pa`.
/// Source: IAPWS R14-08(2011), sublimation pressure.
///
/// ```
/// use physics::liquids::ice_vapour_pressure;
/// use physics::quantities::Temperature;
/// let p = ice_vapour_pressure(Temperature::from_celsius(-20.0)).unwrap();
/// assert!((p.pa() / 103.24 - 1.0).abs() < 1e-4);
/// ```
#[must_use]
pub fn ice_vapour_pressure(temperature: Temperature) -> Option<AbsolutePressure> {
    const TERMS: [(f64, f64); 3] = [
        (-0.212_144_006e2, 0.333_333_333e-2),
        (0.273_203_819e2, 1.206_666_67),
        (-0.610_598_130e1, 1.703_333_33),
    ];
    if !(130.0..=273.16).contains(&temperature.k()) {
        return None;
    }
    let theta = temperature.k() / 273.16;
    let sum = TERMS.iter().fold(0.0, |sum, &(factor, power)| sum + factor * pow(theta, power));
    Some(AbsolutePressure::from_pa(611.657 * exp(sum / theta)))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn ice_and_water_meet_at_the_triple_point() {
        let ice = ice_vapour_pressure(Temperature::from_k(273.16)).map_or(0.0, |p| p.pa());
        let water = vapour_pressure_pa(273.16);
        assert!((ice / water - 1.0).abs() < 1e-4, "{ice} {water}");
    }
}
