//! What a flow law would not claim.

use super::{FlowConditions, LeakPath};

/// A limit of the law that the given case touches.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[non_exhaustive]
pub enum LawNote {
    /// Diffuse reflection at the wall was assumed.
    DiffuseWallAssumed,
    /// Short channel beyond the range compared with simulation.
    ShortChannelUntested,
    /// A slit of finite depth has no simulation behind it.
    SlitOfFiniteDepthUntested,
    /// The entrance of the transition regime rests on simulation of a
    /// monatomic gas.
    TransitionFromMonatomicSimulation,
    /// Viscosity outside the checked temperatures.
    TemperatureOutsideCheckedRange,
    /// Pressure at which the gas is no longer ideal to a percent.
    PressureOutsideIdealGas,
    /// The flow in a channel or gap is no longer laminar.
    LaminarFlowAssumed,
    /// A slit more rarefied than its kinetic table.
    SlitMoreRarefiedThanTable,
    /// An opening of few molecules.
    OpeningOfFewMolecules,
}

impl LawNote {
    /// Stable code.
    #[must_use]
    pub const fn code(self) -> &'static str {
        match self {
            Self::DiffuseWallAssumed => "diffuse_wall_assumed",
            Self::ShortChannelUntested => "short_channel_untested",
            Self::SlitOfFiniteDepthUntested => "slit_of_finite_depth_untested",
            Self::TransitionFromMonatomicSimulation => "transition_from_monatomic_simulation",
            Self::TemperatureOutsideCheckedRange => "temperature_outside_checked_range",
            Self::PressureOutsideIdealGas => "pressure_outside_ideal_gas",
            Self::LaminarFlowAssumed => "laminar_flow_assumed",
            Self::SlitMoreRarefiedThanTable => "slit_more_rarefied_than_table",
            Self::OpeningOfFewMolecules => "opening_of_few_molecules",
        }
    }

    /// The sentence for the user.
    #[must_use]
    pub const fn text(self) -> &'static str {
        match self {
            Self::DiffuseWallAssumed => {
                "The wall is taken to scatter every molecule diffusely; with an accommodation of \
                 0.9 a long rarefied channel carries about 21 % more."
            }
            Self::ShortChannelUntested => {
                "For channels shorter than ten bores the law was compared with simulation up to a \
                 rarefaction of 10 only; beyond, 10 % is assumed."
            }
            Self::SlitOfFiniteDepthUntested => {
                "For a slit of finite depth the entrance is modelled by analogy with the round \
                 channel; no simulation was compared."
            }
            Self::TransitionFromMonatomicSimulation => {
                "Between molecular and viscous flow the law rests on a simulation of a monatomic \
                 gas; 5 % is assumed."
            }
            Self::TemperatureOutsideCheckedRange => {
                "The viscosity was checked from 0 to 40 °C; here it is extrapolated."
            }
            Self::PressureOutsideIdealGas => {
                "Above 5 bar the gas departs from the ideal gas by more than the law allows for."
            }
            Self::LaminarFlowAssumed => {
                "Above a Reynolds number of 2000 the flow in a channel turns turbulent; the laminar \
                 law is kept and is then an upper bound."
            }
            Self::SlitMoreRarefiedThanTable => {
                "Below a rarefaction of 0.001 the kinetic table of the slit ends; its logarithm is \
                 continued, which holds until the depth limits the flow."
            }
            Self::OpeningOfFewMolecules => {
                "Below 5 nm an opening is a few molecules wide and molecules stick to its wall; the \
                 molecular law is kept as an order of magnitude."
            }
        }
    }

    /// What the user can do about it.
    #[must_use]
    pub const fn next_step(self) -> &'static str {
        match self {
            Self::DiffuseWallAssumed => "Compare with a calibrated channel of the same material.",
            Self::ShortChannelUntested | Self::SlitOfFiniteDepthUntested => {
                "Measure the flow of the positive control itself."
            }
            Self::TransitionFromMonatomicSimulation => {
                "Use the certificate's flow where one exists."
            }
            Self::TemperatureOutsideCheckedRange => {
                "State the flow at a temperature from 0 to 40 °C."
            }
            Self::PressureOutsideIdealGas => "Use a pressure below 5 bar.",
            Self::LaminarFlowAssumed => "Measure the flow, or lower the pressure difference.",
            Self::SlitMoreRarefiedThanTable => "Use a higher pressure, or measure the flow.",
            Self::OpeningOfFewMolecules => {
                "Treat it as permeation: measure the flow of the material."
            }
        }
    }
}

