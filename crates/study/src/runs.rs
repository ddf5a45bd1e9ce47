//! Runs: what was tested and what happened. Simulated and imported runs are
//! the same type and differ only in their origin.

use digits::RandomStream;
use physics::cycle::{CycleError, simulate};
use physics::leak_paths::LeakPathError;
use physics::quantities::Length;
use physics::trace::PressureTrace;

use crate::case_input::CaseInput;
use crate::forecast::LeakSize;
use crate::method::Method;
use crate::plan::{Plan, PlannedRun, aged_unit};
use crate::trace_features::{self, TraceFeatures};
pub use crate::unit_class::RunClass;

/// One test of one unit.
#[derive(Debug, Clone, PartialEq)]
pub struct Run {
    /// Position in the order of the plan, counted from 1.
    pub number: u32,
    /// Mark on the unit.
    pub unit: String,
    /// What the unit is.
    pub class: RunClass,
    /// Day of the study, counted from 1.
    pub day: u32,
    /// How the run ended.
    pub ended: Ended,
    /// What the method's window reads; absent where the run ended before it.
    pub features: Option<TraceFeatures>,
    /// The pressure trace.
    pub trace: PressureTrace,
    /// Where the run came from.
    pub origin: RunOrigin,
}

impl Run {
    /// Size with which the run enters detection, flow-equivalent µm: that of a
    /// positive control. An aged control has a size and enters nothing but its
    /// own table, because the same unit counts once.
    #[must_use]
    pub fn detection_size_um(&self) -> Option<f64> {
        match self.class {
            RunClass::PositiveControl { .. } => self.class.size_um(),
            _ => None,
        }
    }
}

/// How a run ended.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Ended {
    /// Every stage ran to its end.
    Completed,
    /// A reach limit was not met: the rise is censored, not missing.
    ReachLimit {
        /// Tier whose limit it was.
        tier: u16,
    },
    /// The rise limit of an early tier was exceeded: the unit is rejected, and
    /// the rise of the last tier is censored.
    RiseLimit {
        /// Tier whose limit it was.
        tier: u16,
    },
    /// Stopped for another cause: the run is missing, with its cause.
    Aborted {
        /// The cause in plain words.
        cause: String,
    },
}

impl Ended {
    /// Was the run ended by a limit, so that the unit is rejected?
    #[must_use]
    pub const fn by_limit(&self) -> bool {
        matches!(self, Self::ReachLimit { .. } | Self::RiseLimit { .. })
    }

    /// Short words for tables.
    #[must_use]
    pub fn words(&self) -> String {
        match self {
            Self::Completed => "completed".to_owned(),
            Self::ReachLimit { tier } => format!("reach limit not met in tier {tier}"),
            Self::RiseLimit { tier } => format!("rise limit exceeded in tier {tier}"),
            Self::Aborted { cause } => format!("aborted: {cause}"),
        }
    }
}

/// Where a run came from.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum RunOrigin {
    /// Made by the simulator.
    Simulated {
        /// Seed of the study.
        seed: u64,
    },
    /// Read from a file.
    Imported {
        /// Name of the file as it was given.
        file: String,
        /// SHA-256 of its bytes, hexadecimal.
        sha256: String,
    },
}

/// Why a study could not be simulated.
#[derive(Debug, thiserror::Error)]
pub enum SimulationError {
    /// The cycle was refused.
    #[error("run {number} could not be simulated: {source}")]
    Cycle {
        /// Number of the run.
        number: u32,
        /// What the simulator said.
        source: CycleError,
    },
    /// The leak lies outside the flow law.
    #[error("the leak of run {number} could not be evaluated: {source}")]
    Leak {
        /// Number of the run.
        number: u32,
        /// What the flow law said.
        source: LeakPathError,
    },
}

/// Spread of the true bore of a positive control about its label (1 s, on the
/// log scale), and of the flow measured on arrival. Working values; common
/// practice quotes 5 to 15 % for certified flows.
pub(crate) const BORE_LOG_SD: f64 = 0.06;
pub(crate) const ARRIVAL_LOG_SD: f64 = 0.03;
/// Spread of the flow that a flow standard gives from one use to the next (1 s,
/// on the log scale). Working value.
pub(crate) const FLOW_LOG_SD: f64 = 0.01;
/// Age at which dried product has closed half of the leaks of a simulated
/// study, days, where the product may plug. A working value: nothing is known of
/// the product's own.
const CLOSING_MEDIAN_DAYS: f64 = 120.0;
/// Streams of aged units stand apart from those of runs and days.
const AGED_STREAMS: u64 = 1 << 42;
/// Share of the background spread that is common to a day.
pub(crate) const DAY_SHARE: f64 = 0.4;

