//! Pressure: against perfect vacuum, and as a difference. Gauge pressure is
//! converted at import with the barometer and is never stored.

use super::declare::{additive, quantity};

quantity! {
    /// Pressure against perfect vacuum.
    AbsolutePressure, pascal, "Pa", {
        from_pa, pa, 1.0;
        from_hpa, hpa, 100.0;
        from_kpa, kpa, 1000.0;
        from_mbar, mbar, 100.0;
        from_bar, bar, 1.0e5;
        from_atm, atm, 101_325.0;
    }
}

quantity! {
    /// Difference of two pressures; may be negative.
    PressureDifference, pascal, "Pa", {
        from_pa, pa, 1.0;
        from_mbar, mbar, 100.0;
    }
}

additive!(PressureDifference, pascal);

impl core::ops::Sub for AbsolutePressure {
    type Output = PressureDifference;
    fn sub(self, other: Self) -> PressureDifference {
        PressureDifference { pascal: self.pascal - other.pascal }
    }
}

impl core::ops::Add<PressureDifference> for AbsolutePressure {
    type Output = Self;
    fn add(self, difference: PressureDifference) -> Self {
        Self { pascal: self.pascal + difference.pascal }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_difference_of_absolute_pressures_may_be_negative() {
        let rise = AbsolutePressure::from_mbar(1.0) - AbsolutePressure::from_pa(250.0);
        assert_eq!(rise.pa(), -150.0);
    }
}
