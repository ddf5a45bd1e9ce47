//! A leak in a wall that changes temperature.

use super::extras::WallDrift;
use crate::gases::Gas;
use crate::leak_paths::{LeakPath, PreparedLeak};
use crate::quantities::Temperature;

/// The law of the leak at the wall temperature of the start, and at that to
/// which the wall drifts.
///
/// Between the two the flow is mixed in proportion to temperature. Every law
/// here varies as a small power of temperature (molecular `T^-1/2`, viscous about
/// `T^-1.7`), so that over 40 K the mixture errs by less than 1 % (tested), far
/// below the uncertainty of the laws.
pub(super) struct WarmingLeak {
    start: PreparedLeak,
    /// Temperature over that of the start, and the law there.
    end: Option<(f64, PreparedLeak)>,
}

impl WarmingLeak {
    pub fn new(path: &LeakPath, gas: Gas, wall: Temperature, drift: Option<&WallDrift>) -> Self {
        let end = drift.filter(|drift| drift.towards != wall).map(|drift| {
            (drift.towards.k() / wall.k(), PreparedLeak::new(path, gas, drift.towards))
        });
        Self { start: PreparedLeak::new(path, gas, wall), end }
    }

    /// Flow with the wall at `warmth` times its temperature of the start.
    pub fn flow_mol_per_s(&self, upstream_pa: f64, downstream_pa: f64, warmth: f64) -> f64 {
        let first = self.start.flow_mol_per_s(upstream_pa, downstream_pa);
        let Some((end, law)) = &self.end else { return first };
        let part = (warmth - 1.0) / (end - 1.0);
        first + part * (law.flow_mol_per_s(upstream_pa, downstream_pa) - first)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::quantities::{Duration, Length};

    #[test]
    fn between_two_temperatures_it_is_the_law_there() {
        let bore_diameter = Length::from_um(5.0);
        let wall = Length::from_mm(1.0);
        let (cold, warm) = (Temperature::from_celsius(5.0), Temperature::from_celsius(45.0));
        let drift = WallDrift { towards: warm, time_constant: Duration::from_s(1.0) };
        for path in [LeakPath::Orifice { bore_diameter }, LeakPath::Channel { bore_diameter, wall }]
        {
            let leak = WarmingLeak::new(&path, Gas::Air, cold, Some(&drift));
            for celsius in [5.0, 15.0, 25.0, 45.0] {
                let now = Temperature::from_celsius(celsius);
                let law = PreparedLeak::new(&path, Gas::Air, now).flow_mol_per_s(1e5, 100.0);
                let mixed = leak.flow_mol_per_s(1e5, 100.0, now.k() / cold.k());
                assert!((mixed / law - 1.0).abs() < 0.01, "{path:?} {celsius} {mixed} {law}");
                // The drift is worth having: without it the error is larger.
                let still = leak.flow_mol_per_s(1e5, 100.0, 1.0);
                assert!(celsius < 10.0 || (still / law - 1.0).abs() > 0.015, "{still} {law}");
            }
        }
    }
}
