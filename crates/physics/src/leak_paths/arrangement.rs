//! Paths side by side and one after the other.

use super::{FlowConditions, LeakFlow, LeakPath, LeakPathError, PreparedLeak};
use crate::gases::FlowingGas;
use crate::quantities::{AbsolutePressure, MolarFlow};
use crate::roots::bracketed_root;

/// Most paths one after the other: every further one multiplies the work.
const LONGEST_CHAIN: usize = 4;

/// Paths between two spaces: branches side by side, each a chain of paths one
/// after the other with a calm space between each two, where the gas comes to
/// rest.
///
/// ```
/// use physics::leak_paths::{LeakArrangement, LeakPath, reference_conditions};
/// use physics::quantities::Length;
/// let hole = LeakPath::Orifice { bore_diameter: Length::from_um(5.0) };
/// let two = LeakArrangement::new(vec![vec![hole], vec![hole]]).unwrap();
/// let one = hole.flow(&reference_conditions()).unwrap().molar_flow.mol_per_s();
/// let both = two.flow(&reference_conditions()).unwrap().molar_flow.mol_per_s();
/// assert!((both / one - 2.0).abs() < 1e-12);
/// ```
#[derive(Debug, Clone, PartialEq)]
pub struct LeakArrangement {
    branches: Vec<Vec<LeakPath>>,
}

/// What one path of an arrangement carries.
#[derive(Debug, Clone, PartialEq)]
pub struct PathFlow {
    /// The path.
    pub path: LeakPath,
    /// Pressure before it.
    pub before: AbsolutePressure,
    /// Pressure behind it.
    pub behind: AbsolutePressure,
    /// Flow through it, and what its law says of itself.
    pub flow: LeakFlow,
}

/// What an arrangement carries.
#[derive(Debug, Clone, PartialEq)]
pub struct ArrangementFlow {
    /// The flow of all branches together.
    pub molar_flow: MolarFlow,
    /// Estimated error of the laws, relative: of a chain the largest of its
    /// paths, of branches the mean weighted by their flows.
    pub relative_law_uncertainty: f64,
    /// Branch after branch, the paths in their order.
    pub branches: Vec<Vec<PathFlow>>,
}

impl ArrangementFlow {
    /// The path that decides: of the branch that carries most, the one that
    /// takes the largest share of the pressure.
    #[must_use]
    pub fn deciding(&self) -> Option<&PathFlow> {
        let carries = |branch: &Vec<PathFlow>| {
            branch.first().map_or(0.0, |part| part.flow.molar_flow.mol_per_s().abs())
        };
        let takes = |part: &PathFlow| (part.before - part.behind).pa().abs();
        self.branches
            .iter()
            .max_by(|a, b| carries(a).total_cmp(&carries(b)))?
            .iter()
            .max_by(|a, b| takes(a).total_cmp(&takes(b)))
    }
}

impl LeakArrangement {
    /// Branches side by side, each a chain.
    ///
    /// # Errors
    /// A path without meaning, no path at all, or a chain of more than four.
    pub fn new(branches: Vec<Vec<LeakPath>>) -> Result<Self, LeakPathError> {
        let none = LeakPathError::NotPositive { what: "number of paths", value: 0.0, unit: "1" };
        if branches.is_empty() {
            return Err(none);
        }
        for chain in &branches {
            if chain.is_empty() {
                return Err(none);
            }
            if chain.len() > LONGEST_CHAIN {
                return Err(LeakPathError::ChainTooLong {
                    paths: chain.len(),
                    most: LONGEST_CHAIN,
                });
            }
            for path in chain {
                path.check()?;
            }
        }
        Ok(Self { branches })
    }

    /// The paths, branch after branch.
    #[must_use]
    pub fn branches(&self) -> &[Vec<LeakPath>] {
        &self.branches
    }

    /// Flow through all branches; negative where the pressure drives it back.
    ///
    /// Side by side the flows add; one after the other each path carries the
    /// same flow, and the pressures between them are found by bracketing.
    ///
    /// # Errors
    /// As [`LeakPath::flow`].
    pub fn flow<G: FlowingGas>(
        &self,
        conditions: &FlowConditions<G>,
    ) -> Result<ArrangementFlow, LeakPathError> {
        conditions.check()?;
        let branches: Vec<Vec<PathFlow>> =
            self.branches.iter().map(|chain| chain_flow(chain, conditions)).collect();
        let first = |branch: &Vec<PathFlow>| {
            branch.first().map_or(0.0, |part| part.flow.molar_flow.mol_per_s())
        };
        let of_chain = |branch: &Vec<PathFlow>| {
            branch.iter().fold(0.0, |worst: f64, p| worst.max(p.flow.relative_law_uncertainty))
        };
        let molar = digits::sums::sum(branches.iter().map(first));
        let weighted =
            digits::sums::sum(branches.iter().map(|branch| first(branch).abs() * of_chain(branch)));
        let relative_law_uncertainty = if molar == 0.0 {
            branches.iter().map(of_chain).fold(0.0, f64::max)
        } else {
            weighted / molar.abs()
        };
        Ok(ArrangementFlow {
            molar_flow: MolarFlow::from_mol_per_s(molar),
            relative_law_uncertainty,
            branches,
        })
    }
}

