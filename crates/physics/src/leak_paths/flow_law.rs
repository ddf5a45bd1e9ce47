//! The one law for all regimes, prepared for repeated use at one temperature.

use super::channel::ChannelLaw;
use super::coefficient_table::{HIGHEST, Tabulated};
use super::orifice::{OrificeLaw, efflux_per_pressure};
use super::slit::SlitLaw;
use super::{FlowRegime, LeakPath};
use crate::cycle::OrificeConstants;
use crate::gases::{Gas, GasProperties};
use crate::quantities::{MOLAR_GAS_CONSTANT_J_PER_MOL_K as R, Temperature};
use crate::roots::bracketed_root;
use digits::scalar::cos;

/// A leak path with its gas and temperature: constants computed once.
#[derive(Debug, Clone)]
pub(crate) struct PreparedLeak {
    /// Free-molecular efflux of the whole opening, mol/s per Pa.
    efflux_mol_per_s_pa: f64,
    /// Rarefaction per pressure, 1/Pa.
    rarefaction_per_pa: f64,
    /// Mean free path over bore, times pressure, Pa.
    knudsen_pa: f64,
    /// Reynolds number per flow, s/mol: hydraulic diameter over viscosity and
    /// area.
    reynolds_s_per_mol: f64,
    orifice: OrificeLaw,
    duct: Duct,
}

/// What lies behind the entrance.
#[derive(Debug, Clone)]
enum Duct {
    None,
    Round(Segment<ChannelLaw>),
    Flat(Segment<SlitLaw>),
    Sectors(Box<[Sector<SlitLaw>; SECTORS]>),
    TabulatedSectors(Box<[Sector<Tabulated<SlitLaw>>; SECTORS]>),
    TabulatedRound(Segment<Tabulated<ChannelLaw>>),
    TabulatedFlat(Segment<Tabulated<SlitLaw>>),
}

/// A duct in series with its entrance.
#[derive(Debug, Clone, Copy)]
struct Segment<L> {
    law: L,
    /// Flow per mean coefficient and pressure difference, mol/(s Pa).
    scale: f64,
    /// Lowest pressure at a sonic exit, per flow, Pa s/mol.
    exit: f64,
}

impl<L> Segment<L> {
    /// The same with another form of its law.
    fn with<M>(self, form: impl Fn(L) -> M) -> Segment<M> {
        Segment { law: form(self.law), scale: self.scale, exit: self.exit }
    }
}

/// A part of a gap around a circle, a slit of its own height.
#[derive(Debug, Clone, Copy)]
struct Sector<L> {
    efflux_mol_per_s_pa: f64,
    rarefaction_per_pa: f64,
    flat: Segment<L>,
}

/// Sectors of the half circle.
const SECTORS: usize = 8;

/// Mean conductance coefficient between two rarefactions.
pub(super) trait Coefficient {
    fn mean(&self, high: f64, low: f64) -> f64;
}

impl Coefficient for ChannelLaw {
    fn mean(&self, high: f64, low: f64) -> f64 {
        self.mean_coefficient(high, low)
    }
}

impl Coefficient for SlitLaw {
    fn mean(&self, high: f64, low: f64) -> f64 {
        self.mean_coefficient(high, low)
    }
}

impl PreparedLeak {
    pub fn new(path: &LeakPath, gas: Gas, temperature: Temperature) -> Self {
        Self::of(path, &gas.properties(temperature), temperature)
    }

