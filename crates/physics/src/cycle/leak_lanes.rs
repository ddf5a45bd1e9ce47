//! Leak laws in lanes: throughput from headspace into chamber, gas at wall
//! temperature, Pa·m³/s.

use digits::lanes::Lanes;

use crate::leak_paths::{OrificeLaw, PreparedLeak, discharge_coefficient};

/// A number still to be divided: the caller shares one division among several.
#[derive(Debug, Clone, Copy)]
pub(super) struct Quotient<V> {
    pub above: V,
    /// Positive.
    pub below: V,
}

/// A leak law that can be put into lanes of any width.
pub(super) trait LeakLaw {
    /// Constants of one lane.
    type Lane: Clone;
    /// The law over lanes.
    type In<V: Lanes>: LeakLanes<V, Lane = Self::Lane>;
}

/// The blend of the benchmark problem.
pub(super) struct Blends;

impl LeakLaw for Blends {
    type Lane = BlendConstants;
    type In<V: Lanes> = BlendLanes<V>;
}

/// Thin orifices by the recommended law.
pub(super) struct Orifices;

impl LeakLaw for Orifices {
    type Lane = OrificeConstants;
    type In<V: Lanes> = OrificeLanes<V>;
}

/// A leak law over lanes. `headspace` and `chamber` are pressures in Pa.
pub(super) trait LeakLanes<V: Lanes> {
    /// Constants of one lane.
    type Lane: Clone;
    /// Every lane without a leak.
    fn none() -> Self;
    /// Puts constants into a lane; `None` is no leak.
    fn load(&mut self, lane: usize, constants: Option<&Self::Lane>);
    /// Throughput, positive out of the headspace, not yet divided.
    fn throughput(&self, headspace: V, chamber: V) -> Quotient<V>;
    /// A measure of how fast the leak empties things, to put alike next to
    /// alike.
    fn strength(constants: &Self::Lane) -> f64;
    /// Ratios of the lower to the higher pressure at which the law has a kink,
    /// in rising order, for one lane.
    fn kinks(&self, lane: usize) -> [f64; 2];
}

/// Continuum flow and free-molecular flow weighted by the Knudsen number:
/// a classical blend, kept for the benchmark problem.
#[derive(Debug, Clone, Copy)]
pub(super) struct BlendConstants {
    pub critical_ratio: f64,
    pub choked: f64,
    pub subsonic: f64,
    pub molecular: f64,
    pub knudsen_pa: f64,
    pub gamma: f64,
}

/// Above this pressure ratio the subsonic branch is a straight line to zero.
const NEAR_EQUILIBRIUM: f64 = 0.999;

#[derive(Debug, Clone, Copy)]
pub(super) struct BlendLanes<V> {
    critical_ratio: V,
    choked: V,
    subsonic: V,
    molecular: V,
    knudsen_pa: V,
    exponent: V,
}

impl<V: Lanes> LeakLanes<V> for BlendLanes<V> {
    type Lane = BlendConstants;

    fn none() -> Self {
        let zero = V::splat(0.0);
        Self {
            critical_ratio: V::splat(0.5),
            choked: zero,
            subsonic: zero,
            molecular: zero,
            knudsen_pa: zero,
            exponent: V::splat(2.0 / 7.0),
        }
    }

    fn load(&mut self, lane: usize, constants: Option<&BlendConstants>) {
        let zero = BlendConstants {
            critical_ratio: 0.5,
            choked: 0.0,
            subsonic: 0.0,
            molecular: 0.0,
            knudsen_pa: 0.0,
            gamma: 1.4,
        };
        let c = constants.unwrap_or(&zero);
        self.critical_ratio.set_lane(lane, c.critical_ratio);
        self.choked.set_lane(lane, c.choked);
        self.subsonic.set_lane(lane, c.subsonic);
        self.molecular.set_lane(lane, c.molecular);
        self.knudsen_pa.set_lane(lane, c.knudsen_pa);
        self.exponent.set_lane(lane, (c.gamma - 1.0) / c.gamma);
    }

    #[inline(always)]
    fn throughput(&self, headspace: V, chamber: V) -> Quotient<V> {
        let one = V::splat(1.0);
        let high = headspace.larger(chamber);
        let low = headspace.smaller(chamber);
        let is_choked = low.at_most(self.critical_ratio * high);
        let mut viscous = self.choked * high;
        if !V::all(is_choked) {
            let edge = V::splat(NEAR_EQUILIBRIUM);
            let ratio = low / high;
            let line = (one - ratio) * V::splat(1.0 / (1.0 - NEAR_EQUILIBRIUM));
            let line = V::select(ratio.at_most(edge), one, line);
            let held = ratio.smaller(edge);
            let power = (held.ln() * self.exponent).exp();
            let flow = line * self.subsonic * high * (held / power) * (one - power).sqrt();
            viscous = V::select(is_choked, viscous, flow);
        }
        // (q_visc + Kn q_mol)/(1 + Kn) with Kn = k/p.
        let size = viscous * high + self.knudsen_pa * self.molecular * (high - low);
        Quotient {
            above: V::select(chamber.at_most(headspace), size, -size),
            below: (high + self.knudsen_pa).larger(V::splat(1e-30)),
        }
    }

    fn strength(constants: &BlendConstants) -> f64 {
        constants.choked
    }

    fn kinks(&self, lane: usize) -> [f64; 2] {
        [self.critical_ratio.lane(lane), NEAR_EQUILIBRIUM]
    }
}

