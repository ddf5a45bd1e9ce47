//! What can be added to a cycle.

use super::super::CycleError;
use super::super::errors::{not_negative, positive};
use super::super::setup::VirtualLeak;
use crate::container::{FlexibleWall, Plunger};
use crate::leak_paths::LeakPath;
use crate::liquids::{Liquid, PluggedHole};
use crate::outgassing::OutgassingLaw;
use crate::quantities::{AbsolutePressure, Area, Conductance, Duration, Length, Temperature};

/// Everything beyond a plain cycle; the default adds nothing.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct CycleExtras {
    /// Further outgassing laws, time counted from the start of the cycle.
    pub outgassing: Vec<OutgassingLaw>,
    /// Leaks of the rig: room air into the chamber (lid seal, mask).
    pub room_leaks: Vec<LeakPath>,
    /// A second volume behind a conductance: tubing to a sensor.
    pub tubing: Option<VirtualLeak>,
    /// Liquid in the chamber, or film on its walls.
    pub moisture: Option<Moisture>,
    /// Liquid over the leak; needs `moisture` to say which liquid and where it
    /// spreads.
    pub plugged_hole: Option<PluggedHole>,
    /// A plunger or stopper that can move.
    pub plunger: Option<Plunger>,
    /// A wall that gives way.
    pub flexible_wall: Option<FlexibleWall>,
    /// Walls and container that change temperature.
    pub wall_drift: Option<WallDrift>,
    /// Speed of the pump against its inlet pressure; replaces the constant
    /// speed. In rising order of pressure.
    pub pump_curve: Vec<PumpPoint>,
    /// Bore at which the line chokes.
    pub line_bore: Option<Length>,
    /// Time in which the pump valve closes; its conductance falls evenly.
    pub valve_closing: Duration,
    /// Length of a vent to room pressure after the last tier.
    pub vent: Duration,
}

/// A liquid surface that gives vapour until the room above is saturated.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Moisture {
    /// Which liquid.
    pub liquid: Liquid,
    /// How much, kg; zero where it comes out of the leak only.
    pub mass_kg: f64,
    /// Its surface.
    pub surface: Area,
    /// Heat that reaches it per kelvin below the wall, W/K.
    pub heat_exchange_w_per_k: f64,
    /// Share of the kinetic limit at which it evaporates, above 0, at most 1.
    pub evaporation_coefficient: f64,
}

/// Temperature of the walls on its way to another.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct WallDrift {
    /// Where it would end.
    pub towards: Temperature,
    /// Time constant.
    pub time_constant: Duration,
}

/// A point of a pump's speed curve.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PumpPoint {
    /// Inlet pressure.
    pub pressure: AbsolutePressure,
    /// Speed there.
    pub speed: Conductance,
}

impl CycleExtras {
    /// Refuses extras without meaning.
    pub(super) fn check(&self) -> Result<(), CycleError> {
        for law in &self.outgassing {
            let now = law.throughput_pa_m3_per_s(Duration::from_s(1e-3));
            not_negative("outgassing, Pa m3/s", now)?;
            not_negative(
                "outgassing over an hour, Pa m3",
                law.released_pa_m3(Duration::from_s(0.0), Duration::from_hours(1.0)),
            )?;
        }
        for path in &self.room_leaks {
            path.check()?;
        }
        if let Some(tubing) = self.tubing {
            positive("tubing volume, m3", tubing.volume.m3())?;
            not_negative("tubing conductance, m3/s", tubing.conductance.m3_per_s())?;
        }
        if let Some(moisture) = self.moisture {
            not_negative("mass of liquid, kg", moisture.mass_kg)?;
            positive("liquid surface, m2", moisture.surface.m2())?;
            not_negative("heat exchange of the liquid, W/K", moisture.heat_exchange_w_per_k)?;
            positive("evaporation coefficient", moisture.evaporation_coefficient)?;
            if moisture.evaporation_coefficient > 1.0 {
                return Err(CycleError::NotPositive {
                    what: "1 less the evaporation coefficient",
                    value: 1.0 - moisture.evaporation_coefficient,
                });
            }
        }
        if let Some(hole) = self.plugged_hole {
            positive("bore of the plugged hole, m", hole.bore.m())?;
            not_negative("wall of the plugged hole, m", hole.wall.m())?;
            not_negative("liquid over the hole, kg", hole.liquid_kg)?;
            if self.moisture.is_none() {
                return Err(CycleError::MissingLiquid);
            }
        }
        if let Some(plunger) = self.plunger {
            positive("area of the plunger, m2", plunger.area.m2())?;
            not_negative("break-loose force, N", plunger.break_loose_n)?;
            not_negative("dynamic friction, N", plunger.dynamic_friction_n)?;
            not_negative("way of the plunger, m3", plunger.stop.m3())?;
        }
        if let Some(wall) = self.flexible_wall {
            not_negative("compliance of the wall, m3/Pa", wall.compliance_m3_per_pa)?;
            not_negative("creep share of the wall", wall.creep_share)?;
            positive("creep time of the wall, s", wall.creep_time.s())?;
        }
        if let Some(drift) = self.wall_drift {
            positive("final wall temperature, K", drift.towards.k())?;
            positive("time constant of the wall, s", drift.time_constant.s())?;
        }
        let mut last = 0.0;
        for point in &self.pump_curve {
            positive("pressure of the pump curve, Pa", point.pressure.pa())?;
            not_negative("speed of the pump curve, m3/s", point.speed.m3_per_s())?;
            if point.pressure.pa() <= last {
                return Err(CycleError::NotPositive {
                    what: "step of the pump curve (pressures must rise), Pa",
                    value: point.pressure.pa() - last,
                });
            }
            last = point.pressure.pa();
        }
        if let Some(bore) = self.line_bore {
            positive("bore of the line, m", bore.m())?;
        }
        not_negative("closing time of the valve, s", self.valve_closing.s())?;
        not_negative("venting time, s", self.vent.s())
    }
}
