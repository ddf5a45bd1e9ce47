//! What storage may do to the contents: the budget of the shelf life.

use physics::leak_paths::LeakPathError;
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

    /// Refuses a budget without meaning.
    pub(super) fn check(&self) -> Result<(), StorageError> {
        let positive = |what: &'static str, value: f64| {
            if value > 0.0 && value.is_finite() {
                Ok(())
            } else {
                Err(StorageError::NotPositive { what, value })
            }
        };
        let fraction = |what: &'static str, value: f64| {
            if value > 0.0 && value < 1.0 {
                Ok(())
            } else {
                Err(StorageError::NotAFraction { what, value })
            }
        };
        if !(self.shelf_life.s() >= 0.0 && self.shelf_life.is_finite()) {
            return Err(StorageError::NotPositive {
                what: "shelf life, s",
                value: self.shelf_life.s(),
            });
        }
        positive("room pressure, Pa", self.room.pa())?;
        if !(0.0..=1.0).contains(&self.relative_humidity) {
            return Err(StorageError::NotAFraction {
                what: "relative humidity",
                value: self.relative_humidity,
            });
        }
        if let Some(pressure) = self.headspace_pressure {
            positive("headspace pressure at expiry, Pa", pressure.pa())?;
        }
        if let Some(oxygen) = self.oxygen_fraction {
            fraction("oxygen in the headspace at expiry", oxygen)?;
        }
        if let Some(water) = self.water_kg {
            positive("water taken up, kg", water)?;
        }
        if let Some(loss) = self.liquid_loss_kg {
            positive("liquid lost, kg", loss)?;
        }
        Ok(())
    }
}

/// Why the routes could not be worked out.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum StorageError {
    /// A quantity that must be above zero is not.
    #[error("{what} must be above zero, got {value}")]
    NotPositive {
        /// Which.
        what: &'static str,
        /// The value given.
        value: f64,
    },
    /// A share that must lie between 0 and 1 does not.
    #[error("{what} must lie between 0 and 1, got {value}")]
    NotAFraction {
        /// Which.
        what: &'static str,
        /// The value given.
        value: f64,
    },
    /// The vapour of water is not known at the temperature of the store.
    #[error("the store is at {celsius} °C; vapour of water is known from 0 to 60 °C")]
    StoreTemperature {
        /// The temperature given.
        celsius: f64,
    },
    /// A leak lies outside the flow law.
    #[error("the leak could not be evaluated: {0}")]
    Leak(#[from] LeakPathError),
}
