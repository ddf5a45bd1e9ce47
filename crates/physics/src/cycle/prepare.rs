//! From a setup to a program for a lane.

use super::leak_lanes::{AnyPathConstants, OrificeConstants};
use super::program::{MeasureEnd, Program, TierPlan};
use super::rates::LaneConstants;
use super::setup::CycleSetup;
use crate::leak_paths::PreparedLeak;
use crate::quantities::MOLAR_GAS_CONSTANT_J_PER_MOL_K as R;

/// Recovery at or below which the gas follows the wall at once, s.
const INSTANT_RECOVERY_S: f64 = 1.0e-4;

/// A program, by the kind of its leak.
pub(super) enum Prepared {
    Orifice(Program<OrificeConstants>),
    AnyPath(Program<AnyPathConstants>),
}

/// Prepares a checked setup.
pub(super) fn prepare(setup: &CycleSetup) -> Prepared {
    let wall = setup.chamber.wall_temperature;
    let pa_m3_per_mol = R * wall.k();
    let path = setup.leak.as_ref().map(|path| PreparedLeak::new(path, setup.headspace.gas, wall));
    match path {
        None => Prepared::Orifice(program(setup, None)),
        Some(path) => match path.as_orifice(pa_m3_per_mol) {
            Some(constants) => Prepared::Orifice(program(setup, Some(constants))),
            None => {
                let highest_pa = setup.headspace.pressure.pa().max(setup.ambient.pa());
                let path = path.tabulated(1.01 * highest_pa);
                let constants = AnyPathConstants { path, pa_m3_per_mol };
                Prepared::AnyPath(program(setup, Some(constants)))
            }
        },
    }
}

fn program<K>(setup: &CycleSetup, leak: Option<K>) -> Program<K> {
    let recovery = setup.chamber.thermal_recovery.s();
    let pocket = setup.background.virtual_leak;
    let constants = LaneConstants {
        chamber_m3: setup.chamber.free_volume.m3(),
        headspace_m3: setup.headspace.volume.m3(),
        pocket_m3: pocket.map_or(1.0, |pocket| pocket.volume.m3()),
        pocket_m3_per_s: pocket.map_or(0.0, |pocket| pocket.conductance.m3_per_s()),
        recovery_per_s: if recovery > INSTANT_RECOVERY_S { 1.0 / recovery } else { 0.0 },
        pump_m3_per_s: setup.pump.speed.m3_per_s(),
        line_m3_per_s: setup.pump.line_molecular.m3_per_s(),
        line_m3_per_s_pa: setup.pump.line_viscous_m3_per_s_pa,
        ultimate_pa: setup.pump.ultimate.pa(),
        one_over_t: setup.background.one_over_t,
        one_over_t_offset_s: if setup.background.one_over_t > 0.0 {
            setup.background.one_over_t_offset.s()
        } else {
            1.0
        },
        constant: setup.background.constant,
    };
    let ambient_pa = setup.ambient.pa();
    Program {
        constants,
        leak,
        start: [
            ambient_pa * constants.chamber_m3,
            ambient_pa * constants.chamber_m3,
            setup.headspace.pressure.pa() * constants.headspace_m3,
            pocket.map_or(0.0, |pocket| ambient_pa * pocket.volume.m3()),
        ],
        tiers: setup
            .tiers
            .iter()
            .map(|tier| TierPlan {
                target_pa: tier.evacuate_to.pa(),
                evacuate_limit_s: tier.evacuate_limit.s(),
                reach_limit_pa: tier.reach_limit.map(|limit| limit.pa()),
                settle_s: tier.settle.s(),
                measure: MeasureEnd::After(tier.measure.s()),
                rise_limit_pa: tier.rise_limit.map(|limit| limit.pa()),
            })
            .collect(),
        interval_s: setup.sample_interval.s(),
        wall_k: setup.chamber.wall_temperature.k(),
    }
}
