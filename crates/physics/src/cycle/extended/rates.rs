//! Rates of the extended state.

use digits::scalar::ln;

use super::super::setup::{CycleSetup, Pump};
use super::extras::{CycleExtras, Moisture, PumpPoint, WallDrift};
use super::warming_leak::WarmingLeak;
use crate::container::{FlexibleWall, Plunger};
use crate::gases::Gas;
use crate::leak_paths::OrificeLaw;
use crate::liquids::{
    HoleContent, Liquid, LiquidState, PluggedHole, hole_content, ice_vapour_pressure,
};
use crate::outgassing::OutgassingLaw;
use crate::quantities::{
    AbsolutePressure, Duration, MOLAR_GAS_CONSTANT_J_PER_MOL_K as R, Temperature,
};

/// Places in the state. Gas is pressure × volume at the wall temperature of
/// the start, Pa·m³; chamber gas less what outgassed.
pub(super) const CHAMBER: usize = 0;
pub(super) const WARMTH: usize = 1;
pub(super) const HEADSPACE: usize = 2;
pub(super) const POCKET: usize = 3;
pub(super) const TUBING: usize = 4;
/// Vapour within the chamber's gas.
pub(super) const VAPOUR: usize = 5;
/// Vapour given off in all, less what condensed.
pub(super) const EVAPORATED: usize = 6;
/// Temperature of the liquid over that of the wall at the start.
pub(super) const SURFACE: usize = 7;
/// Volume gained by the container, in units of the chamber's: at once, by
/// creep, by the plunger.
pub(super) const ELASTIC: usize = 8;
pub(super) const CREEP: usize = 9;
pub(super) const PLUNGER: usize = 10;
/// Gas pumped, and room air come in, in all.
pub(super) const PUMPED: usize = 11;
pub(super) const ROOM: usize = 12;
/// Liquid run out of the hole, in units of what was over it.
pub(super) const RUN_OUT: usize = 13;
/// Number of states.
pub(super) const N: usize = 14;

pub(super) type State = [f64; N];

const GAMMA: f64 = 1.4;
/// Recovery at or below which the gas follows the wall at once, s.
const INSTANT_RECOVERY_S: f64 = 1.0e-4;
/// Time in which an elastic wall or a plunger takes its place, s: short
/// against a stage, long against the solver's steps.
const MECHANICAL_S: f64 = 0.02;
/// Liquid below this mass no longer covers its surface, kg.
const FILM_KG: f64 = 1.0e-6;

/// The valve between pump and chamber.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum Valve {
    Open,
    Closed,
    /// Closing since this time, s.
    Closing(f64),
    /// Closed to the pump, open to the room.
    Vent,
}

pub(super) struct ExtendedRates {
    chamber_m3: f64,
    headspace_m3: f64,
    pocket: (f64, f64),
    tubing: (f64, f64),
    pub wall_k: f64,
    recovery_per_s: Option<f64>,
    pump: Pump,
    pump_curve: Vec<PumpPoint>,
    line_limit_m3_per_s: f64,
    closing_s: f64,
    ambient_pa: f64,
    laws: Vec<OutgassingLaw>,
    leak: Option<WarmingLeak>,
    room_leaks: Vec<WarmingLeak>,
    moisture: Option<Moisture>,
    /// State of the liquid at the temperature of the wall, where it has one.
    liquid_at_wall: Option<LiquidState>,
    hole: Option<PluggedHole>,
    plunger: Option<Plunger>,
    flexible: Option<FlexibleWall>,
    drift: Option<WallDrift>,
    scale: f64,
}