/// Simulates the runs of a plan on the rig of the case.
///
/// Every unit has its own random stream keyed by the seed and its number.
///
/// # Errors
/// Where the physics refuses a run; the number of the run is named.
pub fn simulate_runs(
    input: &CaseInput,
    method: &Method,
    plan: &Plan,
    seed: u64,
    progress: &(dyn Fn(usize, usize) + Sync),
) -> Result<Vec<Run>, SimulationError> {
    use rayon::prelude::*;
    let done = std::sync::atomic::AtomicUsize::new(0);
    plan.runs
        .par_iter()
        .map(|planned| {
            let run = simulate_run(input, method, planned, seed)?;
            let finished = done.fetch_add(1, std::sync::atomic::Ordering::Relaxed) + 1;
            progress(finished, plan.runs.len());
            Ok(run)
        })
        .collect()
}

/// Number in the mark of an aged unit.
fn unit_number(mark: &str) -> u64 {
    aged_unit(mark).trim_start_matches('A').parse().unwrap_or(0)
}

fn simulate_run(
    input: &CaseInput,
    method: &Method,
    planned: &PlannedRun,
    seed: u64,
) -> Result<Run, SimulationError> {
    let number = planned.number;
    // Streams 0 to 999 are kept for days; units follow.
    let mut day_stream = RandomStream::new(seed, u64::from(planned.day));
    let mut stream = RandomStream::new(seed, 1000 + u64::from(number));
    let spread = input.rig.background_spread;
    let within = spread * (1.0 - DAY_SHARE * DAY_SHARE).sqrt();
    let background =
        (1.0 + spread * DAY_SHARE * day_stream.normal() + within * stream.normal()).max(0.05);

    let mut varied = input.clone();
    varied.rig.background.one_over_t *= background;
    varied.rig.background.constant *= background;

    let (class, leak) = match planned.class {
        RunClass::PositiveControl { nominal_um, .. } => {
            let true_um = nominal_um * digits::scalar::exp(BORE_LOG_SD * stream.normal());
            let verified_um = true_um * digits::scalar::exp(ARRIVAL_LOG_SD * stream.normal());
            let leak = LeakSize::from_flow_equivalent(Length::from_um(true_um))
                .map_err(|source| SimulationError::Leak { number, source })?
                .as_orifice();
            let class = RunClass::PositiveControl { nominal_um, verified_um: Some(verified_um) };
            (class, Some(leak))
        }
        RunClass::FlowChallenge { flow_pa_m3_per_s } => {
            let given = digits::scalar::exp(FLOW_LOG_SD * stream.normal());
            varied.rig.background.constant += input.rig.at_wall(flow_pa_m3_per_s * given);
            (planned.class, None)
        }
        RunClass::AgedControl { nominal_um: Some(nominal_um), age_days } => {
            // The unit is the same at every age: its own stream says its bore and
            // when dried product closes it.
            let mut unit = RandomStream::new(seed, AGED_STREAMS + unit_number(&planned.unit));
            let true_um = nominal_um * digits::scalar::exp(BORE_LOG_SD * unit.normal());
            let closes_days = CLOSING_MEDIAN_DAYS * digits::scalar::exp(unit.normal());
            let closed = input.profile.product.may_plug && f64::from(age_days) >= closes_days;
            let leak = LeakSize::from_flow_equivalent(Length::from_um(true_um))
                .map_err(|source| SimulationError::Leak { number, source })?
                .as_orifice();
            (planned.class, (!closed).then_some(leak))
        }
        other => (other, None),
    };
    let mut setup = method.cycle.setup(&varied.profile, &varied.rig, leak);
    // A rise above the last limit does not end a study run: its rise is wanted.
    if let Some(last) = setup.tiers.last_mut() {
        last.rise_limit = None;
    }
    let outcome = simulate(&setup).map_err(|source| SimulationError::Cycle { number, source })?;
    let trace = physics::sensor::record(&outcome.trace, &input.rig.sensor, &mut stream);
    let last_tier = u16::try_from(setup.tiers.len()).unwrap_or(u16::MAX);
    let complete = outcome.tiers.len() == setup.tiers.len()
        && outcome.tiers.last().is_some_and(|tier| !tier.stopped_early);
    let ended = if complete {
        Ended::Completed
    } else {
        let tier = u16::try_from(outcome.tiers.len()).unwrap_or(u16::MAX);
        let measured = outcome.trace.span(physics::trace::Stage::Measure, tier).is_some();
        if measured { Ended::RiseLimit { tier } } else { Ended::ReachLimit { tier } }
    };
    let features = complete.then(|| trace_features::read(&trace, last_tier)).flatten();
    Ok(Run {
        number,
        unit: planned.unit.clone(),
        class,
        day: planned.day,
        ended,
        features,
        trace,
        origin: RunOrigin::Simulated { seed },
    })
}
