//! Budgets that make sense, and why routes cannot be worked out.

use physics::leak_paths::LeakPathError;

use crate::storage_budget::StorageBudget;

/// Refuses a budget without meaning.
pub(super) fn check(storage: &StorageBudget) -> Result<(), StorageError> {
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
    if !(storage.shelf_life.s() >= 0.0 && storage.shelf_life.is_finite()) {
        return Err(StorageError::NotPositive {
            what: "shelf life, s",
            value: storage.shelf_life.s(),
        });
    }
    positive("room pressure, Pa", storage.room.pa())?;
    if !(0.0..=1.0).contains(&storage.relative_humidity) {
        return Err(StorageError::NotAFraction {
            what: "relative humidity",
            value: storage.relative_humidity,
        });
    }
    if let Some(pressure) = storage.headspace_pressure {
        positive("headspace pressure at expiry, Pa", pressure.pa())?;
    }
    if let Some(oxygen) = storage.oxygen_fraction {
        fraction("oxygen in the headspace at expiry", oxygen)?;
    }
    if let Some(water) = storage.water_kg {
        positive("water taken up, kg", water)?;
    }
    if let Some(loss) = storage.liquid_loss_kg {
        positive("liquid lost, kg", loss)?;
    }
    Ok(())
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
