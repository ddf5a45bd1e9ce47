//! Conditions under which a flow holds: without them no size and no flow mean
//! anything.

use super::LeakPathError;
use super::errors::{check_positive, check_pressure};
use crate::gases::{FlowingGas, Gas, GasProperties};
use crate::quantities::{AbsolutePressure, Temperature};

/// Gas, pressures and temperature of a flow.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct FlowConditions<G = Gas> {
    /// The gas that flows.
    pub gas: G,
    /// Pressure before the path.
    pub upstream: AbsolutePressure,
    /// Pressure behind the path.
    pub downstream: AbsolutePressure,
    /// Temperature of gas and wall.
    pub temperature: Temperature,
}

impl<G: FlowingGas> FlowConditions<G> {
    /// Properties of the gas at the temperature of the flow.
    #[must_use]
    pub fn properties(&self) -> GasProperties {
        self.gas.properties_at(self.temperature)
    }

    /// Refuses conditions without meaning.
    pub(crate) fn check(&self) -> Result<(), LeakPathError> {
        check_pressure("upstream pressure", self.upstream.pa())?;
        check_pressure("downstream pressure", self.downstream.pa())?;
        check_positive("temperature", self.temperature.k(), "K")?;
        let gas = self.properties();
        check_positive("molar mass", gas.molar_mass_kg_per_mol, "kg/mol")?;
        check_positive("viscosity", gas.viscosity_pa_s, "Pa s")?;
        check_positive("heat capacity ratio less 1", gas.heat_capacity_ratio - 1.0, "1")
    }

    /// Refuses conditions that drive no flow forward.
    pub(super) fn check_forward(&self) -> Result<(), LeakPathError> {
        self.check()?;
        if self.upstream.pa() > self.downstream.pa() {
            return Ok(());
        }
        Err(LeakPathError::NoDrivingPressure {
            upstream_pa: self.upstream.pa(),
            downstream_pa: self.downstream.pa(),
        })
    }
}

/// The one reference state of the ladder: air, 1 atm into vacuum, 20 °C.
#[must_use]
pub const fn reference_conditions() -> FlowConditions {
    FlowConditions {
        gas: Gas::Air,
        upstream: AbsolutePressure::from_atm(1.0),
        downstream: AbsolutePressure::from_pa(0.0),
        temperature: Temperature::from_celsius(20.0),
    }
}
