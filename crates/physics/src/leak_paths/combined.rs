//! Paths side by side and one after the other.

use super::{FlowConditions, LeakPath, LeakPathError, PreparedLeak};
use crate::quantities::{AbsolutePressure, MolarFlow};
use crate::roots::bracketed_root;

/// Flow through paths side by side: the sum.
///
/// # Errors
/// As [`LeakPath::flow`], for the first path that is refused.
pub fn parallel_flow(
    paths: &[LeakPath],
    conditions: &FlowConditions,
) -> Result<MolarFlow, LeakPathError> {
    let mut flows = Vec::with_capacity(paths.len());
    for path in paths {
        flows.push(path.flow(conditions)?.molar_flow.mol_per_s());
    }
    Ok(MolarFlow::from_mol_per_s(digits::sums::sum(flows)))
}

/// Flow through paths one after the other.
#[derive(Debug, Clone, PartialEq)]
pub struct SeriesFlow {
    /// The flow, the same in each.
    pub molar_flow: MolarFlow,
    /// Pressure behind each path, the last being the downstream pressure.
    pub pressures: Vec<AbsolutePressure>,
}

/// Flow through paths in series with a calm space between each two, where the
/// gas comes to rest.
///
/// # Errors
/// As [`LeakPath::flow`], or no path at all.
pub fn series_flow(
    paths: &[LeakPath],
    conditions: &FlowConditions,
) -> Result<SeriesFlow, LeakPathError> {
    conditions.check()?;
    for path in paths {
        path.check()?;
    }
    if paths.is_empty() {
        return Err(LeakPathError::NotPositive {
            what: "number of paths in series",
            value: 0.0,
            unit: "1",
        });
    }
    let (upstream, downstream) = (conditions.upstream.pa(), conditions.downstream.pa());
    let forward = upstream >= downstream;
    let (high, low) = if forward { (upstream, downstream) } else { (downstream, upstream) };
    let mut laws: Vec<PreparedLeak> = paths
        .iter()
        .map(|path| PreparedLeak::new(path, conditions.gas, conditions.temperature))
        .collect();
    if !forward {
        laws.reverse();
    }
    let (flow, mut pressures) = chain(&laws, high, low);
    if !forward {
        // Behind each path in the user's order lies the pressure before it in
        // the order of the flow.
        pressures.pop();
        pressures.reverse();
        pressures.push(downstream);
    }
    Ok(SeriesFlow {
        molar_flow: MolarFlow::from_mol_per_s(if forward { flow } else { -flow }),
        pressures: pressures.into_iter().map(AbsolutePressure::from_pa).collect(),
    })
}

/// Flow through prepared paths from a high to a low pressure, and the pressure
/// behind each.
fn chain(laws: &[PreparedLeak], high: f64, low: f64) -> (f64, Vec<f64>) {
    let Some((first, rest)) = laws.split_first() else { return (0.0, Vec::new()) };
    if rest.is_empty() || high <= low {
        return (first.flow_mol_per_s(high, low), vec![low; laws.len()]);
    }
    // Unknown: the pressure behind the first path. What enters falls with it,
    // what the others carry rises.
    let middle = bracketed_root(
        |middle| first.flow_mol_per_s(high, middle) - chain(rest, middle, low).0,
        low,
        high,
    )
    .unwrap_or(low);
    let (_, behind) = chain(rest, middle, low);
    let mut pressures = vec![middle];
    pressures.extend(behind);
    (first.flow_mol_per_s(high, middle), pressures)
}

#[cfg(test)]
mod tests {
    use super::super::reference_conditions;
    use super::*;
    use crate::quantities::Length;

    #[test]
    fn two_alike_in_parallel_carry_twice_and_in_series_less_than_one() {
        let path =
            LeakPath::Channel { bore_diameter: Length::from_um(1.0), wall: Length::from_mm(1.0) };
        let conditions = reference_conditions();
        let one = path.flow(&conditions).expect("flow").molar_flow.mol_per_s();
        let two = parallel_flow(&[path, path], &conditions).expect("flow").mol_per_s();
        assert!((two / one - 2.0).abs() < 1e-12);
        let series = series_flow(&[path, path], &conditions).expect("flow");
        let whole =
            LeakPath::Channel { bore_diameter: Length::from_um(1.0), wall: Length::from_mm(2.0) };
        let long = whole.flow(&conditions).expect("flow").molar_flow.mol_per_s();
        // Long channels in series act as one of their joint length.
        assert!((series.molar_flow.mol_per_s() / long - 1.0).abs() < 0.01);
        let back = FlowConditions {
            upstream: conditions.downstream,
            downstream: conditions.upstream,
            ..conditions
        };
        let reversed = series_flow(&[path, path], &back).expect("flow");
        let ratio = reversed.molar_flow.mol_per_s() / series.molar_flow.mol_per_s();
        assert!((ratio + 1.0).abs() < 1e-12);
    }
}