impl ExtendedRates {
    pub fn new(setup: &CycleSetup, extras: &CycleExtras) -> Self {
        let wall = setup.chamber.wall_temperature;
        let recovery = setup.chamber.thermal_recovery.s();
        let mut laws = extras.outgassing.clone();
        if setup.background.one_over_t > 0.0 {
            laws.push(OutgassingLaw::OneOverTime {
                amount_pa_m3: setup.background.one_over_t,
                offset: setup.background.one_over_t_offset,
            });
        }
        laws.push(OutgassingLaw::Constant { throughput_pa_m3_per_s: setup.background.constant });
        let drift = extras.wall_drift.as_ref();
        let prepared = |path: &_, gas| WarmingLeak::new(path, gas, wall, drift);
        let pair = |volume: Option<super::super::setup::VirtualLeak>| {
            volume.map_or((1.0, 0.0), |v| (v.volume.m3(), v.conductance.m3_per_s()))
        };
        // Choked flow of room air through the line's bore, per pressure.
        let per_area = OrificeLaw::new(Gas::Air.heat_capacity_ratio()).choked
            * (R * wall.k() / Gas::Air.molar_mass_kg_per_mol()).sqrt();
        Self {
            chamber_m3: setup.chamber.free_volume.m3(),
            headspace_m3: setup.headspace.volume.m3(),
            pocket: pair(setup.background.virtual_leak),
            tubing: pair(extras.tubing),
            wall_k: wall.k(),
            recovery_per_s: (recovery > INSTANT_RECOVERY_S).then(|| 1.0 / recovery),
            pump: setup.pump,
            pump_curve: extras.pump_curve.clone(),
            line_limit_m3_per_s: extras
                .line_bore
                .map_or(f64::INFINITY, |bore| bore.circle_area().m2() * per_area),
            closing_s: extras.valve_closing.s(),
            ambient_pa: setup.ambient.pa(),
            laws,
            leak: setup.leak.as_ref().map(|path| prepared(path, setup.headspace.gas)),
            room_leaks: extras.room_leaks.iter().map(|path| prepared(path, Gas::Air)).collect(),
            moisture: extras.moisture,
            liquid_at_wall: extras.moisture.and_then(|moisture| moisture.liquid.at(wall).ok()),
            hole: extras.plugged_hole,
            plunger: extras.plunger,
            flexible: extras.flexible_wall,
            drift: extras.wall_drift,
            scale: R * wall.k(),
        }
    }

    pub fn start(&self, setup: &CycleSetup, extras: &CycleExtras) -> State {
        let ambient = self.ambient_pa;
        let mut state = [0.0; N];
        state[CHAMBER] = ambient * self.chamber_m3;
        state[WARMTH] = 1.0;
        state[SURFACE] = 1.0;
        state[HEADSPACE] = setup.headspace.pressure.pa() * self.headspace_m3;
        if setup.background.virtual_leak.is_some() {
            state[POCKET] = ambient * self.pocket.0;
        }
        if extras.tubing.is_some() {
            state[TUBING] = ambient * self.tubing.0;
        }
        state
    }

    /// Gas outgassed from the start, Pa·m³.
    pub fn outgassed(&self, time_s: f64) -> f64 {
        let (from, to) = (Duration::from_s(0.0), Duration::from_s(time_s));
        digits::sums::sum(self.laws.iter().map(|law| law.released_pa_m3(from, to)))
    }

    pub fn gas(&self, time_s: f64, state: &State) -> f64 {
        state[CHAMBER] + self.outgassed(time_s)
    }

    /// Free volume left by the container.
    pub fn free_m3(&self, state: &State) -> f64 {
        let gained = state[ELASTIC] + state[CREEP] + state[PLUNGER];
        self.chamber_m3 * (1.0 - gained).max(1e-6)
    }

    pub fn pressure(&self, time_s: f64, state: &State) -> f64 {
        (self.gas(time_s, state) / self.free_m3(state) * state[WARMTH]).max(0.0)
    }

    /// Wall temperature over that of the start.
    fn wall_warmth(&self, time_s: f64) -> f64 {
        self.drift.map_or(1.0, |drift| {
            let left = digits::scalar::exp(-time_s / drift.time_constant.s());
            let end = drift.towards.k() / self.wall_k;
            end + (1.0 - end) * left
        })
    }

