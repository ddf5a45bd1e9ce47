//! Gases: molar mass, viscosity, heat-capacity ratio, mean free path.

use crate::quantities::{
    AbsolutePressure, Length, MOLAR_GAS_CONSTANT_J_PER_MOL_K as R, Temperature,
};

/// A gas of the trade, treated as ideal.
///
/// Compressibility departs from 1 by at most 0.10 % at 20 °C and 1 atm, carbon
/// dioxide by 0.53 % (CoolProp 8.0.0, independent program).
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Gas {
    /// Dry air.
    Air,
    /// Nitrogen.
    Nitrogen,
    /// Oxygen.
    Oxygen,
    /// Argon.
    Argon,
    /// Carbon dioxide.
    CarbonDioxide,
    /// Helium.
    Helium,
    /// Water vapour, below saturation.
    WaterVapour,
}

/// What a leak law needs to know of a gas, at one temperature.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct GasProperties {
    /// Molar mass, kg/mol.
    pub molar_mass_kg_per_mol: f64,
    /// Viscosity, Pa·s.
    pub viscosity_pa_s: f64,
    /// Ratio of heat capacities.
    pub heat_capacity_ratio: f64,
}

/// What can flow through a leak: a gas of the list, or one of given properties
/// such as a mixture.
pub trait FlowingGas: Copy {
    /// What a leak law needs to know of it at a temperature.
    fn properties_at(&self, temperature: Temperature) -> GasProperties;
}

impl FlowingGas for Gas {
    fn properties_at(&self, temperature: Temperature) -> GasProperties {
        self.properties(temperature)
    }
}

impl FlowingGas for GasProperties {
    /// The properties as given: they hold at their own temperature only.
    fn properties_at(&self, _temperature: Temperature) -> GasProperties {
        *self
    }
}

/// Constants of one gas.
struct Constants {
    name: &'static str,
    also_called: &'static [&'static str],
    molar_mass_kg_per_mol: f64,
    /// Viscosity at 20 °C.
    viscosity_at_20_c_pa_s: f64,
    /// Sutherland's constant, K.
    sutherland_k: f64,
    heat_capacity_ratio: f64,
    /// Thermal conductivity at 20 °C, W/(m K); none where it was not looked up.
    conductivity_at_20_c: Option<f64>,
}

const REFERENCE_K: f64 = 293.15;