/// The thin orifice of the recommended law.
#[derive(Debug, Clone, Copy)]
pub(crate) struct OrificeConstants {
    pub law: OrificeLaw,
    /// Free-molecular throughput over pressure, m³/s.
    pub efflux_m3_per_s: f64,
    /// Rarefaction over pressure, 1/Pa.
    pub rarefaction_per_pa: f64,
}

#[derive(Debug, Clone, Copy)]
pub(super) struct OrificeLanes<V> {
    critical_ratio: V,
    choked: V,
    full_gain: V,
    factor: V,
    inverse_gamma: V,
    exponent: V,
    efflux: V,
    rarefaction: V,
}

const ROOT_TWO_PI: f64 = 2.506_628_274_631_000_7;

impl<V: Lanes> LeakLanes<V> for OrificeLanes<V> {
    type Lane = OrificeConstants;

    fn none() -> Self {
        let mut lanes = Self {
            critical_ratio: V::splat(0.5),
            choked: V::splat(0.0),
            full_gain: V::splat(1.0),
            factor: V::splat(7.0),
            inverse_gamma: V::splat(1.0 / 1.4),
            exponent: V::splat(2.0 / 7.0),
            efflux: V::splat(0.0),
            rarefaction: V::splat(0.0),
        };
        for lane in 0..V::WIDTH {
            lanes.load(lane, None);
        }
        lanes
    }

    fn load(&mut self, lane: usize, constants: Option<&OrificeConstants>) {
        let tight = OrificeConstants {
            law: OrificeLaw::new(1.4),
            efflux_m3_per_s: 0.0,
            rarefaction_per_pa: 0.0,
        };
        let c = constants.unwrap_or(&tight);
        self.critical_ratio.set_lane(lane, c.law.critical_ratio);
        self.choked.set_lane(lane, c.law.choked);
        self.full_gain.set_lane(lane, c.law.full_gain);
        self.factor.set_lane(lane, c.law.factor);
        self.inverse_gamma.set_lane(lane, c.law.inverse_gamma);
        self.exponent.set_lane(lane, c.law.exponent);
        self.efflux.set_lane(lane, c.efflux_m3_per_s);
        self.rarefaction.set_lane(lane, c.rarefaction_per_pa);
    }

    #[inline(always)]
    fn throughput(&self, headspace: V, chamber: V) -> Quotient<V> {
        let one = V::splat(1.0);
        let high = headspace.larger(chamber);
        let low = headspace.smaller(chamber);
        // An empty headspace against an empty chamber: no flow, no 0/0.
        let ratio = low / high.larger(V::splat(1e-300));
        let drop = one - ratio;
        let x = self.rarefaction * (high - low);
        let rise = x * (V::splat(0.1276) + V::splat(0.0149) * x);
        let below = self.full_gain + rise;
        let mut nozzle = self.choked;
        let is_choked = ratio.at_most(self.critical_ratio);
        if !V::all(is_choked) {
            let ln_ratio = ratio.larger(V::splat(1e-30)).ln();
            let power = (ln_ratio * self.exponent).exp();
            let density = (ln_ratio * self.inverse_gamma).exp();
            let inside = (self.factor * density * density * (one - power)).larger(V::splat(0.0));
            nozzle = V::select(is_choked, nozzle, inside.sqrt());
        }
        let continuum = V::splat(ROOT_TWO_PI) * discharge_coefficient(ratio) * nozzle;
        // drop + rise/below (continuum - drop), with one denominator.
        let size = self.efflux * high * (drop * self.full_gain + rise * continuum);
        Quotient { above: V::select(chamber.at_most(headspace), size, -size), below }
    }

    fn strength(constants: &OrificeConstants) -> f64 {
        constants.efflux_m3_per_s
    }

    fn kinks(&self, lane: usize) -> [f64; 2] {
        [self.critical_ratio.lane(lane); 2]
    }
}

/// Any other path: computed one lane after the other.
#[derive(Debug, Clone)]
pub(super) struct AnyPathLanes {
    lanes: [Option<AnyPathConstants>; 8],
}

/// A prepared path and the factor from mol/s to Pa·m³/s at wall temperature.
#[derive(Debug, Clone)]
pub(super) struct AnyPathConstants {
    pub path: PreparedLeak,
    pub pa_m3_per_mol: f64,
}

impl<V: Lanes> LeakLanes<V> for AnyPathLanes {
    type Lane = AnyPathConstants;

    fn none() -> Self {
        Self { lanes: [const { None }; 8] }
    }

    fn load(&mut self, lane: usize, constants: Option<&AnyPathConstants>) {
        self.lanes[lane] = constants.cloned();
    }

    fn throughput(&self, headspace: V, chamber: V) -> Quotient<V> {
        let mut out = V::splat(0.0);
        for lane in 0..V::WIDTH {
            if let Some(c) = &self.lanes[lane] {
                let flow = c
                    .path
                    .flow_mol_per_s(headspace.lane(lane).max(0.0), chamber.lane(lane).max(0.0));
                out.set_lane(lane, flow * c.pa_m3_per_mol);
            }
        }
        Quotient { above: out, below: V::splat(1.0) }
    }

    fn strength(_constants: &AnyPathConstants) -> f64 {
        0.0
    }

    fn kinks(&self, _lane: usize) -> [f64; 2] {
        // Where a channel's exit turns sonic depends on its flow; the step
        // control meets that bend.
        [0.5; 2]
    }
}
