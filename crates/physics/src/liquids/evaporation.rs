//! Evaporation: its kinetic limit, a recessed meniscus, cooling, saturation.

use digits::scalar::exp_m1;

use super::errors::check_positive;
use super::{LiquidError, LiquidState};
use crate::gases::Gas;
use crate::leak_paths::{FlowConditions, LeakPath};
use crate::quantities::{
    AbsolutePressure, Area, Duration, Length, MOLAR_GAS_CONSTANT_J_PER_MOL_K as R, MolarFlow,
    Volume,
};

/// Evaporation at the kinetic limit.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Evaporation {
    /// Mass per area and time, kg/(m² s).
    pub mass_flux_kg_per_m2_s: f64,
    /// Amount per area and time, mol/(m² s).
    pub molar_flux_mol_per_m2_s: f64,
}

/// Largest rate at which a surface can evaporate against a vapour pressure in
/// the room above it (Hertz and Knudsen, coefficient 1):
/// `(p_sat - p) sqrt(M/(2 π R T))`. Negative where vapour condenses.
///
/// # Errors
/// A vapour pressure in the room that is negative or not a number.
pub fn evaporation_flux(
    liquid: &LiquidState,
    vapour_above: AbsolutePressure,
) -> Result<Evaporation, LiquidError> {
    if !(vapour_above.pa() >= 0.0 && vapour_above.is_finite()) {
        return Err(LiquidError::NotPositive {
            what: "vapour pressure above the surface, Pa",
            value: vapour_above.pa(),
        });
    }
    let mass = liquid.molar_mass_kg_per_mol;
    let molar = (liquid.vapour_pressure.pa() - vapour_above.pa())
        / (2.0 * core::f64::consts::PI * mass * R * liquid.temperature.k()).sqrt();
    Ok(Evaporation { mass_flux_kg_per_m2_s: molar * mass, molar_flux_mol_per_m2_s: molar })
}

/// Flow of water vapour from a meniscus that has drawn back into a channel:
/// the gas law of the channel with the vapour pressure upstream, no more than
/// the surface can evaporate. A dry-ended plug is nearly invisible.
///
/// With air left above the plug diffusion is slower still.
///
/// # Errors
/// As [`LeakPath::flow`].
pub fn recessed_meniscus_flow(
    water: &LiquidState,
    bore: Length,
    recess: Length,
    vapour_in_chamber: AbsolutePressure,
) -> Result<MolarFlow, LiquidError> {
    check_positive("bore diameter, m", bore.m())?;
    let limit = evaporation_flux(water, vapour_in_chamber)?.molar_flux_mol_per_m2_s
        * bore.circle_area().m2();
    if recess.m() <= 0.0 {
        return Ok(MolarFlow::from_mol_per_s(limit));
    }
    let conditions = FlowConditions {
        gas: Gas::WaterVapour,
        upstream: water.vapour_pressure,
        downstream: vapour_in_chamber,
        temperature: water.temperature,
    };
    let path = LeakPath::Channel { bore_diameter: bore, wall: recess };
    let flow = path.flow(&conditions)?.molar_flow.mol_per_s();
    Ok(MolarFlow::from_mol_per_s(if limit >= 0.0 { flow.min(limit) } else { flow.max(limit) }))
}

/// Share of a liquid that evaporates to cool the rest by a number of kelvin,
/// without heat from outside: `c_p ΔT/L`. About 4 % takes water from 25 °C to
/// freezing.
#[must_use]
pub fn evaporated_share_to_cool(liquid: &LiquidState, by_kelvin: f64) -> f64 {
    liquid.heat_capacity_j_per_kg_k * by_kelvin / liquid.heat_of_evaporation_j_per_kg
}

/// Vapour pressure in a closed chamber that an open surface fills:
/// `p = p_sat (1 - e^(-t/τ))`, `τ = V/(A sqrt(R T/(2 π M)))`.
///
/// The surface keeps its temperature; a real one cools and the plateau with it.
#[must_use]
pub fn chamber_saturation(
    liquid: &LiquidState,
    surface: Area,
    chamber: Volume,
    time: Duration,
) -> AbsolutePressure {
    let speed = (R * liquid.temperature.k()
        / (2.0 * core::f64::consts::PI * liquid.molar_mass_kg_per_mol))
        .sqrt();
    let rate = surface.m2() * speed / chamber.m3();
    AbsolutePressure::from_pa(liquid.vapour_pressure.pa() * -exp_m1(-rate * time.s()))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::liquids::Liquid;
    use crate::quantities::Temperature;

    #[test]
    fn saturation_ends_at_the_vapour_pressure_and_then_nothing_evaporates() {
        let water = Liquid::Water.at(Temperature::from_celsius(20.0)).expect("water");
        let end = chamber_saturation(
            &water,
            Area::from_cm2(1.0),
            Volume::from_ml(100.0),
            Duration::from_s(60.0),
        );
        assert!((end.pa() / water.vapour_pressure.pa() - 1.0).abs() < 1e-12);
        let flux = evaporation_flux(&water, water.vapour_pressure).expect("flux");
        assert_eq!(flux.mass_flux_kg_per_m2_s, 0.0);
    }
}