    pub fn headspace_pressure(&self, time_s: f64, state: &State) -> f64 {
        let gained = (state[ELASTIC] + state[CREEP] + state[PLUNGER]) * self.chamber_m3;
        (state[HEADSPACE] / (self.headspace_m3 + gained) * self.wall_warmth(time_s)).max(0.0)
    }

    pub fn vapour_pressure(&self, state: &State) -> f64 {
        (state[VAPOUR] / self.free_m3(state) * state[WARMTH]).max(0.0)
    }

    pub fn rates(&self, time_s: f64, state: &State, valve: Valve) -> State {
        let mut out = [0.0; N];
        let gas = self.gas(time_s, state).max(1e-30);
        let pressure = self.pressure(time_s, state);
        let headspace = self.headspace_pressure(time_s, state);
        let wall = self.wall_warmth(time_s);
        let per_flow =
            |law: &WarmingLeak, up, down| self.scale * law.flow_mol_per_s(up, down, wall);

        let (content, run_out_kg) = self.hole(state, headspace, pressure, wall);
        let leak = match (&self.leak, content) {
            (Some(law), HoleContent::Gas) => per_flow(law, headspace, pressure),
            _ => 0.0,
        };
        let pocket = self.pocket.1 * (state[POCKET] / self.pocket.0 * wall - pressure);
        let tubing = self.tubing.1 * (state[TUBING] / self.tubing.0 * wall - pressure);
        let room = digits::sums::sum(
            self.room_leaks.iter().map(|law| per_flow(law, self.ambient_pa, pressure)),
        ) + self.vent(valve, pressure);
        let desorbed = digits::sums::sum(
            self.laws.iter().map(|law| law.throughput_pa_m3_per_s(Duration::from_s(time_s))),
        );
        let evaporated = self.evaporation(state, &mut out, wall, run_out_kg);
        let pumped = self.pump_throughput(pressure, time_s, valve);
        let warmth = if self.recovery_per_s.is_some() { state[WARMTH] } else { wall };
        let pumped_amount = pumped / warmth;

        self.mechanics(state, &mut out, headspace - pressure);
        out[CHAMBER] = leak + pocket + tubing + room + evaporated - pumped_amount;
        out[HEADSPACE] = -leak;
        out[POCKET] = -pocket;
        out[TUBING] = -tubing;
        out[VAPOUR] = evaporated - pumped_amount * (state[VAPOUR] / gas).clamp(0.0, 1.0);
        out[EVAPORATED] = evaporated;
        out[PUMPED] = pumped_amount;
        out[ROOM] = room;
        if let Some(recovery) = self.recovery_per_s {
            let inflow = leak + pocket + tubing + room + evaporated + desorbed;
            // The container that grows compresses the gas around it.
            let squeezed = pressure * self.chamber_m3 * (out[ELASTIC] + out[CREEP] + out[PLUNGER]);
            out[WARMTH] = (inflow * (GAMMA * wall - warmth) + (GAMMA - 1.0) * (squeezed - pumped))
                / gas
                + (wall - warmth) * recovery;
        } else {
            // The gas is at wall temperature: its rate is the wall's.
            out[WARMTH] = self.drift.map_or(0.0, |drift| {
                (drift.towards.k() / self.wall_k - wall) / drift.time_constant.s()
            });
        }
        out
    }

    /// What fills the leak, and liquid that runs out of it, kg/s.
    fn hole(&self, state: &State, headspace: f64, pressure: f64, wall: f64) -> (HoleContent, f64) {
        let (Some(hole), Some(moisture)) = (self.hole, self.moisture) else {
            return (HoleContent::Gas, 0.0);
        };
        let left = hole.liquid_kg * (1.0 - state[RUN_OUT]);
        if left <= 0.0 || state[RUN_OUT] >= 1.0 - 1e-9 {
            return (HoleContent::Gas, 0.0);
        }
        // Inside the container the liquid is at wall temperature, which drifts
        // in few cycles.
        let liquid = if wall == 1.0 {
            self.liquid_at_wall
        } else {
            moisture.liquid.at(Temperature::from_k(self.wall_k * wall)).ok()
        };
        let Some(liquid) = liquid else { return (HoleContent::Blocked, 0.0) };
        let hole = PluggedHole { liquid_kg: left, ..hole };
        let pa = AbsolutePressure::from_pa;
        let (content, flow) = hole_content(&hole, &liquid, pa(headspace), pa(pressure))
            .unwrap_or((HoleContent::Blocked, 0.0));
        // The last percent runs dry gently, so that the flow has no step.
        (content, flow * (left / (0.01 * hole.liquid_kg + 1e-30)).min(1.0))
    }