    /// For a gas of given properties.
    pub fn of(path: &LeakPath, gas: &GasProperties, temperature: Temperature) -> Self {
        let t = temperature.k();
        let mass = gas.molar_mass_kg_per_mol;
        let gamma = gas.heat_capacity_ratio;
        let v0 = (2.0 * R * t / mass).sqrt();
        let viscosity = gas.viscosity_pa_s;
        let (area, length, bore) = match *path {
            LeakPath::Orifice { bore_diameter } | LeakPath::Channel { bore_diameter, .. } => {
                (bore_diameter.circle_area().m2(), bore_diameter.m() / 2.0, bore_diameter.m())
            }
            LeakPath::Slit { height, width, .. } => {
                (height.m() * width.m(), height.m(), height.m())
            }
            LeakPath::Annulus { mean_diameter, gap, .. } => {
                (core::f64::consts::PI * mean_diameter.m() * gap.m(), gap.m(), gap.m())
            }
        };
        let efflux = area * efflux_per_pressure(mass, t);
        // Sonic exit: p_exit >= N sqrt(M R T) / (A sqrt(γ)).
        let exit = (mass * R * t / gamma).sqrt() / area;
        let duct = match *path {
            LeakPath::Orifice { .. } => Duct::None,
            LeakPath::Channel { wall, .. } => {
                let law = ChannelLaw::new(wall.m() / length);
                let scale = core::f64::consts::PI * length * length
                    / (mass * v0 * law.effective_length_over_radius);
                Duct::Round(Segment { law, scale, exit })
            }
            LeakPath::Slit { height, width, depth } => {
                let law = SlitLaw::new(depth.m() / height.m());
                let scale = height.m() * (height.m() / depth.m()) * width.m() / (mass * v0);
                Duct::Flat(Segment { law, scale, exit })
            }
            LeakPath::Annulus { mean_diameter, gap, depth, eccentricity } => {
                // Thin gap, unrolled: its height varies as h (1 + e cos φ). Eight
                // sectors of the half circle; the middle rule is exact for the
                // powers of the cosine that matter.
                let width = core::f64::consts::PI * mean_diameter.m() / SECTORS as f64;
                Duct::Sectors(Box::new(core::array::from_fn(|k| {
                    let angle = core::f64::consts::PI * (k as f64 + 0.5) / SECTORS as f64;
                    let height = gap.m() * (1.0 + eccentricity * cos(angle));
                    let area = height * width;
                    Sector {
                        efflux_mol_per_s_pa: area * efflux_per_pressure(mass, t),
                        rarefaction_per_pa: height / (viscosity * v0),
                        flat: Segment {
                            law: SlitLaw::new(depth.m() / height),
                            scale: height * (height / depth.m()) * width / (mass * v0),
                            exit: (mass * R * t / gamma).sqrt() / area,
                        },
                    }
                })))
            }
        };
        Self {
            efflux_mol_per_s_pa: efflux,
            rarefaction_per_pa: length / (viscosity * v0),
            knudsen_pa: viscosity * (core::f64::consts::PI * R * t / (2.0 * mass)).sqrt() / bore,
            reynolds_s_per_mol: match *path {
                LeakPath::Orifice { .. } | LeakPath::Channel { .. } => bore,
                LeakPath::Slit { .. } | LeakPath::Annulus { .. } => 2.0 * bore,
            } * mass
                / (viscosity * area),
            orifice: OrificeLaw::new(gamma),
            duct,
        }
    }

    /// For many calls at pressures up to `highest_pa`: the mean conductance
    /// coefficient comes from tables.
    pub fn tabulated(mut self, highest_pa: f64) -> Self {
        if self.rarefaction(highest_pa) > HIGHEST {
            return self;
        }
        self.duct = match self.duct {
            Duct::Round(segment) => Duct::TabulatedRound(segment.with(Tabulated::channel)),
            Duct::Flat(segment) => Duct::TabulatedFlat(segment.with(Tabulated::slit)),
            Duct::Sectors(sectors) => {
                Duct::TabulatedSectors(Box::new(sectors.map(|sector| Sector {
                    efflux_mol_per_s_pa: sector.efflux_mol_per_s_pa,
                    rarefaction_per_pa: sector.rarefaction_per_pa,
                    flat: sector.flat.with(Tabulated::slit),
                })))
            }
            other => other,
        };
        self
    }

    /// Constants for lanes where the path is a thin orifice.
    pub fn as_orifice(&self, pa_m3_per_mol: f64) -> Option<OrificeConstants> {
        matches!(self.duct, Duct::None).then(|| OrificeConstants {
            law: self.orifice,
            efflux_m3_per_s: self.efflux_mol_per_s_pa * pa_m3_per_mol,
            rarefaction_per_pa: self.rarefaction_per_pa,
        })
    }