/// Flow through a chain; conditions checked.
fn chain_flow<G: FlowingGas>(paths: &[LeakPath], conditions: &FlowConditions<G>) -> Vec<PathFlow> {
    let gas = conditions.properties();
    let (upstream, downstream) = (conditions.upstream.pa(), conditions.downstream.pa());
    let forward = upstream >= downstream;
    let (high, low) = if forward { (upstream, downstream) } else { (downstream, upstream) };
    let mut laws: Vec<PreparedLeak> =
        paths.iter().map(|path| PreparedLeak::of(path, &gas, conditions.temperature)).collect();
    if !forward {
        laws.reverse();
    }
    let (flow, behind) = chain(&laws, high, low);
    // Pressures from the first path's upstream side to the last one's
    // downstream side, in the user's order.
    let mut steps = vec![high];
    steps.extend(behind);
    if !forward {
        steps.reverse();
    }
    let signed = MolarFlow::from_mol_per_s(if forward { flow } else { -flow });
    paths
        .iter()
        .zip(steps.windows(2))
        .map(|(path, ends)| {
            let between = FlowConditions {
                upstream: AbsolutePressure::from_pa(ends[0]),
                downstream: AbsolutePressure::from_pa(ends[1]),
                ..*conditions
            };
            let own = path.flow_of(&gas, &between);
            PathFlow {
                path: *path,
                before: between.upstream,
                behind: between.downstream,
                flow: LeakFlow { molar_flow: signed, ..own },
            }
        })
        .collect()
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
    let (flow, behind) = chain(rest, middle, low);
    let mut pressures = vec![middle];
    pressures.extend(behind);
    // The smaller of the two estimates: they differ by rounding, and where
    // nearly all the pressure falls in one path the other loses its digits.
    let entering = first.flow_mol_per_s(high, middle);
    let better = if high - middle >= middle - low { entering } else { flow };
    (better, pressures)
}

#[cfg(test)]
mod tests {
    use super::super::reference_conditions;
    use super::*;
    use crate::quantities::Length;

    fn channel(wall_mm: f64) -> LeakPath {
        LeakPath::Channel { bore_diameter: Length::from_um(1.0), wall: Length::from_mm(wall_mm) }
    }

    #[test]
    fn two_alike_in_parallel_carry_twice_and_in_series_as_one_of_their_length() {
        let conditions = reference_conditions();
        let flow = |branches| {
            let arrangement = LeakArrangement::new(branches).expect("arrangement");
            arrangement.flow(&conditions).expect("flow")
        };
        let one = flow(vec![vec![channel(1.0)]]).molar_flow.mol_per_s();
        let two = flow(vec![vec![channel(1.0)], vec![channel(1.0)]]).molar_flow.mol_per_s();
        assert!((two / one - 2.0).abs() < 1e-12);
        let series = flow(vec![vec![channel(1.0), channel(1.0)]]);
        let long = flow(vec![vec![channel(2.0)]]).molar_flow.mol_per_s();
        assert!((series.molar_flow.mol_per_s() / long - 1.0).abs() < 0.01);
        // Each path carries the same flow between its own pressures.
        for part in &series.branches[0] {
            let between =
                FlowConditions { upstream: part.before, downstream: part.behind, ..conditions };
            let own = part.path.flow(&between).expect("flow").molar_flow.mol_per_s();
            assert!((own / series.molar_flow.mol_per_s() - 1.0).abs() < 1e-9);
        }
    }

    #[test]
    fn reversed_pressures_reverse_the_sign_and_keep_the_order_of_the_paths() {
        let forward = reference_conditions();
        let back = FlowConditions {
            upstream: forward.downstream,
            downstream: forward.upstream,
            ..forward
        };
        let one_way = LeakArrangement::new(vec![vec![channel(1.0), channel(0.1)]]).expect("paths");
        let other = LeakArrangement::new(vec![vec![channel(0.1), channel(1.0)]]).expect("paths");
        let a = one_way.flow(&back).expect("flow");
        let b = other.flow(&forward).expect("flow");
        let ratio = a.molar_flow.mol_per_s() / b.molar_flow.mol_per_s();
        assert!((ratio + 1.0).abs() < 1e-12, "{ratio}");
        assert_eq!(a.branches[0][0].before, back.upstream);
        assert_eq!(a.branches[0][1].behind, back.downstream);
        assert_eq!(a.branches[0][0].behind, b.branches[0][0].behind);
    }

    #[test]
    fn nothing_and_too_much_are_refused() {
        assert!(LeakArrangement::new(Vec::new()).is_err());
        assert!(LeakArrangement::new(vec![Vec::new()]).is_err());
        let long = LeakArrangement::new(vec![vec![channel(1.0); 5]]);
        assert!(matches!(long, Err(LeakPathError::ChainTooLong { .. })));
    }
}
