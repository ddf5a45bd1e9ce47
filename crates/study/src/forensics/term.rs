//! Terms of the sum: what a cause does to the pressure.

/// Why the pressure changes.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Cause {
    /// A steady flow: the container's headspace hardly empties.
    Leak,
    /// A flow that falls while the headspace empties.
    EmptyingLeak,
    /// Gas from walls and seals.
    Outgassing,
    /// Vapour on its way to saturation.
    Vapour,
    /// Gas that takes up the temperature of the walls, or follows it.
    Thermal,
    /// A container that goes on giving way.
    Creep,
    /// A sudden change: plunger or stopper.
    Step,
    /// A gauge whose zero wanders.
    Drift,
}

impl Cause {
    /// Every cause.
    pub const ALL: [Self; 8] = [
        Self::Leak,
        Self::EmptyingLeak,
        Self::Outgassing,
        Self::Vapour,
        Self::Thermal,
        Self::Creep,
        Self::Step,
        Self::Drift,
    ];

    /// The word that is printed.
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            Self::Leak => "leak",
            Self::EmptyingLeak => "leak that empties its headspace",
            Self::Outgassing => "outgassing",
            Self::Vapour => "vapour",
            Self::Thermal => "thermal recovery",
            Self::Creep => "creep",
            Self::Step => "step",
            Self::Drift => "sensor drift",
        }
    }

    /// True for both kinds of leak.
    #[must_use]
    pub const fn is_leak(self) -> bool {
        matches!(self, Self::Leak | Self::EmptyingLeak)
    }
}

/// Places in the sum; each holds at most one shape.
pub(super) const TREND: usize = 0;
pub(super) const GAS: usize = 1;
pub(super) const SLOW: usize = 2;
pub(super) const FAST: usize = 3;
pub(super) const STEP: usize = 4;
pub(super) const FOLLOW: usize = 5;
/// Number of places.
pub(super) const PLACES: usize = 6;

/// A shape with its nonlinear constants fixed.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Shape {
    /// What it stands for; the slow saturating shape is named afterwards.
    pub(super) cause: Cause,
    /// Its place in the sum.
    pub(super) place: usize,
    /// Its value at each time of the window.
    pub(super) column: Vec<f64>,
    /// Least coefficient that means something.
    pub(super) lowest: f64,
    /// Largest coefficient that means something.
    pub(super) highest: f64,
    /// Time constant, moment or exponent, where it has one.
    pub(super) constant: Option<f64>,
    /// Time under vacuum before isolation; zero where it does not matter.
    pub(super) age_s: f64,
    /// Number of constants that were searched.
    pub(super) n_searched: usize,
}

/// `n` values from `low` to `high`, evenly spaced in the logarithm.
pub(super) fn logarithmic_grid(low: f64, high: f64, n: usize) -> Vec<f64> {
    if !(low > 0.0) || !(high > low) || n < 2 {
        return Vec::new();
    }
    let step = digits::scalar::ln(high / low) / (n - 1) as f64;
    (0..n).map(|index| low * digits::scalar::exp(step * index as f64)).collect()
}

/// `1 - e^(-t/tau)` at each time.
pub(super) fn saturating(times_s: &[f64], tau_s: f64) -> Vec<f64> {
    times_s.iter().map(|&time| -digits::scalar::exp_m1(-time / tau_s)).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_grid_has_both_its_ends() {
        let grid = logarithmic_grid(0.5, 50.0, 3);
        assert!((grid[1] - 5.0).abs() < 1e-12 && (grid[2] - 50.0).abs() < 1e-9);
        assert!(logarithmic_grid(0.0, 1.0, 5).is_empty());
    }

    #[test]
    fn saturation_starts_in_proportion_and_ends_at_one() {
        let values = saturating(&[0.0, 1e-6, 1e3], 1.0);
        assert_eq!(values[0], 0.0);
        assert!((values[1] / 1e-6 - 1.0).abs() < 1e-6 && values[2] == 1.0);
    }
}