    /// Rarefaction δ at a pressure.
    pub fn rarefaction(&self, pressure_pa: f64) -> f64 {
        self.rarefaction_per_pa * pressure_pa
    }

    /// Reynolds number of a flow, on the hydraulic diameter.
    pub fn reynolds(&self, flow_mol_per_s: f64) -> f64 {
        self.reynolds_s_per_mol * flow_mol_per_s.abs()
    }

    /// Flow from `upstream` to `downstream`, negative where it runs back.
    pub fn flow_mol_per_s(&self, upstream_pa: f64, downstream_pa: f64) -> f64 {
        if upstream_pa >= downstream_pa {
            self.forward(upstream_pa, downstream_pa).0
        } else {
            -self.forward(downstream_pa, upstream_pa).0
        }
    }

    /// How the gas moves.
    pub fn regime(&self, upstream_pa: f64, downstream_pa: f64) -> FlowRegime {
        if upstream_pa == downstream_pa {
            return FlowRegime::None;
        }
        let (high, low) = (upstream_pa.max(downstream_pa), upstream_pa.min(downstream_pa));
        let knudsen = self.knudsen_pa / high;
        if knudsen > 0.5 {
            FlowRegime::Molecular
        } else if knudsen > 0.01 {
            FlowRegime::Transitional
        } else if self.forward(high, low).1 {
            FlowRegime::Choked
        } else {
            FlowRegime::Viscous
        }
    }

    /// Flow from the high to the low pressure, and whether it is sonic.
    fn forward(&self, high_pa: f64, low_pa: f64) -> (f64, bool) {
        if high_pa <= low_pa {
            return (0.0, false);
        }
        let rarefaction = self.rarefaction(high_pa);
        let efflux = self.efflux_mol_per_s_pa * high_pa;
        match &self.duct {
            Duct::None => {
                let drop = (high_pa - low_pa) / high_pa;
                let flow = efflux * self.orifice.relative_flow(rarefaction, drop);
                (flow, self.sonic_entrance(drop))
            }
            Duct::Round(segment) => self.through(segment, efflux, rarefaction, high_pa, low_pa),
            Duct::Flat(segment) => self.through(segment, efflux, rarefaction, high_pa, low_pa),
            Duct::TabulatedRound(one) => self.through(one, efflux, rarefaction, high_pa, low_pa),
            Duct::TabulatedFlat(one) => self.through(one, efflux, rarefaction, high_pa, low_pa),
            Duct::Sectors(sectors) => self.through_sectors(&sectors[..], high_pa, low_pa),
            Duct::TabulatedSectors(sectors) => self.through_sectors(&sectors[..], high_pa, low_pa),
        }
    }

    fn through_sectors<L: Coefficient>(
        &self,
        sectors: &[Sector<L>],
        high_pa: f64,
        low_pa: f64,
    ) -> (f64, bool) {
        sectors.iter().fold((0.0, false), |(sum, sonic), sector| {
            let (flow, one) = self.through(
                &sector.flat,
                sector.efflux_mol_per_s_pa * high_pa,
                sector.rarefaction_per_pa * high_pa,
                high_pa,
                low_pa,
            );
            (sum + flow, sonic || one)
        })
    }

    fn sonic_entrance(&self, drop: f64) -> bool {
        1.0 - drop <= self.orifice.critical_ratio
    }

