//! Liquids: properties over temperature, what a liquid does in a hole, and how
//! it evaporates.

mod capillary;
mod errors;
mod evaporation;
mod ethanol;
mod plugged_hole;
mod water;

pub use capillary::{LiquidFlow, holding_pressure, liquid_flow, whole_opening_bore};
pub use errors::LiquidError;
pub use evaporation::{
    Evaporation, chamber_saturation, evaporated_share_to_cool, evaporation_flux,
    recessed_meniscus_flow,
};
pub use plugged_hole::{HoleContent, PluggedHole, hole_content};
pub use water::ice_vapour_pressure;

use crate::quantities::{AbsolutePressure, Temperature};

/// Properties of a liquid of the user's own, at one temperature.
///
/// A formulation differs from water: solutes lower the vapour pressure (about
/// 1 % at 0.5 osmol/kg, from memory), surfactants lower the surface tension.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct GivenLiquid {
    /// Temperature at which the figures hold, K.
    pub temperature_k: f64,
    /// Molar mass of the vapour, kg/mol.
    pub molar_mass_kg_per_mol: f64,
    /// Vapour pressure, Pa.
    pub vapour_pressure_pa: f64,
    /// Surface tension, N/m.
    pub surface_tension_n_per_m: f64,
    /// Viscosity, Pa·s.
    pub viscosity_pa_s: f64,
    /// Density, kg/m³.
    pub density_kg_per_m3: f64,
    /// Heat of evaporation, J/kg.
    pub heat_of_evaporation_j_per_kg: f64,
    /// Heat capacity, J/(kg K).
    pub heat_capacity_j_per_kg_k: f64,
    /// Temperature below which it freezes, K.
    pub freezing_k: f64,
}

/// A liquid in a container.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Liquid {
    /// Water, and water for injection.
    Water,
    /// Ethanol.
    Ethanol,
    /// The user's own, within 10 K of its temperature.
    Given(GivenLiquid),
}

/// Properties of a liquid at one temperature.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LiquidState {
    /// Temperature.
    pub temperature: Temperature,
    /// Molar mass of the vapour, kg/mol.
    pub molar_mass_kg_per_mol: f64,
    /// Vapour pressure over a flat surface.
    pub vapour_pressure: AbsolutePressure,
    /// Surface tension, N/m.
    pub surface_tension_n_per_m: f64,
    /// Viscosity, Pa·s.
    pub viscosity_pa_s: f64,
    /// Density, kg/m³.
    pub density_kg_per_m3: f64,
    /// Heat of evaporation, J/kg.
    pub heat_of_evaporation_j_per_kg: f64,
    /// Heat capacity, J/(kg K).
    pub heat_capacity_j_per_kg_k: f64,
}

/// How far from its stated temperature a given liquid is trusted, K.
const GIVEN_SPAN_K: f64 = 10.0;

impl Liquid {
    /// The plain English name.
    #[must_use]
    pub const fn name(&self) -> &'static str {
        match self {
            Self::Water => "water",
            Self::Ethanol => "ethanol",
            Self::Given(_) => "given liquid",
        }
    }

    /// The named liquid; case does not count.
    #[must_use]
    pub fn from_name(name: &str) -> Option<Self> {
        let name = name.trim();
        if name.eq_ignore_ascii_case("water") || name.eq_ignore_ascii_case("wfi") {
            Some(Self::Water)
        } else if name.eq_ignore_ascii_case("ethanol") {
            Some(Self::Ethanol)
        } else {
            None
        }
    }

    /// Properties at a temperature.
    ///
    /// # Errors
    /// Below freezing, or outside the range of the property table (water 0 to
    /// 60 °C, ethanol 0 to 60 °C, a given liquid 10 K about its temperature).
    ///
    /// ```
    /// use physics::liquids::Liquid;
    /// use physics::quantities::Temperature;
    /// let water = Liquid::Water.at(Temperature::from_celsius(25.0)).unwrap();
    /// assert!((water.vapour_pressure.pa() / 3169.9 - 1.0).abs() < 2e-4);
    /// assert!(Liquid::Water.at(Temperature::from_celsius(-5.0)).is_err());
    /// ```
    pub fn at(&self, temperature: Temperature) -> Result<LiquidState, LiquidError> {
        let (freezing_k, low_k, high_k) = match self {
            Self::Water => (273.15, 273.15, 333.15),
            Self::Ethanol => (159.0, 273.15, 333.15),
            Self::Given(given) => (
                given.freezing_k,
                given.temperature_k - GIVEN_SPAN_K,
                given.temperature_k + GIVEN_SPAN_K,
            ),
        };
        let kelvin = temperature.k();
        if !kelvin.is_finite() {
            return Err(LiquidError::NotFinite { what: "temperature" });
        }
        if kelvin < freezing_k {
            return Err(LiquidError::Frozen { celsius: temperature.celsius() });
        }
        if kelvin < low_k || kelvin > high_k {
            return Err(LiquidError::OutsideTable {
                celsius: temperature.celsius(),
                from_celsius: low_k - 273.15,
                to_celsius: high_k - 273.15,
            });
        }
        Ok(match self {
            Self::Water => water::state(temperature),
            Self::Ethanol => ethanol::state(temperature),
            Self::Given(given) => LiquidState {
                temperature,
                molar_mass_kg_per_mol: given.molar_mass_kg_per_mol,
                vapour_pressure: AbsolutePressure::from_pa(given.vapour_pressure_pa),
                surface_tension_n_per_m: given.surface_tension_n_per_m,
                viscosity_pa_s: given.viscosity_pa_s,
                density_kg_per_m3: given.density_kg_per_m3,
                heat_of_evaporation_j_per_kg: given.heat_of_evaporation_j_per_kg,
                heat_capacity_j_per_kg_k: given.heat_capacity_j_per_kg_k,
            },
        })
    }
}
