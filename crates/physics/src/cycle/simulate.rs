//! Runs a cycle and keeps its ledger.

use digits::lanes::Eight;

use super::balance::GasBalance;
use super::leak_lanes::{AnyPathLanes, Orifices};
use super::lockstep::run;
use super::prepare::{Prepared, prepare};
use super::wide::{run_alone, run_in_lanes};
use super::{CycleError, CycleSetup};
use crate::quantities::{AbsolutePressure, PressureDifference};
use crate::trace::PressureTrace;

/// What contributed what to the rise of a measuring stage, Pa.
///
/// Gas that came in counts at wall temperature, `Δn R T_w/V`; what remains is
/// the change of gas temperature. The parts sum to the rise.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct RiseContributions {
    /// Gas from the container.
    pub leak_pa: f64,
    /// Gas from walls and seals.
    pub outgassing_pa: f64,
    /// Gas from the pocket.
    pub virtual_leak_pa: f64,
    /// Warming of the chamber's gas.
    pub thermal_pa: f64,
}

impl RiseContributions {
    /// Sum of the parts, Pa.
    #[must_use]
    pub fn total_pa(&self) -> f64 {
        digits::sums::sum([self.leak_pa, self.outgassing_pa, self.virtual_leak_pa, self.thermal_pa])
    }
}

/// What one tier gave.
///
/// Where the reach limit was missed, settling and measuring did not happen:
/// both pressures are then that at the end of pumping and the rise is zero.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct TierOutcome {
    /// Pumping reached its pressure, and the reach limit where there is one.
    pub reached_target: bool,
    /// When pumping stopped, seconds from the start of the cycle.
    pub evacuate_end_s: f64,
    /// Chamber pressure where measuring begins.
    pub pressure_at_settle_end: AbsolutePressure,
    /// Chamber pressure where measuring ends.
    pub pressure_at_measure_end: AbsolutePressure,
    /// Their difference.
    pub rise: PressureDifference,
    /// Headspace pressure where measuring begins.
    pub headspace_at_measure_start: AbsolutePressure,
    /// What the rise is made of.
    pub contributions: RiseContributions,
    /// A limit of this tier failed, and the cycle ended with it.
    pub stopped_early: bool,
}

/// Result of a simulated cycle.
#[derive(Debug, Clone, PartialEq)]
pub struct CycleOutcome {
    /// Chamber pressure and gas temperature without noise, with the stages.
    pub trace: PressureTrace,
    /// The tiers that ran.
    pub tiers: Vec<TierOutcome>,
    /// Headspace pressure at the end.
    pub headspace_end: AbsolutePressure,
    /// Where the gas went.
    pub balance: GasBalance,
}

/// Simulates a cycle.
///
/// A tier ends its evacuation at `evacuate_to` (located as an event) or at
/// `evacuate_limit`. A missed reach limit, or a rise above the rise limit, ends
/// the cycle with that tier; later tiers are then absent.
///
/// # Errors
/// A setup without meaning, or equations too stiff for the step limit.
pub fn simulate(setup: &CycleSetup) -> Result<CycleOutcome, CycleError> {
    setup.check()?;
    let answers = match prepare(setup) {
        Prepared::Orifice(program) => run_alone::<Orifices>(program),
        Prepared::AnyPath(program) => run::<f64, AnyPathLanes, Eight>(&[program], true),
    };
    answers.into_iter().next().unwrap_or(Err(CycleError::NoTiers))
}

/// Simulates many cycles at once, eight in lanes; answers in their order, with
/// the digits of [`simulate`].
///
/// `want_trace` false leaves the traces empty (their stages stay): a study of a
/// hundred thousand cycles keeps only what the tiers say.
#[must_use]
pub fn simulate_batch(
    setups: &[CycleSetup],
    want_trace: bool,
) -> Vec<Result<CycleOutcome, CycleError>> {
    let mut answers: Vec<Option<Result<CycleOutcome, CycleError>>> = Vec::new();
    let (mut orifices, mut orifice_at) = (Vec::new(), Vec::new());
    let (mut paths, mut path_at) = (Vec::new(), Vec::new());
    for (index, setup) in setups.iter().enumerate() {
        answers.push(None);
        if let Err(error) = setup.check() {
            answers[index] = Some(Err(error));
            continue;
        }
        match prepare(setup) {
            Prepared::Orifice(program) => {
                orifices.push(program);
                orifice_at.push(index);
            }
            Prepared::AnyPath(program) => {
                paths.push(program);
                path_at.push(index);
            }
        }
    }
    let done = run_in_lanes::<Orifices>(orifices, want_trace);
    for (index, answer) in orifice_at.into_iter().zip(done) {
        answers[index] = Some(answer);
    }
    // Every step of such a path is a search for a root: lanes would gain nothing.
    let done = run::<f64, AnyPathLanes, Eight>(&paths, want_trace);
    for (index, answer) in path_at.into_iter().zip(done) {
        answers[index] = Some(answer);
    }
    answers.into_iter().map(|answer| answer.unwrap_or(Err(CycleError::NoTiers))).collect()
}
