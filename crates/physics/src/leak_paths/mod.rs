//! Leak paths: what flows through a hole, a channel or a slit, over all
//! regimes of rarefaction, and back from a flow to a size.
//!
//! Notation of the files below: `a` radius, `δ = a p / (μ v0)` rarefaction
//! (slit: the full height instead of `a`), `v0 = sqrt(2 R T / M)`, `r = p2/p1`,
//! `W` flow over `A p1 / sqrt(2 π M R T)`, the free-molecular efflux into
//! vacuum.

mod arrangement;
mod calibrated;
mod channel;
mod coefficient_table;
mod conditions;
mod errors;
mod flow_law;
mod notes;
mod orifice;
mod sizes;
mod slit;

pub use arrangement::{ArrangementFlow, LeakArrangement, PathFlow};
pub use calibrated::{CalibratedFlow, FlowStandardKind};
pub use channel::{channel_conductance_coefficient, channel_conductance_fit};
pub use conditions::{FlowConditions, reference_conditions};
pub use errors::LeakPathError;
pub use notes::LawNote;
pub use orifice::{
    critical_pressure_ratio, ideal_nozzle_flow, molecular_effusion_flow, sharp_edged_continuum_flow,
};
pub use sizes::{channel_bore_for_flow, flow_equivalent_diameter, orifice_bore_for_flow};
pub use slit::slit_conductance_coefficient;

pub(crate) use flow_law::PreparedLeak;
pub(crate) use orifice::{OrificeLaw, discharge_coefficient};

use crate::gas_mixture::GasMixture;
use crate::gases::{FlowingGas, GasProperties};
use crate::quantities::{AbsolutePressure, Length, MolarFlow, Temperature};

/// A way through the wall of a container.
#[derive(Debug, Clone, Copy, PartialEq)]
#[non_exhaustive]
pub enum LeakPath {
    /// A hole in a wall thin against its bore.
    Orifice {
        /// Diameter of the hole itself, not an equivalent one.
        bore_diameter: Length,
    },
    /// A round channel, short or long.
    Channel {
        /// Diameter of the channel itself.
        bore_diameter: Length,
        /// Length of the channel, which is the wall it crosses.
        wall: Length,
    },
    /// A flat gap, wide against its height: a seal channel.
    Slit {
        /// Height of the gap, its smallest dimension.
        height: Length,
        /// Width across the flow.
        width: Length,
        /// Length along the flow.
        depth: Length,
    },
    /// A gap between two round walls: stopper and glass, cap and thread.
    Annulus {
        /// Diameter at the middle of the gap.
        mean_diameter: Length,
        /// Mean height of the gap.
        gap: Length,
        /// Length along the flow.
        depth: Length,
        /// Offset of the walls over the gap: 0 concentric, 1 touching.
        eccentricity: f64,
    },
}

/// How the gas moves, judged at the upstream pressure.
///
/// The limits in the ratio of mean free path to bore (0.01 and 0.5) are common
/// practice; the flow laws themselves have no such steps.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum FlowRegime {
    /// Molecules meet the wall more often than each other.
    Molecular,
    /// Between the two.
    Transitional,
    /// The gas flows as a continuum.
    Viscous,
    /// Viscous, and the speed of sound is reached.
    Choked,
    /// No pressure difference, no flow.
    None,
}

impl FlowRegime {
    /// The word shown to the user.
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            Self::Molecular => "molecular",
            Self::Transitional => "transitional",
            Self::Viscous => "viscous",
            Self::Choked => "choked",
            Self::None => "none",
        }
    }
}

/// Answer of a leak path under given conditions.
#[derive(Debug, Clone, PartialEq)]
pub struct LeakFlow {
    /// Flow from upstream to downstream; negative where the pressure drives it
    /// the other way.
    pub molar_flow: MolarFlow,
    /// How the gas moves.
    pub regime: FlowRegime,
    /// Rarefaction δ at the higher of the two pressures.
    pub rarefaction: f64,
    /// Estimated error of the law itself, relative, against measurement on a
    /// path of exactly this shape. It says nothing of the shape.
    pub relative_law_uncertainty: f64,
    /// What the law would not claim.
    pub notes: Vec<LawNote>,
}

