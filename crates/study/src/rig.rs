//! Rig: chamber, pump and sensor, with the background that they bring.

use physics::cycle::{Background, Pump};
use physics::quantities::{Duration, Temperature, Volume};
use physics::sensor::PressureSensor;

use crate::provenance::{Provenance, Sourced};

/// A chamber with its pump, its sensor and its background.
#[derive(Debug, Clone, PartialEq)]
pub struct Rig {
    /// Name by which the laboratory knows it.
    pub name: String,
    /// Chamber volume left free around the container.
    pub free_volume: Sourced<Volume>,
    /// Temperature of the chamber walls.
    pub wall_temperature: Temperature,
    /// Time in which the gas takes the wall temperature again.
    pub thermal_recovery: Duration,
    /// Pump and line.
    pub pump: Pump,
    /// Gas that the chamber and a tight container give off.
    pub background: Background,
    /// Spread of the background from unit to unit, relative to itself.
    pub background_spread: f64,
    /// The pressure sensor.
    pub sensor: PressureSensor,
    /// Where the figures of the rig came from.
    pub provenance: Provenance,
}

/// Temperature at which flows are told, K.
const TOLD_KELVIN: f64 = 293.15;

impl Rig {
    /// A flow told at 20 °C as the pressure times volume per second that it is
    /// at the temperature of the walls: the same amount of gas.
    #[must_use]
    pub fn at_wall(&self, flow_at_20_c: f64) -> f64 {
        flow_at_20_c * self.wall_temperature.k() / TOLD_KELVIN
    }

    /// A flow at the temperature of the walls as it is told, at 20 °C.
    #[must_use]
    pub fn told(&self, flow_at_wall: f64) -> f64 {
        flow_at_wall * TOLD_KELVIN / self.wall_temperature.k()
    }
}
