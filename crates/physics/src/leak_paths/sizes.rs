//! From a flow back to a size.

use digits::scalar::{exp, ln};

use super::errors::check_positive;
use super::{FlowConditions, LeakPath, LeakPathError, PreparedLeak, ideal_nozzle_flow};
use crate::gases::FlowingGas;
use crate::quantities::{Length, MolarFlow};
use crate::roots::bracketed_root;

/// Bores that are searched: a molecule to a decimetre.
const SMALLEST_BORE_M: f64 = 1e-10;
const LARGEST_BORE_M: f64 = 0.1;

/// Diameter of the ideal nozzle that carries a flow under given conditions.
///
/// `D = sqrt(4 N / (π n))` with `n` the nozzle flow per area. This is the
/// flow-equivalent diameter of the ladder; it is not the size of a real hole.
/// Zero flow has zero diameter. Inverse of [`ideal_nozzle_flow`].
///
/// # Errors
/// A negative flow, or conditions that drive no flow forward.
///
/// ```
/// use physics::leak_paths::{flow_equivalent_diameter, ideal_nozzle_flow, reference_conditions};
/// use physics::quantities::Length;
/// let conditions = reference_conditions();
/// let flow = ideal_nozzle_flow(Length::from_um(5.0), &conditions).unwrap();
/// let diameter = flow_equivalent_diameter(flow, &conditions).unwrap();
/// assert!((diameter.um() - 5.0).abs() < 1e-12);
/// ```
pub fn flow_equivalent_diameter<G: FlowingGas>(
    flow: MolarFlow,
    conditions: &FlowConditions<G>,
) -> Result<Length, LeakPathError> {
    conditions.check_forward()?;
    if !flow.is_finite() {
        return Err(LeakPathError::NotFinite { what: "flow" });
    }
    if flow.mol_per_s() < 0.0 {
        return Err(LeakPathError::NotPositive {
            what: "flow",
            value: flow.mol_per_s(),
            unit: "mol/s",
        });
    }
    let of_one_metre = ideal_nozzle_flow(Length::from_m(1.0), conditions)?;
    Ok(Length::from_m((flow.mol_per_s() / of_one_metre.mol_per_s()).sqrt()))
}

/// Bore of the thin orifice that carries a flow, by the law for all regimes.
///
/// # Errors
/// A flow that is not positive, conditions that drive no flow forward, or a flow
/// that no bore from 0.1 nm to 10 cm carries.
pub fn orifice_bore_for_flow<G: FlowingGas>(
    flow: MolarFlow,
    conditions: &FlowConditions<G>,
) -> Result<Length, LeakPathError> {
    bore_for(flow, conditions, |bore_diameter| LeakPath::Orifice { bore_diameter })
}

/// Bore of the round channel through a wall that carries a flow, by the law for
/// all regimes.
///
/// # Errors
/// As [`orifice_bore_for_flow`], or a wall that is not positive.
pub fn channel_bore_for_flow<G: FlowingGas>(
    flow: MolarFlow,
    wall: Length,
    conditions: &FlowConditions<G>,
) -> Result<Length, LeakPathError> {
    check_positive("wall", wall.m(), "m")?;
    bore_for(flow, conditions, |bore_diameter| LeakPath::Channel { bore_diameter, wall })
}

fn bore_for<G: FlowingGas>(
    flow: MolarFlow,
    conditions: &FlowConditions<G>,
    path: impl Fn(Length) -> LeakPath,
) -> Result<Length, LeakPathError> {
    conditions.check_forward()?;
    check_positive("flow", flow.mol_per_s(), "mol/s")?;
    let (upstream, downstream) = (conditions.upstream.pa(), conditions.downstream.pa());
    let gas = conditions.properties();
    // In logarithms a power law is a straight line: few steps.
    let ln_flow = ln(flow.mol_per_s());
    let excess = |ln_bore: f64| {
        let path = path(Length::from_m(exp(ln_bore)));
        let law = PreparedLeak::of(&path, &gas, conditions.temperature);
        ln(law.flow_mol_per_s(upstream, downstream)) - ln_flow
    };
    bracketed_root(excess, ln(SMALLEST_BORE_M), ln(LARGEST_BORE_M))
        .map(|ln_bore| Length::from_m(exp(ln_bore)))
        .ok_or(LeakPathError::FlowUnreachable {
            flow_mol_per_s: flow.mol_per_s(),
            smallest_m: SMALLEST_BORE_M,
            largest_m: LARGEST_BORE_M,
        })
}
