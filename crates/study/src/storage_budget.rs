//! Storage over the shelf life, and what it may do to the contents.

use physics::quantities::{AbsolutePressure, Duration, Temperature};

/// Storage and what it may take or bring. Absent budgets are not worked out.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct StorageBudget {
    /// Time from sealing to expiry; zero where nothing is said.
    pub shelf_life: Duration,
    /// Temperature of the store.
    pub temperature: Temperature,
    /// Pressure of the room.
    pub room: AbsolutePressure,
    /// Relative humidity of the room, 0 to 1.
    pub relative_humidity: f64,
    /// Highest pressure of the headspace at expiry.
    pub headspace_pressure: Option<AbsolutePressure>,
    /// Highest mole fraction of oxygen in the headspace at expiry.
    pub oxygen_fraction: Option<f64>,
    /// Most water taken up, kg.
    pub water_kg: Option<f64>,
    /// Most liquid (water) lost as vapour, kg.
    pub liquid_loss_kg: Option<f64>,
}

impl StorageBudget {
    /// A room at 25 °C, 1 atm and 60 % humidity, without any budget.
    #[must_use]
    pub fn none() -> Self {
        Self {
            shelf_life: Duration::from_s(0.0),
            temperature: Temperature::from_celsius(25.0),
            room: AbsolutePressure::from_atm(1.0),
            relative_humidity: 0.6,
            headspace_pressure: None,
            oxygen_fraction: None,
            water_kg: None,
            liquid_loss_kg: None,
        }
    }
}
