//! What container and closure stand when the chamber is pumped down and the
//! pressure inside them is not.

use core::f64::consts::PI;

use physics::quantities::{Length, PressureDifference};

use crate::provenance::Sourced;

/// Strength of container, closure and plunger. What nobody has stated is absent,
/// and what hangs on it stays open.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct ContainerStrength {
    /// Pressure difference, inside over outside, that container and closure
    /// withstand.
    pub withstands: Option<Sourced<PressureDifference>>,
    /// Bore in which a plunger sits.
    pub plunger_bore: Option<Sourced<Length>>,
    /// Force at which the plunger breaks loose, N.
    pub break_loose_n: Option<Sourced<f64>>,
    /// The fixture holds the plunger, so that it cannot move.
    pub plunger_held: bool,
}

/// One-sided normal quantile at 95 %: a value that is to hold is taken so many
/// standard uncertainties below what was stated.
pub(crate) const ONE_SIDED_95: f64 = 1.645;

impl ContainerStrength {
    /// Whether nobody has stated anything.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        *self == Self::default()
    }
}

/// Force of a pressure difference on a plunger, N: `F = Δp π d² / 4` with the
/// difference `Δp` in Pa and the bore `d` in m (force balance; friction left
/// out).
#[must_use]
pub fn plunger_force_n(difference_pa: f64, bore_m: f64) -> f64 {
    difference_pa * PI * bore_m * bore_m / 4.0
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Bores of ISO 11040-4:2024 (outer diameter less two walls): 8.15 - 2 x 0.9 =
    /// 6.35 mm and 10.85 - 2 x 1.1 = 8.65 mm. By hand: 101 325 x 3.14159/4 x
    /// 0.00635^2 = 101 325 x 3.16692e-5 = 3.209 N; 101 325 x 5.87655e-5 = 5.954 N.
    #[test]
    fn the_force_on_a_plunger_is_that_of_its_area() {
        assert!((plunger_force_n(101_325.0, 6.35e-3) - 3.209).abs() < 1e-3);
        assert!((plunger_force_n(101_325.0, 8.65e-3) - 5.954).abs() < 1e-3);
        assert_eq!(plunger_force_n(0.0, 6.35e-3), 0.0);
    }
}