impl LeakPath {
    /// Flow of gas through this path by the one law for all regimes.
    ///
    /// Orifice: free-molecular efflux joined to the sharp-edged continuum
    /// orifice. Channel: entrance, kinetic channel integral and sonic exit in
    /// series. Slit: the same with the plane kinetic coefficient.
    ///
    /// Source: physics.md 1.8, tuned on hard-sphere particle simulation
    /// (independent program); see `relative_law_uncertainty` for its error.
    ///
    /// # Errors
    /// A size that is not positive, a pressure below zero, a temperature that is
    /// not positive, or a value that is not a number.
    ///
    /// ```
    /// use physics::leak_paths::{LeakPath, reference_conditions};
    /// use physics::quantities::Length;
    /// let path = LeakPath::Orifice { bore_diameter: Length::from_um(1.0) };
    /// let flow = path.flow(&reference_conditions()).unwrap();
    /// assert!((flow.molar_flow.mol_per_s() / 5.08e-9 - 1.0).abs() < 0.01);
    /// ```
    pub fn flow<G: FlowingGas>(
        &self,
        conditions: &FlowConditions<G>,
    ) -> Result<LeakFlow, LeakPathError> {
        self.check()?;
        conditions.check()?;
        Ok(self.flow_of(&conditions.properties(), conditions))
    }

    /// The answer for a gas of given properties; sizes and conditions checked.
    fn flow_of<G>(&self, gas: &GasProperties, conditions: &FlowConditions<G>) -> LeakFlow {
        let law = PreparedLeak::of(self, gas, conditions.temperature);
        let (upstream_pa, downstream_pa) = (conditions.upstream.pa(), conditions.downstream.pa());
        let high_pa = upstream_pa.max(downstream_pa);
        let flow = law.flow_mol_per_s(upstream_pa, downstream_pa);
        let rarefaction = law.rarefaction(high_pa);
        LeakFlow {
            molar_flow: MolarFlow::from_mol_per_s(flow),
            regime: law.regime(upstream_pa, downstream_pa),
            rarefaction,
            relative_law_uncertainty: notes::law_uncertainty(self, rarefaction),
            notes: notes::notes_for(self, conditions, rarefaction, law.reynolds(flow)),
        }
    }

    /// The size that names the path: bore diameter, or height of a slit.
    #[must_use]
    pub const fn smallest_dimension(&self) -> Length {
        match *self {
            Self::Orifice { bore_diameter } | Self::Channel { bore_diameter, .. } => bore_diameter,
            Self::Slit { height, .. } => height,
            Self::Annulus { gap, .. } => gap,
        }
    }

    /// Refuses sizes without meaning.
    pub(crate) fn check(&self) -> Result<(), LeakPathError> {
        let sizes: &[(&'static str, Length)] = match *self {
            Self::Orifice { bore_diameter } => &[("bore diameter", bore_diameter)],
            Self::Channel { bore_diameter, wall } => {
                &[("bore diameter", bore_diameter), ("wall", wall)]
            }
            Self::Slit { height, width, depth } => {
                &[("height", height), ("width", width), ("depth", depth)]
            }
            Self::Annulus { mean_diameter, gap, depth, .. } => {
                &[("mean diameter", mean_diameter), ("gap", gap), ("depth", depth)]
            }
        };
        for &(what, size) in sizes {
            errors::check_positive(what, size.m(), "m")?;
        }
        if let Self::Slit { height, width, .. } = *self
            && width.m() < height.m()
        {
            return Err(LeakPathError::SlitHigherThanWide {
                height_m: height.m(),
                width_m: width.m(),
            });
        }
        if let Self::Annulus { eccentricity, .. } = *self
            && !(0.0..=1.0).contains(&eccentricity)
        {
            return Err(LeakPathError::Eccentricity { value: eccentricity });
        }
        if let Self::Annulus { mean_diameter, gap, .. } = *self
            && mean_diameter.m() < 2.0 * gap.m()
        {
            return Err(LeakPathError::SlitHigherThanWide {
                height_m: gap.m(),
                width_m: mean_diameter.m(),
            });
        }
        Ok(())
    }

    /// As [`Self::flow`], for a mixture of gases taken as one gas of averaged
    /// properties; see [`GasMixture::properties`] for the rules.
    ///
    /// # Errors
    /// As [`Self::flow`].
    pub fn mixture_flow(
        &self,
        mixture: &GasMixture,
        upstream: AbsolutePressure,
        downstream: AbsolutePressure,
        temperature: Temperature,
    ) -> Result<LeakFlow, LeakPathError> {
        let gas = mixture.properties(temperature);
        self.flow(&FlowConditions { gas, upstream, downstream, temperature })
    }
}
