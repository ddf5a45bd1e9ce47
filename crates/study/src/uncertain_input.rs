//! The inputs whose values are not exactly known, and which of them go
//! together.

use crate::profile::worded;

worded! {
    /// An input that a forecast varies within its uncertainty.
    UncertainInput {
        /// Free volume of the chamber.
        FreeVolume = "free volume of the chamber",
        /// Volume of the headspace.
        HeadspaceVolume = "headspace volume",
        /// Pressure of the headspace.
        HeadspacePressure = "headspace pressure",
        /// Flow law of the leak.
        FlowLaw = "flow law of the leak",
        /// Outgassing that falls with 1/t.
        FallingOutgassing = "falling outgassing",
        /// Outgassing that stays.
        SteadyOutgassing = "steady outgassing",
        /// Temperature of the chamber walls.
        WallTemperature = "wall temperature",
        /// Thermal recovery time of the gas.
        ThermalRecovery = "thermal recovery time",
        /// Speed of the pump.
        PumpSpeed = "pump speed",
        /// Conductance of the line to the pump.
        LineConductance = "conductance of the pump line",
        /// Lowest pressure of the pump.
        LowestPressure = "lowest pressure of the pump",
    }
}

worded! {
    /// An input that only the forecast of leaks under the liquid varies.
    LiquidInput {
        /// Wall that the hole crosses.
        Wall = "wall at the leak",
        /// Vapour pressure of the liquid.
        VapourPressure = "vapour pressure of the liquid",
        /// Its surface tension.
        SurfaceTension = "surface tension of the liquid",
        /// Its viscosity.
        Viscosity = "viscosity of the liquid",
        /// Its density.
        Density = "density of the liquid",
        /// Contact angle in the hole.
        ContactAngle = "contact angle in the hole",
        /// Share of the kinetic limit at which it evaporates.
        Evaporation = "evaporation coefficient",
        /// Heat that reaches the liquid where it comes out.
        FilmHeat = "heat that reaches the film",
    }
}

/// Two uncertain inputs that go together: one filling line that overfills makes
/// every headspace smaller and, once stoppered, its pressure higher.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Correlation {
    /// One input.
    pub first: UncertainInput,
    /// The other.
    pub second: UncertainInput,
    /// Correlation coefficient, between -1 and 1.
    pub coefficient: f64,
}
