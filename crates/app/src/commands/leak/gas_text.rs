//! A gas, or a mixture of gases: `helium`, `nitrogen 0.9, oxygen 0.1`.

use physics::gas_mixture::{GasMixture, MixtureError};
use physics::gases::{Gas, GasProperties};
use physics::quantities::Temperature;

use crate::fault::Fault;
use crate::table_text::plain;
use crate::written_numbers::share;

impl From<MixtureError> for Fault {
    fn from(error: MixtureError) -> Self {
        Self::users(error.to_string(), "write the mixture like `nitrogen 0.9, oxygen 0.1`")
    }
}

/// A gas of the list, or a mixture of them.
#[derive(Debug, Clone, PartialEq)]
pub enum LeakGas {
    Pure(Gas),
    Mixture { name: String, mixture: GasMixture },
}

impl LeakGas {
    /// Reads a gas, or a mixture by mole fractions.
    pub fn read(text: &str) -> Result<Self, Fault> {
        let parts: Vec<&str> = text.split([',', '+']).map(str::trim).collect();
        if let [only] = parts.as_slice()
            && !only.ends_with(|c: char| c.is_ascii_digit() || c == '%')
        {
            return gas_named(only).map(Self::Pure);
        }
        if let [only] = parts.as_slice()
            && let Some(gas) = Gas::from_name(only)
        {
            // A formula such as N2.
            return Ok(Self::Pure(gas));
        }
        let mut mixed = Vec::with_capacity(parts.len());
        for part in &parts {
            let Some((name, fraction)) = part.rsplit_once(char::is_whitespace) else {
                return Err(Fault::users(
                    format!("`{part}` is not a gas with its mole fraction"),
                    "write the mixture like `nitrogen 0.9, oxygen 0.1`",
                ));
            };
            mixed.push((gas_named(name.trim())?, share(fraction)?));
        }
        let mixture = GasMixture::new(&mixed)?;
        let name = mixed
            .iter()
            .map(|(gas, share)| format!("{} {}", gas.name(), plain(*share, 4)))
            .collect::<Vec<_>>()
            .join(", ");
        Ok(Self::Mixture { name, mixture })
    }

    /// What a leak law needs of it at a temperature.
    pub fn properties(&self, temperature: Temperature) -> GasProperties {
        match self {
            Self::Pure(gas) => gas.properties(temperature),
            Self::Mixture { mixture, .. } => mixture.properties(temperature),
        }
    }

    /// Its name, or the parts of the mixture.
    pub fn name(&self) -> &str {
        match self {
            Self::Pure(gas) => gas.name(),
            Self::Mixture { name, .. } => name,
        }
    }
}

/// The gas of this name, or a fault that lists the gases.
pub fn gas_named(name: &str) -> Result<Gas, Fault> {
    Gas::from_name(name).ok_or_else(|| {
        let known: Vec<&str> = Gas::ALL.iter().map(|gas| gas.name()).collect();
        Fault::users(format!("`{name}` is not a known gas"), format!("known: {}", known.join(", ")))
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn formulas_names_and_mixtures() {
        assert_eq!(LeakGas::read("N2").ok(), Some(LeakGas::Pure(Gas::Nitrogen)));
        assert_eq!(LeakGas::read("helium").ok(), Some(LeakGas::Pure(Gas::Helium)));
        let named = |text: &str| LeakGas::read(text).map(|gas| gas.name().to_owned()).ok();
        assert_eq!(named("N2 0.9, O2 0.1").as_deref(), Some("nitrogen 0.9, oxygen 0.1"));
        assert_eq!(named("helium 10% + nitrogen 90 %"), None);
        assert_eq!(named("helium 10% + N2 90%").as_deref(), Some("helium 0.1, nitrogen 0.9"));
        assert_eq!(named("N2 0.9, O2 0.2"), None);
        assert_eq!(named("smoke"), None);
    }
}
