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
