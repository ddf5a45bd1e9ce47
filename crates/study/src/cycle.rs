//! The test cycle of a case: its tiers with their purposes.

use physics::cycle::{Chamber, CycleSetup, Headspace};
use physics::leak_paths::LeakPath;
use physics::quantities::{AbsolutePressure, Duration};

// The plain figures of a rig and a tier are stored and printed by the rooms
// above; the simulator that uses them stays below.
pub use physics::cycle::{Background, Pump, Tier, VirtualLeak};

use crate::profile::Profile;
use crate::rig::Rig;

/// One or more tiers, in order, and how often the pressure is read.
#[derive(Debug, Clone, PartialEq)]
pub struct Cycle {
    /// The tiers with their purposes.
    pub tiers: Vec<PurposedTier>,
    /// Time between two readings.
    pub sample_interval: Duration,
    /// Pressure of the room.
    pub ambient: AbsolutePressure,
}

/// A tier and what it is there for.
#[derive(Debug, Clone, PartialEq)]
pub struct PurposedTier {
    /// What the tier must find, in plain words.
    pub purpose: String,
    /// Its pressures, times and limits.
    pub tier: Tier,
}

impl Cycle {
    /// The physical set-up that this cycle gives with a container on a rig.
    #[must_use]
    pub fn setup(&self, profile: &Profile, rig: &Rig, leak: Option<LeakPath>) -> CycleSetup {
        CycleSetup {
            chamber: Chamber {
                free_volume: rig.free_volume.value,
                wall_temperature: rig.wall_temperature,
                thermal_recovery: rig.thermal_recovery,
            },
            pump: rig.pump,
            background: rig.background,
            headspace: Headspace {
                gas: profile.headspace.gas,
                volume: profile.headspace.volume.value,
                pressure: profile.headspace.pressure.value,
            },
            leak,
            ambient: self.ambient,
            tiers: self.tiers.iter().map(|purposed| purposed.tier).collect(),
            sample_interval: self.sample_interval,
        }
    }

    /// The lowest pressure that a tier evacuates to, Pa.
    #[must_use]
    pub fn lowest_pa(&self) -> f64 {
        let targets = self.tiers.iter().map(|purposed| purposed.tier.evacuate_to.pa());
        targets.fold(f64::INFINITY, f64::min)
    }

    /// The tier whose rise decides: the last one.
    #[must_use]
    pub fn deciding_tier(&self) -> Option<&PurposedTier> {
        self.tiers.last()
    }

    /// Longest time that one cycle can take.
    #[must_use]
    pub fn longest(&self) -> Duration {
        self.tiers.iter().fold(Duration::from_s(0.0), |total, purposed| {
            let tier = &purposed.tier;
            total + tier.evacuate_limit + tier.settle + tier.measure
        })
    }
}
