//! The equations of a cycle as rates of the state, over lanes.

use digits::lanes::Lanes;

use super::leak_lanes::LeakLanes;

/// Places in the state. Gas is counted as pressure × volume at wall
/// temperature, Pa·m³ (an amount times `R T_w`).
pub(super) const CHAMBER: usize = 0;
/// Gas temperature over wall temperature.
pub(super) const WARMTH: usize = 1;
pub(super) const HEADSPACE: usize = 2;
pub(super) const POCKET: usize = 3;
/// Number of states.
pub(super) const N: usize = 4;

/// Chamber gas is mostly room air, whatever leaks in.
const GAMMA: f64 = 1.4;

/// Constants of one lane.
#[derive(Debug, Clone, Copy)]
pub(super) struct LaneConstants {
    pub chamber_m3: f64,
    pub headspace_m3: f64,
    pub pocket_m3: f64,
    pub pocket_m3_per_s: f64,
    /// 1/τ; zero where the gas follows the wall at once.
    pub recovery_per_s: f64,
    pub pump_m3_per_s: f64,
    pub line_m3_per_s: f64,
    pub line_m3_per_s_pa: f64,
    pub ultimate_pa: f64,
    pub one_over_t: f64,
    pub one_over_t_offset_s: f64,
    pub constant: f64,
}

/// Chamber, headspace, pocket and pump over lanes.
#[derive(Debug, Clone)]
pub(super) struct GasRates<V, L> {
    chamber_m3: V,
    per_chamber: V,
    per_headspace: V,
    per_pocket: V,
    pocket: V,
    recovery: V,
    /// 1 where the gas has its own temperature, else 0.
    thermal: V,
    pump: V,
    line: V,
    line_slope: V,
    ultimate: V,
    one_over_t: V,
    offset: V,
    constant: V,
    pub leak: L,
}

impl<V: Lanes, L: LeakLanes<V>> GasRates<V, L> {
    pub fn idle() -> Self {
        let one = V::splat(1.0);
        let zero = V::splat(0.0);
        Self {
            chamber_m3: one,
            per_chamber: one,
            per_headspace: one,
            per_pocket: one,
            pocket: zero,
            recovery: zero,
            thermal: zero,
            pump: one,
            line: one,
            line_slope: zero,
            ultimate: zero,
            one_over_t: zero,
            offset: one,
            constant: zero,
            leak: L::none(),
        }
    }

    pub fn load(&mut self, lane: usize, c: &LaneConstants, leak: Option<&L::Lane>) {
        self.chamber_m3.set_lane(lane, c.chamber_m3);
        self.per_chamber.set_lane(lane, 1.0 / c.chamber_m3);
        self.per_headspace.set_lane(lane, 1.0 / c.headspace_m3);
        self.per_pocket.set_lane(lane, 1.0 / c.pocket_m3);
        self.pocket.set_lane(lane, c.pocket_m3_per_s);
        self.recovery.set_lane(lane, c.recovery_per_s);
        self.thermal.set_lane(lane, if c.recovery_per_s > 0.0 { 1.0 } else { 0.0 });
        self.pump.set_lane(lane, c.pump_m3_per_s);
        self.line.set_lane(lane, c.line_m3_per_s);
        self.line_slope.set_lane(lane, c.line_m3_per_s_pa);
        self.ultimate.set_lane(lane, c.ultimate_pa);
        self.one_over_t.set_lane(lane, c.one_over_t);
        self.offset.set_lane(lane, c.one_over_t_offset_s);
        self.constant.set_lane(lane, c.constant);
        self.leak.load(lane, leak);
    }

    /// Rates of the state. `open` is 1 in lanes whose pump valve is open;
    /// `any_open` says whether there is one.
    #[inline(always)]
    pub fn rates(&self, time: V, state: &[V; N], open: V, any_open: bool) -> [V; N] {
        let one = V::splat(1.0);
        let gas = state[CHAMBER];
        let warmth = state[WARMTH];
        // Reciprocals first: they depend on the state alone, so the slow
        // divisions run beside the rest and not after it.
        let per_gas = one / gas;
        let per_time = one / (time + self.offset);
        let pressure = gas * self.per_chamber * warmth;
        let headspace = state[HEADSPACE] * self.per_headspace;
        let leak = self.leak.throughput(headspace, pressure);
        let pocket = self.pocket * (state[POCKET] * self.per_pocket - pressure);
        let inflow = leak + pocket + (self.one_over_t * per_time + self.constant);
        let mut rate = inflow;
        let mut heat = inflow * (V::splat(GAMMA) - warmth);
        if any_open {
            let line = self.line + self.line_slope * pressure;
            // A pump or line of zero conductance pumps nothing.
            let series = (self.pump + line).larger(V::splat(1e-300));
            // One division serves both: S C/(S + C) and 1/warmth.
            let shared = (open * self.pump) * line / (series * warmth);
            let amount = (pressure - self.ultimate) * shared;
            rate = rate - amount;
            heat = heat - V::splat(GAMMA - 1.0) * amount * warmth;
        }
        [rate, self.thermal * (heat * per_gas + (one - warmth) * self.recovery), -leak, -pocket]
    }

    #[inline(always)]
    pub fn pressure_in(&self, lane: usize, gas: f64, warmth: f64) -> f64 {
        gas * self.per_chamber.lane(lane) * warmth
    }

    #[inline(always)]
    pub fn headspace_in(&self, lane: usize, gas: f64) -> f64 {
        gas * self.per_headspace.lane(lane)
    }

    pub fn chamber_m3(&self, lane: usize) -> f64 {
        self.chamber_m3.lane(lane)
    }
}
