//! Runs: what was tested and what happened. Simulated and imported runs are
//! the same type and differ only in their origin.

use digits::RandomStream;
use physics::cycle::extended::simulate_with;
use physics::cycle::{CycleError, CycleSetup, simulate};
use physics::leak_paths::LeakPathError;
use physics::quantities::Length;
use physics::trace::PressureTrace;

use crate::case_input::CaseInput;
use crate::forecast::{ForecastError, LeakSize, UnderLiquid, under_liquid};
use crate::method::Method;
use crate::plan::{Plan, PlannedRun, aged_unit};
use crate::run_factors::{LeakSide, RunFactors};
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
    /// Operator, rig, lot, side and type of the leak, as far as they are known.
    pub factors: RunFactors,
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
    /// positive control whose leak the gas reaches. An aged control has a size
    /// and enters nothing but its own table, because the same unit counts once;
    /// so does a control whose leak the liquid covers, because another law holds
    /// there.
    #[must_use]
    pub fn detection_size_um(&self) -> Option<f64> {
        match self.class {
            RunClass::PositiveControl { .. } if self.factors.side != Some(LeakSide::Liquid) => {
                self.class.size_um()
            }
            _ => None,
        }
    }

    /// What the window read, where its rise may be taken as a value: the run
    /// came to its end, and the gauge was within its range. Everything that
    /// counts rises asks here; an aborted run may carry features and has none.
    #[must_use]
    pub fn measured(&self) -> Option<&TraceFeatures> {
        self.features.as_ref().filter(|_| self.ended == Ended::Completed)
    }

    /// Whether the unit is found with this limit; `None` where the run tells
    /// neither: aborted, without a reading, or with a gauge at its end before
    /// the rise was known to exceed the limit. Everything that counts hits,
    /// misses and rejects asks here.
    #[must_use]
    pub fn found(&self, limit_pa: f64) -> Option<bool> {
        match self.ended {
            // A run ended by a limit was rejected: the leak was found.
            Ended::ReachLimit { .. } | Ended::RiseLimit { .. } => Some(true),
            Ended::GaugeFull { at_least_pa } => (at_least_pa > limit_pa).then_some(true),
            Ended::Completed => self.measured().map(|features| features.rise_pa > limit_pa),
            Ended::Aborted { .. } => None,
        }
    }

    /// Whether what is said of a label size in detection rests on this run.
    #[must_use]
    pub fn is_behind_size(&self, of_um: f64) -> bool {
        self.detection_size_um().is_some()
            && matches!(self.class,
                RunClass::PositiveControl { nominal_um, .. } if nominal_um == of_um)
    }

    /// Whether what is said of the negative controls of a day rests on this run.
    #[must_use]
    pub fn is_behind_day(&self, day: u32) -> bool {
        self.day == day && self.class == RunClass::NegativeControl
    }

    /// A completed run with this rise, for tests.
    #[cfg(test)]
    pub(crate) fn invented(unit: &str, class: RunClass, rise_pa: f64) -> Self {
        Self {
            number: 1,
            unit: unit.to_owned(),
            class,
            day: 1,
            factors: RunFactors::default(),
            ended: Ended::Completed,
            features: Some(TraceFeatures {
                tier: 1,
                reach_pa: None,
                level_start_pa: 100.0,
                level_end_pa: 100.0 + rise_pa,
                rise_pa,
                slope_pa_per_s: None,
                slope_standard_error: None,
                noise_pa: None,
                n_samples: 20,
            }),
            trace: PressureTrace::default(),
            origin: RunOrigin::Simulated { seed: 1 },
        }
    }
}