    /// Entrance, duct and exit in series.
    fn through<L: Coefficient>(
        &self,
        segment: &Segment<L>,
        efflux: f64,
        rarefaction: f64,
        high_pa: f64,
        low_pa: f64,
    ) -> (f64, bool) {
        let whole_drop = (high_pa - low_pa) / high_pa;
        let entering = |drop: f64| efflux * self.orifice.relative_flow(rarefaction, drop);
        // Full strength of the sonic limit only where the gas is a continuum.
        let sonic_share = self.orifice.continuum_share(0.5 * rarefaction);
        let behind = |drop: f64| {
            let flow = entering(drop);
            let outlet_pa = low_pa.max(sonic_share * flow * segment.exit);
            (flow, high_pa - drop * high_pa, outlet_pa)
        };
        let per_pa = rarefaction / high_pa;
        // Unknown: the drop at the entrance. What the duct carries less what
        // the entrance lets in falls from positive to negative over it.
        let carried = |drop: f64| {
            let (flow, inlet_pa, outlet_pa) = behind(drop);
            // The duct's own drop: where the whole drop is small its digits
            // must not be lost in the difference of two pressures.
            let across_pa = if outlet_pa > low_pa {
                inlet_pa - outlet_pa
            } else {
                (whole_drop - drop) * high_pa
            };
            if across_pa <= 0.0 {
                return (-segment.scale * across_pa.abs(), flow);
            }
            let mean = segment.law.mean(per_pa * inlet_pa, per_pa * outlet_pa);
            (segment.scale * mean * across_pa, flow)
        };
        // First guess: the drop at which a straight entrance would let in what
        // the duct carries without one, the two as resistances in series.
        let at_none =
            segment.scale * segment.law.mean(rarefaction, per_pa * low_pa) * (high_pa - low_pa);
        let first = whole_drop * (at_none / (at_none + entering(whole_drop)));
        let root = quick_root(carried, first, whole_drop).or_else(|| {
            let balance = |drop| {
                let (through, entering) = carried(drop);
                through - entering
            };
            bracketed_root(balance, 0.0, whole_drop)
        });
        match root {
            Some(drop) => {
                let (flow, _, outlet_pa) = behind(drop);
                (flow, outlet_pa > low_pa || self.sonic_entrance(drop))
            }
            // Both elements are finite and monotone, so a root exists; should
            // rounding hide it, the entrance alone bounds the flow.
            None => (entering(whole_drop), self.sonic_entrance(whole_drop)),
        }
    }
}

/// Where what a duct carries equals what its entrance lets in, by secants over
/// the root of the drop, in which the entrance of either regime is smooth.
/// `None` where a secant leaves the bracket or does not close in.
fn quick_root(carried: impl Fn(f64) -> (f64, f64), first: f64, whole_drop: f64) -> Option<f64> {
    /// Most secants; four are usual.
    const MOST: usize = 12;
    /// Last step, relative: the error left is far below its product with the
    /// one before.
    const CLOSE: f64 = 1.0e-7;
    // The excess of the duct, and what enters.
    let excess = |root: f64| {
        let (through, entering) = carried(root * root);
        (through - entering, entering)
    };
    let top = whole_drop.sqrt();
    let mut x0 = first.sqrt();
    let (mut f0, entering) = excess(x0);
    // The entrance's power over the drop lies between a half and one and a half.
    // A trial step of the solver may ask with pressures that are not numbers: it
    // gets none back and is refused, so nothing here may panic (`clamp` would).
    let mut x1 = (x0 * (1.0 + 0.7 * f0 / entering)).max(0.5 * x0).min(0.5 * (x0 + top));
    for _ in 0..MOST {
        let (f1, _) = excess(x1);
        if f1 == 0.0 {
            return Some(x1 * x1);
        }
        let step = f1 * (x1 - x0) / (f0 - f1);
        let next = x1 + step;
        // Written so that a step that is not a number leaves too.
        let inside = next > 0.0 && next < top;
        if !inside {
            return None;
        }
        if step.abs() < CLOSE * next {
            return Some(next * next);
        }
        (x0, f0, x1) = (x1, f1, next);
    }
    None
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::quantities::Length;

    #[test]
    fn a_channel_without_wall_is_an_orifice() {
        let bore_diameter = Length::from_um(5.0);
        let room = Temperature::from_celsius(20.0);
        let orifice = PreparedLeak::new(&LeakPath::Orifice { bore_diameter }, Gas::Air, room);
        let channel = PreparedLeak::new(
            &LeakPath::Channel { bore_diameter, wall: Length::from_m(1e-15) },
            Gas::Air,
            room,
        );
        let ratio = channel.flow_mol_per_s(101_325.0, 60_000.0)
            / orifice.flow_mol_per_s(101_325.0, 60_000.0);
        assert!((ratio - 1.0).abs() < 1e-6, "{ratio}");
    }
}
