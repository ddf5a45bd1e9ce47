//! The equations of a cycle as rates of the state, over lanes.

use digits::lanes::Lanes;

use super::leak_lanes::LeakLanes;

/// Places in the state. Gas is counted as pressure × volume at wall
/// temperature, Pa·m³ (an amount times `R T_w`).
///
/// The first two places depend on the valve, because each stage is smoothest
/// in its own variables and the steps are then longest. While pumping: the
/// fourth root of the chamber's gas, and gas temperature over wall
/// temperature. While closed: the gas itself, and its pressure × volume, in
/// which the return to wall temperature is a linear equation. See
/// [`Contents`].
pub(super) const CHAMBER: usize = 0;
/// Warmth while pumping, pressure × volume while closed.
pub(super) const WARMTH: usize = 1;
pub(super) const HEADSPACE: usize = 2;
pub(super) const POCKET: usize = 3;
/// Number of states.
pub(super) const N: usize = 4;

/// Chamber gas is mostly room air, whatever leaks in.
const GAMMA: f64 = 1.4;

/// What the chamber holds: the same meaning whether the valve is open or not.
#[derive(Debug, Clone, Copy)]
pub(super) struct Contents<V> {
    /// Gas, Pa·m³ at wall temperature.
    pub gas: V,
    /// Pressure × volume, Pa·m³.
    pub pressure_volume: V,
}

impl<V: Lanes> Contents<V> {
    /// Reads the first two places of a state.
    #[inline(always)]
    pub fn pumping(first: V, warmth: V) -> Self {
        let square = first * first;
        let gas = square * square;
        Self { gas, pressure_volume: gas * warmth }
    }

    /// Reads the first two places of a state.
    #[inline(always)]
    pub const fn closed(gas: V, pressure_volume: V) -> Self {
        Self { gas, pressure_volume }
    }
}

impl Contents<f64> {
    /// Reads the first two places of a state.
    #[inline(always)]
    pub fn of(open: bool, first: f64, second: f64) -> Self {
        if open { Self::pumping(first, second) } else { Self::closed(first, second) }
    }

    /// The first two places of a state with these contents.
    pub fn places(&self, open: bool) -> [f64; 2] {
        if open {
            [self.gas.sqrt().sqrt(), self.pressure_volume / self.gas]
        } else {
            [self.gas, self.pressure_volume]
        }
    }
}

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
        let [first, second, ..] = *state;
        let is_closed = open.at_most(V::splat(0.5));
        let mut held = Contents::closed(first, second);
        if any_open {
            let pumping = Contents::pumping(first, second);
            held.gas = V::select(is_closed, first, pumping.gas);
            held.pressure_volume = V::select(is_closed, second, pumping.pressure_volume);
        }
        let pressure = held.pressure_volume * self.per_chamber;
        let headspace = state[HEADSPACE] * self.per_headspace;
        let quotient = self.leak.throughput(headspace, pressure);
        let pocket = self.pocket * (state[POCKET] * self.per_pocket - pressure);
        // The reciprocals do not wait for each other, and what can be
        // multiplied before the last one arrives is: a single run is as slow
        // as its longest chain of operations.
        let per_time = one / (time + self.offset);
        let per_below = one / quotient.below;
        let released = self.one_over_t * per_time + (pocket + self.constant);
        let swell = one + self.thermal * V::splat(GAMMA - 1.0);
        let return_heat = (held.gas - held.pressure_volume) * self.recovery;
        let leak = quotient.above * per_below;
        let inflow = leak + released;
        let warming = (quotient.above * swell) * per_below + (swell * released + return_heat);
        if !any_open {
            return [inflow, warming, -leak, -pocket];
        }
        let line = self.line + self.line_slope * pressure;
        // A pump or line of zero conductance pumps nothing.
        let series = (self.pump + line).larger(V::splat(1e-30));
        let warmth = second;
        let quarter = V::splat(0.25) * first;
        let pull = (self.pump * line) * (pressure - self.ultimate);
        // In lanes that pump: the reciprocal of the gas, and the share of it
        // that leaves per time.
        let per_pumped = one / (series * held.pressure_volume);
        let per_gas = (series * warmth) * per_pumped;
        let drain = pull * per_pumped;
        let root = (quarter * per_gas) * inflow - quarter * drain;
        let heat = (V::splat(GAMMA) - warmth) * per_gas * inflow
            - (V::splat(GAMMA - 1.0) * warmth) * drain
            + (one - warmth) * self.recovery;
        [
            V::select(is_closed, inflow, root),
            V::select(is_closed, warming, self.thermal * heat),
            -leak,
            -pocket,
        ]
    }

    /// Pressures from the pressure × volume of the chamber and the gas of the
    /// headspace, Pa.
    #[inline(always)]
    pub fn pressures(&self, held: V, headspace: V) -> (V, V) {
        (held * self.per_chamber, headspace * self.per_headspace)
    }

    /// Chamber pressure in a lane, Pa.
    #[inline(always)]
    pub fn pressure_in(&self, lane: usize, held: Contents<f64>) -> f64 {
        held.pressure_volume * self.per_chamber.lane(lane)
    }

    /// One over the chamber volume of a lane, 1/m³.
    #[inline(always)]
    pub fn per_chamber_in(&self, lane: usize) -> f64 {
        self.per_chamber.lane(lane)
    }

    #[inline(always)]
    pub fn headspace_in(&self, lane: usize, gas: f64) -> f64 {
        gas * self.per_headspace.lane(lane)
    }

    pub fn chamber_m3(&self, lane: usize) -> f64 {
        self.chamber_m3.lane(lane)
    }
}