/// How a run ended.
#[derive(Debug, Clone, PartialEq)]
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
    /// The gauge stood at the end of its range in the measure stage: the rise is
    /// at least what was read of it, and never that of a tight unit.
    GaugeFull {
        /// Rise up to the end of the range, Pa; zero where the stage began there.
        at_least_pa: f64,
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
            Self::GaugeFull { at_least_pa } => format!(
                "gauge at the end of its range: rise at least {} Pa",
                crate::wording::rounded(*at_least_pa)
            ),
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
    /// A leak under the liquid could not be evaluated.
    #[error("the leak under the liquid of run {number} could not be evaluated: {source}")]
    UnderLiquid {
        /// Number of the run.
        number: u32,
        /// What the physics said.
        source: ForecastError,
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
/// Shares of the background spread (of its standard deviation) that are common
/// to a day, to a lot and to a rig. Working values: nobody has measured them for
/// the case. Lots and rigs have theirs only where there is more than one.
pub(crate) const DAY_SHARE: f64 = 0.4;
pub(crate) const LOT_SHARE: f64 = 0.3;
pub(crate) const RIG_SHARE: f64 = 0.3;
/// Streams of lots and rigs stand apart from those of runs, days and aged units.
const LOT_STREAMS: u64 = 1 << 45;
const RIG_STREAMS: u64 = 1 << 46;

/// Which shares of the background spread a plan makes visible.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Shares {
    pub lot: f64,
    pub rig: f64,
    /// What is left to a unit.
    pub within: f64,
}

impl Shares {
    pub fn of(plan: &Plan) -> Self {
        Self::from_numbers(
            marks(plan, |run| &run.factors.lot).len(),
            marks(plan, |run| &run.factors.rig).len(),
        )
    }

    pub fn from_numbers(lots: usize, rigs: usize) -> Self {
        let lot = if lots > 1 { LOT_SHARE } else { 0.0 };
        let rig = if rigs > 1 { RIG_SHARE } else { 0.0 };
        let within = (1.0 - DAY_SHARE * DAY_SHARE - lot * lot - rig * rig).sqrt();
        Self { lot, rig, within }
    }
}

/// The marks of a factor in a plan, each once and in order; runs without one
/// left out.
pub(crate) fn marks(plan: &Plan, of: impl Fn(&PlannedRun) -> &String) -> Vec<&str> {
    let all: std::collections::BTreeSet<&str> =
        plan.runs.iter().map(|run| of(run).as_str()).filter(|mark| !mark.is_empty()).collect();
    all.into_iter().collect()
}

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
    let shares = Shares::of(plan);
    plan.runs
        .par_iter()
        .map(|planned| {
            let run = simulate_run(input, method, planned, shares, seed)?;
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

/// Number in a mark such as `L2`.
fn mark_number(mark: &str) -> u64 {
    mark.trim_start_matches(|letter: char| !letter.is_ascii_digit()).parse().unwrap_or(0)
}

fn simulate_run(
    input: &CaseInput,
    method: &Method,
    planned: &PlannedRun,
    shares: Shares,
    seed: u64,
) -> Result<Run, SimulationError> {
    let number = planned.number;
    // Streams 0 to 999 are kept for days; units follow.
    let mut day_stream = RandomStream::new(seed, u64::from(planned.day));
    let mut stream = RandomStream::new(seed, 1000 + u64::from(number));
    let spread = input.rig.background_spread;
    // A blank has no lot, and its share is left out.
    let of_mark = |share: f64, streams: u64, mark: &str| {
        if share > 0.0 && !mark.is_empty() {
            share * RandomStream::new(seed, streams + mark_number(mark)).normal()
        } else {
            0.0
        }
    };
    let level = DAY_SHARE * day_stream.normal()
        + of_mark(shares.lot, LOT_STREAMS, &planned.factors.lot)
        + of_mark(shares.rig, RIG_STREAMS, &planned.factors.rig);
    let background = (1.0 + spread * level + spread * shares.within * stream.normal()).max(0.05);

    let mut varied = input.clone();
    varied.rig.background.one_over_t *= background;
    varied.rig.background.constant *= background;

    let mut under = None;
    let (class, leak) = match planned.class {
        RunClass::PositiveControl { nominal_um, .. } => {
            let true_um = nominal_um * digits::scalar::exp(BORE_LOG_SD * stream.normal());
            let verified_um = true_um * digits::scalar::exp(ARRIVAL_LOG_SD * stream.normal());
            let size = LeakSize::from_flow_equivalent(Length::from_um(true_um))
                .map_err(|source| SimulationError::Leak { number, source })?;
            if planned.factors.side == Some(LeakSide::Liquid) {
                let found = under_liquid(input, &size)
                    .map_err(|source| SimulationError::UnderLiquid { number, source })?;
                under = Some(found);
            }
            let leak = under.is_none().then(|| size.as_orifice());
            let class = RunClass::PositiveControl { nominal_um, verified_um: Some(verified_um) };
            (class, leak)
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
    let played = match &under {
        None => simulated(&setup, number)?,
        Some(under) => match simulated_under_liquid(&setup, under, number)? {
            Ok(played) => played,
            Err(cause) => {
                return Ok(Run {
                    number,
                    unit: planned.unit.clone(),
                    class,
                    day: planned.day,
                    factors: planned.factors.clone(),
                    ended: Ended::Aborted { cause: cause.to_owned() },
                    features: None,
                    trace: PressureTrace::default(),
                    origin: RunOrigin::Simulated { seed },
                });
            }
        },
    };
    let trace = physics::sensor::record(&played.trace, &input.rig.sensor, &mut stream);
    let last_tier = u16::try_from(setup.tiers.len()).unwrap_or(u16::MAX);
    let complete = played.tiers == setup.tiers.len() && !played.stopped_early;
    let ended = if complete {
        Ended::Completed
    } else {
        let tier = u16::try_from(played.tiers).unwrap_or(u16::MAX);
        let measured = played.trace.span(physics::trace::Stage::Measure, tier).is_some();
        if measured { Ended::RiseLimit { tier } } else { Ended::ReachLimit { tier } }
    };
    let features = complete.then(|| trace_features::read(&trace, last_tier)).flatten();
    let range_pa = input.rig.sensor.range.pa();
    let full = features.as_ref().and_then(|read| {
        let from = trace_features::first_at(&trace, read.tier, range_pa)?;
        Some(trace_features::rise_at_least_pa(&trace, read, from))
    });
    let (ended, features) = match full {
        Some(at_least_pa) => (Ended::GaugeFull { at_least_pa }, None),
        None => (ended, features),
    };
    Ok(Run {
        number,
        unit: planned.unit.clone(),
        class,
        day: planned.day,
        factors: planned.factors.clone(),
        ended,
        features,
        trace,
        origin: RunOrigin::Simulated { seed },
    })
}

/// A cycle that was played.
struct Played {
    trace: PressureTrace,
    tiers: usize,
    stopped_early: bool,
}

fn simulated(setup: &CycleSetup, number: u32) -> Result<Played, SimulationError> {
    let outcome = simulate(setup).map_err(|source| SimulationError::Cycle { number, source })?;
    Ok(Played {
        tiers: outcome.tiers.len(),
        stopped_early: outcome.tiers.last().is_none_or(|tier| tier.stopped_early),
        trace: outcome.trace,
    })
}

/// A cycle with a hole under the liquid; in words, why there is none where the
/// profile or the physics does not carry one.
fn simulated_under_liquid(
    setup: &CycleSetup,
    under: &Option<UnderLiquid>,
    number: u32,
) -> Result<Result<Played, &'static str>, SimulationError> {
    let Some(under) = under else {
        return Ok(Err("not simulated: the profile does not state the liquid"));
    };
    let lowest_pa =
        setup.tiers.iter().map(|tier| tier.evacuate_to.pa()).fold(f64::INFINITY, f64::min);
    if lowest_pa >= under.vapour_pressure_pa {
        return Ok(Err("not simulated: the chamber stays above the vapour pressure, where \
                       evaporation into air is not modelled"));
    }
    let outcome = simulate_with(setup, &under.extras)
        .map_err(|source| SimulationError::Cycle { number, source })?;
    Ok(Ok(Played {
        tiers: outcome.tiers.len(),
        stopped_early: outcome.tiers.last().is_none_or(|tier| tier.plain.stopped_early),
        trace: outcome.trace,
    }))
}
