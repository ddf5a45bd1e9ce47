//! Mixtures of gases, with the averaging rule stated for each property.

use crate::gases::{Gas, GasProperties};
use crate::quantities::Temperature;

/// A mixture by mole fractions.
#[derive(Debug, Clone, PartialEq)]
pub struct GasMixture {
    parts: Vec<(Gas, f64)>,
}

/// Why a mixture was refused.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum MixtureError {
    /// No gas given.
    #[error("the mixture has no gas; give at least one with its mole fraction")]
    Empty,
    /// A fraction below zero or not a number.
    #[error("the mole fraction of {gas} is {fraction}; it must lie from 0 to 1")]
    Fraction {
        /// Which gas.
        gas: &'static str,
        /// What was given.
        fraction: f64,
    },
    /// The fractions do not sum to one.
    #[error("the mole fractions sum to {sum}, not to 1; add the missing gas or correct them")]
    Sum {
        /// Their sum.
        sum: f64,
    },
}

impl GasMixture {
    /// A mixture; the fractions must sum to 1 within 1e-6 and are then scaled to
    /// do so exactly.
    ///
    /// # Errors
    /// No gas, a fraction outside 0 to 1, a sum that is not 1.
    pub fn new(parts: &[(Gas, f64)]) -> Result<Self, MixtureError> {
        if parts.is_empty() {
            return Err(MixtureError::Empty);
        }
        for &(gas, fraction) in parts {
            if !(0.0..=1.0).contains(&fraction) {
                return Err(MixtureError::Fraction { gas: gas.name(), fraction });
            }
        }
        let sum = digits::sums::sum(parts.iter().map(|part| part.1));
        if (sum - 1.0).abs() > 1e-6 {
            return Err(MixtureError::Sum { sum });
        }
        Ok(Self { parts: parts.iter().map(|&(gas, fraction)| (gas, fraction / sum)).collect() })
    }

    /// Properties that a leak law needs.
    ///
    /// Molar mass: mole average. Heat-capacity ratio: from the mole average of
    /// the molar heat capacities `γ/(γ-1)`. Viscosity: C. R. Wilke, J. Chem. Phys.
    /// 18 (1950) 517 (from memory). In free-molecular flow each gas effuses by
    /// its own mass, which an average cannot show: the lighter gas runs ahead.
    #[must_use]
    pub fn properties(&self, temperature: Temperature) -> GasProperties {
        let mass = self.mean(|gas| gas.molar_mass_kg_per_mol());
        let capacity = self.mean(|gas| {
            let gamma = gas.heat_capacity_ratio();
            gamma / (gamma - 1.0)
        });
        let viscosity = digits::sums::sum(self.parts.iter().map(|&(gas, fraction)| {
            let own = gas.viscosity_pa_s(temperature);
            let weight = digits::sums::sum(self.parts.iter().map(|&(other, share)| {
                let mass_ratio = other.molar_mass_kg_per_mol() / gas.molar_mass_kg_per_mol();
                let ratio = own / other.viscosity_pa_s(temperature);
                let root = 1.0 + ratio.sqrt() * mass_ratio.sqrt().sqrt();
                share * root * root / (8.0 * (1.0 + 1.0 / mass_ratio)).sqrt()
            }));
            if fraction > 0.0 { fraction * own / weight } else { 0.0 }
        }));
        GasProperties {
            molar_mass_kg_per_mol: mass,
            viscosity_pa_s: viscosity,
            heat_capacity_ratio: capacity / (capacity - 1.0),
        }
    }

    fn mean(&self, property: impl Fn(Gas) -> f64) -> f64 {
        digits::sums::sum(self.parts.iter().map(|&(gas, fraction)| fraction * property(gas)))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_mixture_of_one_is_that_gas() {
        let room = Temperature::from_celsius(20.0);
        let pure = GasMixture::new(&[(Gas::Helium, 1.0)]).expect("mixture").properties(room);
        assert!((pure.viscosity_pa_s / Gas::Helium.viscosity_pa_s(room) - 1.0).abs() < 1e-12);
        assert!((pure.heat_capacity_ratio - 5.0 / 3.0).abs() < 1e-12);
    }

    #[test]
    fn air_from_its_parts() {
        let room = Temperature::from_celsius(20.0);
        let air =
            GasMixture::new(&[(Gas::Nitrogen, 0.781), (Gas::Oxygen, 0.210), (Gas::Argon, 0.009)])
                .expect("mixture")
                .properties(room);
        assert!((air.molar_mass_kg_per_mol / 28.9655e-3 - 1.0).abs() < 1e-3);
        assert!((air.viscosity_pa_s / 18.206e-6 - 1.0).abs() < 5e-3);
        assert!(GasMixture::new(&[(Gas::Nitrogen, 0.5)]).is_err());
    }
}