    /// Evaporation in Pa·m³/s; sets the rates of surface and run-out.
    fn evaporation(&self, state: &State, out: &mut State, wall: f64, run_out_kg: f64) -> f64 {
        let Some(moisture) = self.moisture else { return 0.0 };
        let total = self.hole.map_or(0.0, |hole| hole.liquid_kg);
        if total > 0.0 {
            out[RUN_OUT] = run_out_kg / total;
        }
        let surface_k = (state[SURFACE] * self.wall_k).max(150.0);
        let Some((vapour_pa, molar_mass, latent, capacity)) =
            surface_properties(&moisture.liquid, surface_k)
        else {
            return 0.0;
        };
        let evaporated_kg = state[EVAPORATED] / self.scale * molar_mass;
        let left_kg = (moisture.mass_kg + total * state[RUN_OUT] - evaporated_kg).max(0.0);
        let cover = left_kg / (left_kg + FILM_KG);
        let above = self.vapour_pressure(state);
        let root = (2.0 * core::f64::consts::PI * molar_mass * R).sqrt();
        let driving = vapour_pa / surface_k.sqrt() - above / (state[WARMTH] * self.wall_k).sqrt();
        // A dry surface takes vapour up again, but gives none.
        let covered = if driving > 0.0 { cover } else { 1.0 };
        let molar =
            moisture.evaporation_coefficient * moisture.surface.m2() * covered * driving / root;
        let heat = moisture.heat_exchange_w_per_k * (wall * self.wall_k - surface_k);
        let stored = (left_kg + FILM_KG) * capacity;
        // Liquid that runs out brings its own warmth with it.
        let brought = run_out_kg * capacity * (wall * self.wall_k - surface_k);
        out[SURFACE] = (heat + brought - latent * molar * molar_mass) / stored / self.wall_k;
        molar * self.scale
    }

    fn mechanics(&self, state: &State, out: &mut State, difference_pa: f64) {
        if let Some(wall) = self.flexible {
            let first = wall.compliance_m3_per_pa * difference_pa / self.chamber_m3;
            out[ELASTIC] = (first - state[ELASTIC]) / MECHANICAL_S;
            out[CREEP] = (wall.creep_share * first - state[CREEP]) / wall.creep_time.s();
        }
        if let Some(plunger) = self.plunger {
            // Once under way the lower friction holds.
            let moving = state[PLUNGER] > 1e-9;
            let force = if moving {
                plunger.dynamic_friction_n.min(plunger.break_loose_n)
            } else {
                plunger.break_loose_n
            };
            let excess = difference_pa - force / plunger.area.m2();
            let left = plunger.stop.m3() / self.chamber_m3 - state[PLUNGER];
            if excess > 0.0 && left > 0.0 {
                // Speed such that a free way closes the difference in the
                // mechanical time; the last of the way slows down.
                let speed = excess / self.ambient_pa
                    * (self.headspace_m3 / self.chamber_m3 + state[PLUNGER])
                    / MECHANICAL_S;
                out[PLUNGER] = speed.min(left / MECHANICAL_S);
            }
        }
    }

    fn vent(&self, valve: Valve, pressure: f64) -> f64 {
        // Vented through the pump's line, within a fraction of a second.
        if valve == Valve::Vent {
            self.chamber_m3 / 0.2 * (self.ambient_pa - pressure)
        } else {
            0.0
        }
    }