/// Estimated error of the law itself, relative (physics.md 1.8).
pub(super) fn law_uncertainty(path: &LeakPath, rarefaction: f64) -> f64 {
    match *path {
        // Outside the transition both limits are theory and a coefficient of
        // discharge known to a few percent.
        LeakPath::Orifice { .. } => {
            if rarefaction < 0.05 {
                0.01
            } else {
                0.05
            }
        }
        LeakPath::Channel { bore_diameter, wall } => {
            let length_over_radius = 2.0 * wall.m() / bore_diameter.m();
            if length_over_radius >= 100.0 {
                0.02
            } else if length_over_radius > 20.0 || rarefaction <= 10.0 {
                0.05
            } else {
                0.10
            }
        }
        LeakPath::Slit { height, depth, .. } | LeakPath::Annulus { gap: height, depth, .. } => {
            if depth.m() >= 100.0 * height.m() {
                0.03
            } else {
                0.15
            }
        }
    }
}

/// Reynolds number up to which a duct is laminar (common practice).
const LAMINAR_UP_TO: f64 = 2000.0;
/// Size below which an opening is a few molecules wide, m; molecules of air are
/// about 0.37 nm across (from memory).
const FEW_MOLECULES_M: f64 = 5.0e-9;

/// The notes that a case deserves.
pub(super) fn notes_for<G>(
    path: &LeakPath,
    conditions: &FlowConditions<G>,
    rarefaction: f64,
    reynolds: f64,
) -> Vec<LawNote> {
    let mut notes = Vec::new();
    match *path {
        LeakPath::Orifice { .. } => {
            if (0.05..=100.0).contains(&rarefaction) {
                notes.push(LawNote::TransitionFromMonatomicSimulation);
            }
        }
        LeakPath::Channel { bore_diameter, wall } => {
            if rarefaction < 20.0 {
                notes.push(LawNote::DiffuseWallAssumed);
            }
            if wall.m() < 10.0 * bore_diameter.m() && rarefaction > 10.0 {
                notes.push(LawNote::ShortChannelUntested);
            }
        }
        LeakPath::Slit { height, depth, .. } | LeakPath::Annulus { gap: height, depth, .. } => {
            if rarefaction < 20.0 {
                notes.push(LawNote::DiffuseWallAssumed);
            }
            if depth.m() < 100.0 * height.m() {
                notes.push(LawNote::SlitOfFiniteDepthUntested);
            }
        }
    }
    let flat = matches!(path, LeakPath::Slit { .. } | LeakPath::Annulus { .. });
    if flat && rarefaction > 0.0 && rarefaction < 1e-3 {
        notes.push(LawNote::SlitMoreRarefiedThanTable);
    }
    if !matches!(path, LeakPath::Orifice { .. }) && reynolds > LAMINAR_UP_TO {
        notes.push(LawNote::LaminarFlowAssumed);
    }
    if path.smallest_dimension().m() < FEW_MOLECULES_M {
        notes.push(LawNote::OpeningOfFewMolecules);
    }
    let celsius = conditions.temperature.celsius();
    if !(0.0..=40.0).contains(&celsius) {
        notes.push(LawNote::TemperatureOutsideCheckedRange);
    }
    if conditions.upstream.pa().max(conditions.downstream.pa()) > 5.0e5 {
        notes.push(LawNote::PressureOutsideIdealGas);
    }
    notes
}
