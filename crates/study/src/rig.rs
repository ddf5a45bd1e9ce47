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