    fn pump_speed(&self, pressure: f64) -> f64 {
        let curve = &self.pump_curve;
        let (Some(first), Some(last)) = (curve.first(), curve.last()) else {
            return self.pump.speed.m3_per_s();
        };
        if pressure <= first.pressure.pa() {
            return first.speed.m3_per_s();
        }
        if pressure >= last.pressure.pa() {
            return last.speed.m3_per_s();
        }
        let above = curve.partition_point(|point| point.pressure.pa() < pressure);
        let (a, b) = (&curve[above - 1], &curve[above]);
        let part = ln(pressure / a.pressure.pa()) / ln(b.pressure.pa() / a.pressure.pa());
        a.speed.m3_per_s() + part * (b.speed.m3_per_s() - a.speed.m3_per_s())
    }

    /// Throughput of valve, line and pump, gas at chamber temperature.
    fn pump_throughput(&self, pressure: f64, time_s: f64, valve: Valve) -> f64 {
        let opening = match valve {
            Valve::Open => 1.0,
            Valve::Closed | Valve::Vent => 0.0,
            Valve::Closing(since_s) => {
                (1.0 - (time_s - since_s) / self.closing_s.max(1e-9)).clamp(0.0, 1.0)
            }
        };
        if opening <= 0.0 {
            return 0.0;
        }
        let speed = self.pump_speed(pressure);
        let line = opening
            * (self.pump.line_molecular.m3_per_s() + self.pump.line_viscous_m3_per_s_pa * pressure)
                .min(self.line_limit_m3_per_s);
        if speed + line <= 0.0 {
            return 0.0;
        }
        speed * (line / (speed + line)) * (pressure - self.pump.ultimate.pa())
    }
}

/// Vapour pressure Pa, molar mass kg/mol, heat of evaporation J/kg and heat
/// capacity J/(kg K) of a surface; water freezes and follows the ice curve.
fn surface_properties(liquid: &Liquid, kelvin: f64) -> Option<(f64, f64, f64, f64)> {
    if let Liquid::Solution(solution) = liquid {
        let (vapour_pa, molar_mass, latent, capacity) =
            surface_properties(&solution.solvent.pure(), kelvin)?;
        return Some((vapour_pa * solution.vapour_pressure, molar_mass, latent, capacity));
    }
    let temperature = Temperature::from_k(kelvin);
    if *liquid == Liquid::Water && kelvin < 273.15 {
        // Heat of sublimation and capacity of ice: from memory.
        return ice_vapour_pressure(temperature)
            .map(|pressure| (pressure.pa(), 18.015_268e-3, 2.834e6, 2100.0));
    }
    // Outside its table a liquid keeps the properties of the table's edge,
    // with the vapour pressure carried on by the heat of evaporation.
    let (edge, state) = match liquid.evaporating(temperature) {
        Ok(state) => (kelvin, state),
        Err(_) => {
            let edge = if kelvin < 300.0 { nearest(liquid, true) } else { nearest(liquid, false) };
            (edge, liquid.evaporating(Temperature::from_k(edge)).ok()?)
        }
    };
    let carried = state.heat_of_evaporation_j_per_kg * state.molar_mass_kg_per_mol / R
        * (1.0 / edge - 1.0 / kelvin);
    Some((
        state.vapour_pressure_pa * digits::scalar::exp(carried),
        state.molar_mass_kg_per_mol,
        state.heat_of_evaporation_j_per_kg,
        state.heat_capacity_j_per_kg_k,
    ))
}

/// Edge of a liquid's table, K.
fn nearest(liquid: &Liquid, cold: bool) -> f64 {
    match liquid {
        Liquid::Water | Liquid::Ethanol => {
            if cold {
                273.15
            } else {
                333.15
            }
        }
        Liquid::Given(given) => given.temperature_k,
        Liquid::Solution(solution) => nearest(&solution.solvent.pure(), cold),
    }
}
