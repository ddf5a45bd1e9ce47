//! What a cycle is made of.

use super::CycleError;
use super::errors::{not_negative, positive};
use crate::gases::Gas;
use crate::leak_paths::LeakPath;
use crate::quantities::{
    AbsolutePressure, Conductance, Duration, PressureDifference, Temperature, Volume,
};

/// The test chamber with the container in it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Chamber {
    /// Volume that gas can fill: chamber minus container, with its tubing.
    pub free_volume: Volume,
    /// Temperature of the walls, of the container and of gas at rest.
    pub wall_temperature: Temperature,
    /// Time constant with which gas returns to wall temperature. At or below
    /// 0.1 ms the gas is taken to follow the wall at once.
    pub thermal_recovery: Duration,
}

/// The pump and the line to it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Pump {
    /// Speed at the pump.
    pub speed: Conductance,
    /// Conductance of the line in molecular flow.
    pub line_molecular: Conductance,
    /// Growth of the line's conductance with pressure, m³/(s·Pa).
    pub line_viscous_m3_per_s_pa: f64,
    /// Pressure that the pump cannot pass.
    pub ultimate: AbsolutePressure,
}

/// Gas that is not the leak.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Background {
    /// Strength of 1/t outgassing, Pa·m³: throughput `a/(t + t0)` at wall
    /// temperature, `t` from the start of the cycle.
    pub one_over_t: f64,
    /// `t0` of the 1/t law; above zero where the law is used.
    pub one_over_t_offset: Duration,
    /// Constant throughput at wall temperature, Pa·m³/s.
    pub constant: f64,
    /// A pocket that empties into the chamber.
    pub virtual_leak: Option<VirtualLeak>,
}

/// A pocket of room air behind a narrow passage.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct VirtualLeak {
    /// Volume of the pocket.
    pub volume: Volume,
    /// Conductance of the passage.
    pub conductance: Conductance,
}

/// Gas space of the container.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Headspace {
    /// What it holds.
    pub gas: Gas,
    /// Its volume.
    pub volume: Volume,
    /// Its pressure at the start.
    pub pressure: AbsolutePressure,
}

/// One tier of the cycle.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Tier {
    /// Pumping stops at this pressure.
    pub evacuate_to: AbsolutePressure,
    /// Pumping stops after this time at the latest.
    pub evacuate_limit: Duration,
    /// The chamber must be at or below this pressure when pumping stops.
    pub reach_limit: Option<AbsolutePressure>,
    /// Rest after pumping.
    pub settle: Duration,
    /// Measuring time.
    pub measure: Duration,
    /// The rise while measuring must not exceed this.
    pub rise_limit: Option<PressureDifference>,
}

/// Everything the simulator needs.
#[derive(Debug, Clone, PartialEq)]
pub struct CycleSetup {
    /// The chamber.
    pub chamber: Chamber,
    /// The pump.
    pub pump: Pump,
    /// Gas that is not the leak.
    pub background: Background,
    /// The container's gas.
    pub headspace: Headspace,
    /// The leak; none for a tight container.
    pub leak: Option<LeakPath>,
    /// Room pressure: where chamber and pocket start.
    pub ambient: AbsolutePressure,
    /// The tiers, in order.
    pub tiers: Vec<Tier>,
    /// Time between samples of the trace.
    pub sample_interval: Duration,
}

/// Most samples that one trace may have.
const MOST_SAMPLES: f64 = 5.0e6;

impl CycleSetup {
    /// Refuses a setup without meaning.
    pub(in crate::cycle) fn check(&self) -> Result<(), CycleError> {
        positive("free volume of the chamber, m3", self.chamber.free_volume.m3())?;
        positive("wall temperature, K", self.chamber.wall_temperature.k())?;
        not_negative("thermal recovery, s", self.chamber.thermal_recovery.s())?;
        not_negative("pump speed, m3/s", self.pump.speed.m3_per_s())?;
        not_negative("molecular line conductance, m3/s", self.pump.line_molecular.m3_per_s())?;
        not_negative("viscous line conductance, m3/(s Pa)", self.pump.line_viscous_m3_per_s_pa)?;
        not_negative("ultimate pressure, Pa", self.pump.ultimate.pa())?;
        not_negative("1/t outgassing, Pa m3", self.background.one_over_t)?;
        not_negative("constant outgassing, Pa m3/s", self.background.constant)?;
        if self.background.one_over_t > 0.0 {
            positive("offset of the 1/t outgassing, s", self.background.one_over_t_offset.s())?;
        }
        if let Some(pocket) = self.background.virtual_leak {
            positive("pocket volume, m3", pocket.volume.m3())?;
            not_negative("pocket conductance, m3/s", pocket.conductance.m3_per_s())?;
        }
        positive("headspace volume, m3", self.headspace.volume.m3())?;
        not_negative("headspace pressure, Pa", self.headspace.pressure.pa())?;
        positive("room pressure, Pa", self.ambient.pa())?;
        positive("sample interval, s", self.sample_interval.s())?;
        if let Some(leak) = &self.leak {
            leak.check()?;
        }
        if self.tiers.is_empty() {
            return Err(CycleError::NoTiers);
        }
        let mut longest_s = 0.0;
        for tier in &self.tiers {
            not_negative("pressure to evacuate to, Pa", tier.evacuate_to.pa())?;
            not_negative("longest evacuation, s", tier.evacuate_limit.s())?;
            not_negative("settling time, s", tier.settle.s())?;
            not_negative("measuring time, s", tier.measure.s())?;
            if let Some(limit) = tier.reach_limit {
                not_negative("reach limit, Pa", limit.pa())?;
            }
            if let Some(limit) = tier.rise_limit
                && !limit.is_finite()
            {
                return Err(CycleError::Negative { what: "rise limit, Pa", value: limit.pa() });
            }
            longest_s += tier.evacuate_limit.s() + tier.settle.s() + tier.measure.s();
        }
        if longest_s / self.sample_interval.s() > MOST_SAMPLES {
            return Err(CycleError::TooManySamples {
                samples: longest_s / self.sample_interval.s(),
                most: MOST_SAMPLES,
            });
        }
        Ok(())
    }
}
