//! Leak sizes: between flow-equivalent diameter, flow and bore, always at the
//! one reference state of the ladder.

use physics::leak_paths::{
    FlowConditions, LeakPath, LeakPathError, channel_bore_for_flow, flow_equivalent_diameter,
    ideal_nozzle_flow, orifice_bore_for_flow, reference_conditions,
};
use physics::quantities::{Length, MolarFlow};

use crate::profile::{LeakStatement, Mall};

/// A leak at the reference state: air, 1 atm to vacuum, 20 °C.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LeakSize {
    /// Diameter of the ideal nozzle that passes the same flow.
    pub flow_equivalent_diameter: Length,
    /// The flow at the reference state.
    pub reference_flow: MolarFlow,
    /// Bore of the thin sharp-edged hole that passes the same flow.
    pub orifice_bore: Length,
}

impl LeakSize {
    /// From a flow-equivalent diameter.
    ///
    /// # Errors
    /// Where the diameter lies outside the range of the flow law.
    pub fn from_flow_equivalent(diameter: Length) -> Result<Self, LeakPathError> {
        let state = reference_conditions();
        let reference_flow = ideal_nozzle_flow(diameter, &state)?;
        let orifice_bore = orifice_bore_for_flow(reference_flow, &state)?;
        Ok(Self { flow_equivalent_diameter: diameter, reference_flow, orifice_bore })
    }

    /// From a flow of air at the reference state.
    ///
    /// # Errors
    /// Where the flow lies outside the range of the flow law.
    pub fn from_reference_flow(flow: MolarFlow) -> Result<Self, LeakPathError> {
        let state = reference_conditions();
        Self::from_flow_equivalent(flow_equivalent_diameter(flow, &state)?)
    }

    /// The thin hole that stands for this leak in a forecast.
    #[must_use]
    pub const fn as_orifice(&self) -> LeakPath {
        LeakPath::Orifice { bore_diameter: self.orifice_bore }
    }

    /// Bore of a straight channel through `wall` that passes the same flow.
    ///
    /// # Errors
    /// Where no such bore lies within the range of the flow law.
    pub fn channel_bore(&self, wall: Length) -> Result<Length, LeakPathError> {
        channel_bore_for_flow(self.reference_flow, wall, &reference_conditions())
    }

    /// Flow at the reference state, Pa·m³/s of gas at 20 °C.
    #[must_use]
    pub fn reference_throughput_pa_m3_per_s(&self) -> f64 {
        self.reference_flow.throughput_at(reference_conditions().temperature).pa_m3_per_s()
    }
}

/// Shortest time constant of an emptying headspace that is simulated, s. No
/// stage is shorter than a hundred times this, so a headspace that empties
/// faster is empty all the same, and the equations stay easy.
const SHORTEST_EMPTYING_S: f64 = 0.005;

/// Bore with which a leak is simulated on a headspace: its own, or the one
/// that empties the headspace with the shortest time constant simulated.
pub(crate) fn simulated_bore(
    headspace: &crate::profile::Headspace,
    temperature: physics::quantities::Temperature,
    bore: Length,
) -> Result<Length, LeakPathError> {
    let flow = LeakPath::Orifice { bore_diameter: bore }
        .flow(&headspace_conditions(headspace, temperature))?
        .molar_flow
        .throughput_at(temperature)
        .pa_m3_per_s();
    let time_s = headspace.volume.value.m3() * headspace.pressure.value.pa() / flow;
    // The flow of a wide hole grows with its area.
    let scale =
        if time_s < SHORTEST_EMPTYING_S { (time_s / SHORTEST_EMPTYING_S).sqrt() } else { 1.0 };
    Ok(Length::from_m(bore.m() * scale))
}

/// The limit that matters as a leak of air at the reference state.
///
/// A helium figure has no fixed conversion: the ratio runs from 0.93 to 2.85
/// with the regime. It stays on its own track and gives `None` here.
///
/// # Errors
/// Where the stated leak lies outside the range of the flow law.
pub fn mall_at_reference(mall: &Mall) -> Result<Option<LeakSize>, LeakPathError> {
    match mall.stated {
        LeakStatement::FlowEquivalentDiameter(diameter) => {
            LeakSize::from_flow_equivalent(diameter).map(Some)
        }
        LeakStatement::AirFlow(throughput) => {
            LeakSize::from_reference_flow(throughput.molar_flow()).map(Some)
        }
        LeakStatement::HeliumFlow(_) => Ok(None),
    }
}

/// Conditions under which the leak works at the start of a test on this
/// headspace: used for what the headspace gas alone can pass.
#[must_use]
pub(crate) fn headspace_conditions(
    headspace: &crate::profile::Headspace,
    temperature: physics::quantities::Temperature,
) -> FlowConditions {
    FlowConditions {
        gas: headspace.gas,
        upstream: headspace.pressure.value,
        downstream: physics::quantities::AbsolutePressure::from_pa(0.0),
        temperature,
    }
}