impl Gas {
    /// Every gas, in the order in which they are listed to the user.
    pub const ALL: &'static [Self] = &[
        Self::Air,
        Self::Nitrogen,
        Self::Oxygen,
        Self::Argon,
        Self::CarbonDioxide,
        Self::Helium,
        Self::WaterVapour,
    ];

    // Molar mass, viscosity and thermal conductivity at 20 °C and heat-capacity
    // ratio: CoolProp 8.0.0.
    // Sutherland constants of air, nitrogen, argon and helium: from memory;
    // of oxygen, carbon dioxide and water vapour: fitted to the CoolProp values
    // at 0, 20, 25 and 40 °C. All meet those values to 0.3 %.
    const fn constants(self) -> Constants {
        match self {
            Self::Air => Constants {
                name: "air",
                also_called: &["dry air"],
                molar_mass_kg_per_mol: 28.9655e-3,
                viscosity_at_20_c_pa_s: 18.206e-6,
                sutherland_k: 110.4,
                heat_capacity_ratio: 1.4,
                conductivity_at_20_c: Some(25.87e-3),
            },
            Self::Nitrogen => Constants {
                name: "nitrogen",
                also_called: &["N2"],
                molar_mass_kg_per_mol: 28.0135e-3,
                viscosity_at_20_c_pa_s: 17.573e-6,
                sutherland_k: 111.0,
                heat_capacity_ratio: 1.4,
                conductivity_at_20_c: Some(25.47e-3),
            },
            Self::Oxygen => Constants {
                name: "oxygen",
                also_called: &["O2"],
                molar_mass_kg_per_mol: 31.9988e-3,
                viscosity_at_20_c_pa_s: 20.273e-6,
                sutherland_k: 129.0,
                heat_capacity_ratio: 1.3952,
                conductivity_at_20_c: Some(25.95e-3),
            },
            Self::Argon => Constants {
                name: "argon",
                also_called: &["Ar"],
                molar_mass_kg_per_mol: 39.948e-3,
                viscosity_at_20_c_pa_s: 22.307e-6,
                sutherland_k: 144.4,
                heat_capacity_ratio: 5.0 / 3.0,
                conductivity_at_20_c: Some(17.50e-3),
            },
            Self::CarbonDioxide => Constants {
                name: "carbon dioxide",
                also_called: &["CO2"],
                molar_mass_kg_per_mol: 44.0098e-3,
                viscosity_at_20_c_pa_s: 14.675e-6,
                sutherland_k: 249.0,
                heat_capacity_ratio: 1.2908,
                conductivity_at_20_c: Some(16.25e-3),
            },
            Self::Helium => Constants {
                name: "helium",
                also_called: &["He"],
                molar_mass_kg_per_mol: 4.0026e-3,
                viscosity_at_20_c_pa_s: 19.618e-6,
                sutherland_k: 79.4,
                heat_capacity_ratio: 5.0 / 3.0,
                conductivity_at_20_c: Some(153.5e-3),
            },
            Self::WaterVapour => Constants {
                name: "water vapour",
                also_called: &["H2O", "water vapor", "steam"],
                molar_mass_kg_per_mol: 18.0153e-3,
                viscosity_at_20_c_pa_s: 9.544e-6,
                sutherland_k: 239.0,
                heat_capacity_ratio: 1.3293,
                conductivity_at_20_c: None,
            },
        }
    }

    /// The gas of this name or formula; case does not count.
    ///
    /// ```
    /// use physics::gases::Gas;
    /// assert_eq!(Gas::from_name("HELIUM"), Some(Gas::Helium));
    /// assert_eq!(Gas::from_name("n2"), Some(Gas::Nitrogen));
    /// assert_eq!(Gas::from_name("xenon"), None);
    /// ```
    #[must_use]
    pub fn from_name(name: &str) -> Option<Self> {
        let wanted = name.trim();
        Self::ALL.iter().copied().find(|gas| {
            let constants = gas.constants();
            constants.name.eq_ignore_ascii_case(wanted)
                || constants.also_called.iter().any(|other| other.eq_ignore_ascii_case(wanted))
        })
    }

    /// The plain English name.
    #[must_use]
    pub const fn name(self) -> &'static str {
        self.constants().name
    }

    /// Molar mass, kg/mol.
    #[must_use]
    pub const fn molar_mass_kg_per_mol(self) -> f64 {
        self.constants().molar_mass_kg_per_mol
    }

    /// Viscosity at low pressure, Pa·s, after Sutherland about 20 °C:
    /// `mu = mu20 (T/T20)^1.5 (T20 + S)/(T + S)`.
    ///
    /// Checked from 0 to 40 °C to 0.5 %; below 1 atm the pressure effect is at
    /// most 0.12 % (CoolProp 8.0.0).
    #[must_use]
    pub fn viscosity_pa_s(self, temperature: Temperature) -> f64 {
        let constants = self.constants();
        let ratio = temperature.k() / REFERENCE_K;
        constants.viscosity_at_20_c_pa_s
            * ratio
            * ratio.sqrt()
            * (REFERENCE_K + constants.sutherland_k)
            / (temperature.k() + constants.sutherland_k)
    }

    /// Ratio of heat capacities of the ideal gas, at 20 °C.
    #[must_use]
    pub const fn heat_capacity_ratio(self) -> f64 {
        self.constants().heat_capacity_ratio
    }

    /// Thermal conductivity, W/(m K): the value at 20 °C (CoolProp 8.0.0), carried
    /// to other temperatures in proportion to the viscosity. `None` for water
    /// vapour, for which no value was looked up.
    #[must_use]
    pub fn thermal_conductivity_w_per_m_k(self, temperature: Temperature) -> Option<f64> {
        let constants = self.constants();
        let ratio = self.viscosity_pa_s(temperature) / constants.viscosity_at_20_c_pa_s;
        constants.conductivity_at_20_c.map(|at_20_c| at_20_c * ratio)
    }

    /// What a leak law needs, at a temperature.
    #[must_use]
    pub fn properties(self, temperature: Temperature) -> GasProperties {
        GasProperties {
            molar_mass_kg_per_mol: self.molar_mass_kg_per_mol(),
            viscosity_pa_s: self.viscosity_pa_s(temperature),
            heat_capacity_ratio: self.heat_capacity_ratio(),
        }
    }

    /// Equivalent mean free path, `(mu/p) sqrt(pi R T / (2 M))`.
    ///
    /// At zero pressure it is infinite, which is physics and not an error.
    #[must_use]
    pub fn mean_free_path(self, pressure: AbsolutePressure, temperature: Temperature) -> Length {
        let speed = (core::f64::consts::PI * R * temperature.k()
            / (2.0 * self.molar_mass_kg_per_mol()))
        .sqrt();
        Length::from_m(self.viscosity_pa_s(temperature) / pressure.pa() * speed)
    }

    /// Mean molecular speed, `sqrt(8 R T / (pi M))`, m/s.
    #[must_use]
    pub fn mean_speed_m_per_s(self, temperature: Temperature) -> f64 {
        (8.0 * R * temperature.k() / (core::f64::consts::PI * self.molar_mass_kg_per_mol())).sqrt()
    }

    /// Most probable molecular speed, `v0 = sqrt(2 R T / M)`, m/s.
    #[must_use]
    pub fn most_probable_speed_m_per_s(self, temperature: Temperature) -> f64 {
        (2.0 * R * temperature.k() / self.molar_mass_kg_per_mol()).sqrt()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_name_leads_back_to_its_gas() {
        for &gas in Gas::ALL {
            assert_eq!(Gas::from_name(gas.name()), Some(gas));
        }
    }

    #[test]
    fn viscosity_at_the_reference_is_the_stored_value() {
        let viscosity = Gas::Argon.viscosity_pa_s(Temperature::from_celsius(20.0));
        assert!((viscosity / 22.307e-6 - 1.0).abs() < 1e-14);
    }
}
