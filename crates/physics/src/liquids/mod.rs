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

/// A solution whose vapour is that of one solvent: its properties are those of
/// the solvent times ratios that hold over temperature (Raoult's law for the
/// vapour pressure; for the others an assumption, good near the temperature at
/// which they were found).
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Solution {
    /// What evaporates.
    pub solvent: Solvent,
    /// Vapour pressure over that of the solvent.
    pub vapour_pressure: f64,
    /// Surface tension over that of the solvent.
    pub surface_tension: f64,
    /// Viscosity over that of the solvent.
    pub viscosity: f64,
    /// Density over that of the solvent.
    pub density: f64,
}

/// A solvent with a property table.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Solvent {
    /// Water.
    Water,
    /// Ethanol.
    Ethanol,
}

impl Solvent {
    /// The pure solvent.
    #[must_use]
    pub const fn pure(self) -> Liquid {
        match self {
            Self::Water => Liquid::Water,
            Self::Ethanol => Liquid::Ethanol,
        }
    }

    /// The solvent of this name; case does not count.
    #[must_use]
    pub fn from_name(name: &str) -> Option<Self> {
        match Liquid::from_name(name)? {
            Liquid::Water => Some(Self::Water),
            Liquid::Ethanol => Some(Self::Ethanol),
            Liquid::Given(_) | Liquid::Solution(_) => None,
        }
    }
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
    /// A solution in one of the solvents.
    Solution(Solution),
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

/// What evaporation needs of the state of a liquid.
pub(crate) struct Evaporating {
    /// Vapour pressure, Pa.
    pub vapour_pressure_pa: f64,
    /// Molar mass, kg/mol.
    pub molar_mass_kg_per_mol: f64,
    /// Heat of evaporation, J/kg.
    pub heat_of_evaporation_j_per_kg: f64,
    /// Heat capacity of the liquid, J/(kg K).
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
            Self::Solution(_) => "solution",
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
        if let Self::Solution(solution) = self {
            return solution.at(temperature);
        }
        self.check(temperature)?;
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
            Self::Solution(_) => unreachable!("answered above"),
        })
    }

    /// What evaporation needs of the state, for a pure or given liquid: the
    /// right-hand side of a cycle asks for it some hundred thousand times, and
    /// has no use for the rest, which takes far longer.
    pub(crate) fn evaporating(&self, temperature: Temperature) -> Result<Evaporating, LiquidError> {
        if let Self::Water = self {
            self.check(temperature)?;
            return Ok(water::evaporating(temperature));
        }
        self.at(temperature).map(|state| Evaporating {
            vapour_pressure_pa: state.vapour_pressure.pa(),
            molar_mass_kg_per_mol: state.molar_mass_kg_per_mol,
            heat_of_evaporation_j_per_kg: state.heat_of_evaporation_j_per_kg,
            heat_capacity_j_per_kg_k: state.heat_capacity_j_per_kg_k,
        })
    }

    /// Whether the table of a pure or given liquid holds this temperature.
    fn check(&self, temperature: Temperature) -> Result<(), LiquidError> {
        let (freezing_k, low_k, high_k) = match self {
            Self::Water => (273.15, 273.15, 333.15),
            Self::Ethanol => (159.0, 273.15, 333.15),
            Self::Given(given) => (
                given.freezing_k,
                given.temperature_k - GIVEN_SPAN_K,
                given.temperature_k + GIVEN_SPAN_K,
            ),
            Self::Solution(solution) => return solution.solvent.pure().check(temperature),
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
        Ok(())
    }
}

impl Solution {
    fn at(&self, temperature: Temperature) -> Result<LiquidState, LiquidError> {
        let ratios = [
            ("vapour pressure over that of the solvent", self.vapour_pressure),
            ("surface tension over that of the solvent", self.surface_tension),
            ("viscosity over that of the solvent", self.viscosity),
            ("density over that of the solvent", self.density),
        ];
        for (what, ratio) in ratios {
            errors::check_positive(what, ratio)?;
        }
        let pure = self.solvent.pure().at(temperature)?;
        let vapour_pa = pure.vapour_pressure.pa() * self.vapour_pressure;
        Ok(LiquidState {
            vapour_pressure: AbsolutePressure::from_pa(vapour_pa),
            surface_tension_n_per_m: pure.surface_tension_n_per_m * self.surface_tension,
            viscosity_pa_s: pure.viscosity_pa_s * self.viscosity,
            density_kg_per_m3: pure.density_kg_per_m3 * self.density,
            ..pure
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_evaporation_needs_has_the_digits_of_the_state() {
        for liquid in [Liquid::Water, Liquid::Ethanol] {
            for celsius in [0.0, 3.7, 20.0, 59.9] {
                let temperature = Temperature::from_celsius(celsius);
                let state = liquid.at(temperature).expect("in the table");
                let found = liquid.evaporating(temperature).expect("in the table");
                assert_eq!(found.vapour_pressure_pa, state.vapour_pressure.pa());
                assert_eq!(found.molar_mass_kg_per_mol, state.molar_mass_kg_per_mol);
                let heat = found.heat_of_evaporation_j_per_kg;
                assert_eq!(heat, state.heat_of_evaporation_j_per_kg);
                assert_eq!(found.heat_capacity_j_per_kg_k, state.heat_capacity_j_per_kg_k);
            }
            assert!(liquid.evaporating(Temperature::from_celsius(-5.0)).is_err());
        }
    }

    /// Raoult: the ratio of vapour pressures stays over temperature; water 2339.32
    /// and 3169.93 Pa at 20 and 25 °C (IAPWS-95, physics.md 5.1).
    #[test]
    fn a_solution_keeps_its_ratios_over_temperature() {
        let solution = Solution {
            solvent: Solvent::Water,
            vapour_pressure: 0.99,
            surface_tension: 0.6,
            viscosity: 3.0,
            density: 1.02,
        };
        for (celsius, pure_pa) in [(20.0, 2339.32), (25.0, 3169.93)] {
            let state = Liquid::Solution(solution)
                .at(Temperature::from_celsius(celsius))
                .expect("in the table");
            assert!((state.vapour_pressure.pa() / (0.99 * pure_pa) - 1.0).abs() < 2e-4);
            assert_eq!(state.molar_mass_kg_per_mol, 18.015_268e-3);
        }
        let none = Solution { viscosity: 0.0, ..solution };
        assert!(Liquid::Solution(none).at(Temperature::from_celsius(20.0)).is_err());
        assert!(Liquid::Solution(solution).at(Temperature::from_celsius(-5.0)).is_err());
    }
}
