//! Properties of ethanol.

use digits::scalar::exp;

use super::LiquidState;
use crate::quantities::{AbsolutePressure, Temperature};

/// Fits of CoolProp 8.0.0 from 0 to 60 °C: vapour pressure within 0.07 %,
/// viscosity 0.02 %, heat of evaporation 0.03 %, the rest 0.01 %.
pub(super) fn state(temperature: Temperature) -> LiquidState {
    let (kelvin, celsius) = (temperature.k(), temperature.celsius());
    LiquidState {
        temperature,
        molar_mass_kg_per_mol: 46.068_44e-3,
        vapour_pressure: AbsolutePressure::from_pa(exp(
            24.020_029_2 - 3_925.441_047_72 / (kelvin - 37.272_905_13)
        )),
        surface_tension_n_per_m: 2.429_190_57e-2
            - celsius * (9.602_179_64e-5 + 1.104_576_2e-8 * celsius),
        viscosity_pa_s: exp(-13.767_597_24 + 2_491.776_150_31 / (kelvin + 60.979_343_57)),
        density_kg_per_m3: 806.266_366 - celsius * (0.832_083_02 + 6.316_517_49e-4 * celsius),
        heat_of_evaporation_j_per_kg: 945_754.952
            - celsius * (906.835_921 + 3.783_709_81 * celsius),
        heat_capacity_j_per_kg_k: 2440.0,
    }
}
