//! Temperature on the absolute scale, and differences of it.

use super::declare::{additive, quantity};

/// 0 °C in kelvin, by definition of the Celsius scale.
const ZERO_CELSIUS_K: f64 = 273.15;

quantity! {
    /// Thermodynamic temperature.
    Temperature, kelvin, "K", {
        from_k, k, 1.0;
    }
}

quantity! {
    /// Difference of two temperatures; may be negative.
    TemperatureDifference, kelvin, "K", {
        from_k, k, 1.0;
    }
}

additive!(TemperatureDifference, kelvin);

impl Temperature {
    /// From degrees Celsius.
    #[must_use]
    pub const fn from_celsius(value: f64) -> Self {
        Self { kelvin: value + ZERO_CELSIUS_K }
    }

    /// Value in degrees Celsius.
    #[must_use]
    pub const fn celsius(self) -> f64 {
        self.kelvin - ZERO_CELSIUS_K
    }
}

impl core::ops::Sub for Temperature {
    type Output = TemperatureDifference;
    fn sub(self, other: Self) -> TemperatureDifference {
        TemperatureDifference { kelvin: self.kelvin - other.kelvin }
    }
}
