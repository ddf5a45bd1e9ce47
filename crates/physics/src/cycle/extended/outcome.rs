//! What an extended cycle gives.

use super::super::balance::GasBalance;
use super::super::simulate::TierOutcome;
use crate::quantities::AbsolutePressure;
use crate::trace::PressureTrace;

/// What contributed what to the rise of a measuring stage, Pa; the parts sum
/// to the rise.
///
/// Gas that came in counts at the wall temperature of the start and the volume
/// at the beginning of the stage; then the change of temperature; then that of
/// the chamber's free volume as the container gives way.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct RiseParts {
    /// Gas from the container.
    pub leak_pa: f64,
    /// Gas from walls and seals.
    pub outgassing_pa: f64,
    /// Gas from the pocket.
    pub virtual_leak_pa: f64,
    /// Gas from the tubing.
    pub tubing_pa: f64,
    /// Room air through leaks of the rig.
    pub room_leak_pa: f64,
    /// Vapour, less what condensed.
    pub vapour_pa: f64,
    /// Gas lost through a valve that still closes (negative).
    pub valve_pa: f64,
    /// Warming of the gas.
    pub thermal_pa: f64,
    /// Growth of the container into the chamber.
    pub container_pa: f64,
}

impl RiseParts {
    /// Sum of the parts, Pa.
    #[must_use]
    pub fn total_pa(&self) -> f64 {
        digits::sums::sum([
            self.leak_pa,
            self.outgassing_pa,
            self.virtual_leak_pa,
            self.tubing_pa,
            self.room_leak_pa,
            self.vapour_pa,
            self.valve_pa,
            self.thermal_pa,
            self.container_pa,
        ])
    }
}

/// A tier of an extended cycle.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ExtendedTier {
    /// As of a plain cycle; its own contributions hold the plain terms only.
    pub plain: TierOutcome,
    /// Every part of the rise.
    pub parts: RiseParts,
}

/// Result of an extended cycle.
#[derive(Debug, Clone, PartialEq)]
pub struct ExtendedOutcome {
    /// Chamber pressure and gas temperature without noise, with the stages.
    pub trace: PressureTrace,
    /// The tiers that ran.
    pub tiers: Vec<ExtendedTier>,
    /// Headspace pressure at the end.
    pub headspace_end: AbsolutePressure,
    /// Partial pressure of vapour in the chamber at the end.
    pub vapour_end: AbsolutePressure,
    /// Temperature of the liquid surface at the end, K; wall temperature where
    /// there is none.
    pub surface_end_k: f64,
    /// Where the gas went.
    pub balance: GasBalance,
}
