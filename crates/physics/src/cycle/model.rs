//! The equations of a cycle as rates of the state.

use digits::scalar::ln_1p;

use super::setup::CycleSetup;
use crate::leak_paths::PreparedLeak;
use crate::quantities::MOLAR_GAS_CONSTANT_J_PER_MOL_K as R;

/// Chamber gas less what outgassed since the start; headspace; pocket; pumped
/// gas: each as pressure × volume at wall temperature, Pa·m³ (an amount times
/// `R T_w`). Their sum never changes. Last, the gas temperature, K.
pub(super) type State = [f64; 5];
pub(super) const CHAMBER: usize = 0;
pub(super) const HEADSPACE: usize = 1;
pub(super) const POCKET: usize = 2;
pub(super) const PUMPED: usize = 3;
pub(super) const TEMPERATURE: usize = 4;

/// Recovery at or below which the gas follows the wall at once.
const INSTANT_RECOVERY_S: f64 = 1.0e-4;

/// Chamber gas is mostly room air, whatever leaks in.
const GAMMA: f64 = 1.4;

#[derive(Debug, Clone)]
pub(super) struct Model {
    chamber_m3: f64,
    headspace_m3: f64,
    pocket_m3: f64,
    pocket_m3_per_s: f64,
    wall_k: f64,
    /// 1/τ; `None` where the gas follows the wall at once.
    recovery_per_s: Option<f64>,
    pump: super::setup::Pump,
    one_over_t: f64,
    one_over_t_offset_s: f64,
    constant: f64,
    leak: Option<PreparedLeak>,
    /// mol to Pa·m³ at wall temperature.
    scale: f64,
}

impl Model {
    pub fn new(setup: &CycleSetup) -> Self {
        let wall = setup.chamber.wall_temperature;
        let recovery = setup.chamber.thermal_recovery.s();
        let pocket = setup.background.virtual_leak;
        Self {
            chamber_m3: setup.chamber.free_volume.m3(),
            headspace_m3: setup.headspace.volume.m3(),
            pocket_m3: pocket.map_or(1.0, |p| p.volume.m3()),
            pocket_m3_per_s: pocket.map_or(0.0, |p| p.conductance.m3_per_s()),
            wall_k: wall.k(),
            recovery_per_s: (recovery > INSTANT_RECOVERY_S).then(|| 1.0 / recovery),
            pump: setup.pump,
            one_over_t: setup.background.one_over_t,
            one_over_t_offset_s: setup.background.one_over_t_offset.s(),
            constant: setup.background.constant,
            leak: setup
                .leak
                .as_ref()
                .map(|path| PreparedLeak::new(path, setup.headspace.gas, wall)),
            scale: R * wall.k(),
        }
    }

    pub fn start(&self, setup: &CycleSetup) -> State {
        let ambient = setup.ambient.pa();
        let pocket =
            if setup.background.virtual_leak.is_some() { ambient * self.pocket_m3 } else { 0.0 };
        [
            ambient * self.chamber_m3,
            setup.headspace.pressure.pa() * self.headspace_m3,
            pocket,
            0.0,
            self.wall_k,
        ]
    }

    /// Gas outgassed from the start to `time_s`, in closed form.
    pub fn outgassed(&self, time_s: f64) -> f64 {
        let desorbed = if self.one_over_t > 0.0 {
            self.one_over_t * ln_1p(time_s / self.one_over_t_offset_s)
        } else {
            0.0
        };
        desorbed + self.constant * time_s
    }

    pub fn chamber_pressure(&self, time_s: f64, state: &State) -> f64 {
        (state[CHAMBER] + self.outgassed(time_s)) / self.chamber_m3
            * (state[TEMPERATURE] / self.wall_k)
    }

    pub fn headspace_pressure(&self, state: &State) -> f64 {
        state[HEADSPACE] / self.headspace_m3
    }

    pub const fn wall_k(&self) -> f64 {
        self.wall_k
    }

    pub const fn chamber_m3(&self) -> f64 {
        self.chamber_m3
    }

    /// Size of each state for the error test: of the gas really in the
    /// chamber, not of the difference that is integrated.
    pub fn sizes(&self, time_s: f64, state: &State) -> State {
        let chamber = (state[CHAMBER] + self.outgassed(time_s)).abs();
        [
            chamber,
            // Headspace and pocket matter through what they give the chamber.
            chamber.max(0.01 * state[HEADSPACE].abs()),
            chamber.max(0.01 * state[POCKET].abs()),
            chamber.max(state[PUMPED].abs()),
            state[TEMPERATURE].abs(),
        ]
    }

    pub fn rates(&self, time_s: f64, state: &State, pump_open: bool) -> State {
        let gas = state[CHAMBER] + self.outgassed(time_s);
        let temperature =
            if self.recovery_per_s.is_some() { state[TEMPERATURE] } else { self.wall_k };
        let pressure = (gas / self.chamber_m3 * (temperature / self.wall_k)).max(0.0);
        let headspace = (state[HEADSPACE] / self.headspace_m3).max(0.0);
        let leak = self
            .leak
            .as_ref()
            .map_or(0.0, |leak| self.scale * leak.flow_mol_per_s(headspace, pressure));
        let pocket = if self.pocket_m3_per_s > 0.0 {
            self.pocket_m3_per_s * (state[POCKET] / self.pocket_m3 - pressure)
        } else {
            0.0
        };
        let pumped = if pump_open { self.pump_throughput(pressure) } else { 0.0 };
        let pumped_amount = pumped * self.wall_k / temperature;
        let mut rates = [leak + pocket - pumped_amount, -leak, -pocket, pumped_amount, 0.0];
        if let Some(recovery) = self.recovery_per_s {
            let desorbed = if self.one_over_t > 0.0 {
                self.one_over_t / (time_s + self.one_over_t_offset_s)
            } else {
                0.0
            };
            let inflow = leak + pocket + desorbed + self.constant;
            // T/(p V) is T_w over the amount of gas.
            let per_gas = if gas > 0.0 { self.wall_k / gas } else { 0.0 };
            rates[TEMPERATURE] = per_gas
                * (inflow * (GAMMA - temperature / self.wall_k) - (GAMMA - 1.0) * pumped)
                + (self.wall_k - temperature) * recovery;
        }
        rates
    }

    /// Throughput of pump and line in series, gas at chamber temperature.
    fn pump_throughput(&self, pressure: f64) -> f64 {
        let speed = self.pump.speed.m3_per_s();
        let line =
            self.pump.line_molecular.m3_per_s() + self.pump.line_viscous_m3_per_s_pa * pressure;
        if speed + line <= 0.0 {
            return 0.0;
        }
        speed * (line / (speed + line)) * (pressure - self.pump.ultimate.pa())
    }
}
