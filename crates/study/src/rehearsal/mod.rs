//! Rehearsal: the planned study, done many times on paper before a unit is
//! spent, to see how probably it shows what it must.
//!
//! In every rehearsal the uncertain inputs are drawn once (that is the rig as
//! it really is), days, lots, rigs and units vary about it as in a simulated
//! study, the reject limit is set from the rehearsed negative controls, and the criteria
//! are judged by the same statistics as real results: the detection bound by the
//! readings where they carry one, else by hits and misses, for which a quick
//! stand-in is set to the bound of the results in the first rehearsals.

mod adaptive;
mod bound;
mod change;
mod parts;
mod study;

pub use adaptive::AdaptiveArm;
use bound::{RehearsedBound, one_size_is_enough};

pub use bound::BoundCalibration;
pub use parts::{PartOfPlan, Power};

use change::{Change, Part, Unit};
use study::{Truth, read, truths_of};

use rayon::prelude::*;
use statistics::proportions::clopper_pearson;

use crate::case_input::CaseInput;
use crate::criteria::{BENT_BELOW, Criterion, Subject, bound_shows_less};
use crate::criteria_judged::is_large;
use crate::forecast::{Forecast, ForecastError};
use crate::notes::Note;
use crate::plan::{Plan, PlannedRun};
use crate::results::limit_and_fit;
use crate::run_factors::LeakSide;
use crate::runs::Shares;
use crate::wording::rounded;

/// How often to rehearse, and from which seed.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct RehearsalSettings {
    /// Seed of the rehearsals.
    pub seed: u64,
    /// Number of rehearsals, at least 100.
    pub n: usize,
}

impl Default for RehearsalSettings {
    fn default() -> Self {
        Self { seed: 1, n: 1000 }
    }
}

/// Chance that a criterion is met.
#[derive(Debug, Clone, PartialEq)]
pub struct Chance {
    /// The criterion.
    pub criterion: Criterion,
    /// Share of the rehearsals in which it was met.
    pub probability_met: f64,
    /// Standard error of that share, from the number of rehearsals.
    pub standard_error: f64,
}

/// The same plan with more or fewer units.
#[derive(Debug, Clone, PartialEq)]
pub struct Variant {
    /// What was changed.
    pub change: String,
    /// Number of runs of the plan.
    pub runs: usize,
    /// Chance that every criterion is met.
    pub probability_all_met: f64,
    /// Chance that the reject limit holds for units of other days, lots and
    /// rigs.
    pub limit_holds: f64,
}

/// What the rehearsals showed.
#[derive(Debug, Clone, PartialEq)]
pub struct Rehearsal {
    /// Seed of the rehearsals.
    pub seed: u64,
    /// Number of rehearsals.
    pub n: usize,
    /// Chance of each criterion.
    pub chances: Vec<Chance>,
    /// Chance that every criterion is met.
    pub probability_all_met: f64,
    /// Share of the rehearsals in which the reject limit rejects no more good
    /// units of any day, lot and rig than is tolerated. The confidence of the
    /// purpose is what was asked for.
    pub limit_holds: f64,
    /// Which part of the plan is more or less than is needed.
    pub parts: Vec<PartOfPlan>,
    /// Reject limit: 5 %, 50 % and 95 % of the rehearsals, Pa.
    pub limit_pa: Option<[f64; 3]>,
    /// Detection bound: 5 %, 50 % and 95 % of the rehearsals that had one, µm.
    pub bound_um: Option<[f64; 3]>,
    /// Share of the rehearsals that gave no detection bound, neither by the
    /// readings nor by hits and misses.
    pub without_bound: f64,
    /// Share of the rehearsals whose detection bound came from the line of
    /// readings against size.
    pub bound_by_readings: f64,
    /// The plan with more and fewer units.
    pub variants: Vec<Variant>,
    /// The study with positive controls chosen one after the other; `None`
    /// where the plan has no detection bound to reach.
    pub adaptive: Option<AdaptiveArm>,
    /// What the reader should know.
    pub notes: Vec<Note>,
}

/// Interval of a chance from the number of rehearsals behind it, 95 %, exact
/// (Clopper and Pearson): how well so many rehearsals know it. It is no interval of
/// zero width where every rehearsal, or none, came out so.
#[must_use]
pub fn chance_interval(share: f64, n: usize) -> (f64, f64) {
    let hits = (share * n as f64).round().clamp(0.0, n as f64) as u64;
    clopper_pearson(hits, n as u64, 0.95).map_or((0.0, 1.0), |found| (found.lower, found.upper))
}

/// Why a rehearsal is not possible.
#[derive(Debug, thiserror::Error)]
pub enum RehearsalError {
    /// Too few for a probability.
    #[error("a probability needs at least 100 rehearsals, got {n}")]
    TooFew {
        /// Rehearsals asked for.
        n: usize,
    },
    /// The response of the rig could not be predicted.
    #[error("{0}")]
    Forecast(#[from] ForecastError),
}

/// What came of one rehearsal.
struct Outcome {
    met: Vec<bool>,
    limit_pa: Option<f64>,
    limit_holds: bool,
    bound: Option<RehearsedBound>,
}

/// Rehearses a plan.
///
/// # Errors
/// Too few rehearsals, or a case outside what the physics can say.
pub fn rehearse(
    input: &CaseInput,
    forecast: &Forecast,
    plan: &Plan,
    settings: &RehearsalSettings,
    progress: &(dyn Fn(usize, usize) + Sync),
) -> Result<Rehearsal, RehearsalError> {
    if settings.n < 100 {
        return Err(RehearsalError::TooFew { n: settings.n });
    }
    let wanted = plan.criteria_of(input, forecast);
    let truths = truths_of(input, settings.n, settings.seed, progress)?;
    let planned = Change::NONE.apply(plan);
    let shares = Shares::of(plan);
    let calibration = BoundCalibration::of(&truths, &planned, shares, settings.seed);
    let played = |units: &[Unit], asked: Asked<'_>| -> Vec<Outcome> {
        truths
            .par_iter()
            .enumerate()
            .map(|(number, truth)| {
                let stream = (settings.seed, number as u64);
                play(truth, (units, shares), &wanted, &calibration, asked.of(number), stream)
            })
            .collect()
    };
    let outcomes = played(&planned, Asked::Bound);
    let share = |count: usize| count as f64 / settings.n as f64;
    let all = |outcomes: &[Outcome]| {
        share(outcomes.iter().filter(|one| one.met.iter().all(|met| *met)).count())
    };
    let chances: Vec<Chance> = wanted
        .iter()
        .enumerate()
        .map(|(index, criterion)| {
            let p = share(outcomes.iter().filter(|one| one.met[index]).count());
            Chance {
                criterion: criterion.clone(),
                probability_met: p,
                standard_error: (p * (1.0 - p) / settings.n as f64).sqrt(),
            }
        })
        .collect();
    let holds = |outcomes: &[Outcome]| share(outcomes.iter().filter(|one| one.limit_holds).count());
    let probability_all_met = all(&outcomes);
    let limit_holds = holds(&outcomes);
    let changes = Change::of(plan);
    let variants: Vec<Variant> = changes
        .iter()
        .map(|change| {
            let units = change.apply(plan);
            // Flow challenges move neither limit nor positive controls.
            let asked = match change.part {
                Some(Part::Flows) => Asked::Known(&outcomes),
                _ => Asked::Verdict,
            };
            let outcomes = played(&units, asked);
            Variant {
                change: change.words(),
                runs: units.len(),
                probability_all_met: all(&outcomes),
                limit_holds: holds(&outcomes),
            }
        })
        .collect();
    let confidence = input.profile.purpose.confidence.fraction();
    let parts = parts::parts(&changes, &variants, (probability_all_met, limit_holds), confidence);
    let bounds: Vec<f64> = outcomes.iter().filter_map(|one| Some(one.bound?.um)).collect();
    let by_readings = |one: &&Outcome| one.bound.is_some_and(|bound| bound.by_readings);
    let adaptive = adaptive_arm(
        (&truths, settings.seed),
        &outcomes,
        plan,
        (&planned, shares),
        &wanted,
        &calibration,
    );
    let mut notes = explain(&chances, &variants, plan, probability_all_met);
    notes.extend(parts::explain(&parts));
    notes.extend(parts::of_the_limit(limit_holds, confidence, plan));
    notes.extend(calibration.note());
    notes.extend(under_the_liquid(plan));
    if wanted.iter().any(|one| matches!(one.subject, Subject::DetectionBound { .. })) {
        notes.extend(bound_shows_less(&input.profile.purpose));
    }
    notes.extend(adaptive.as_ref().and_then(explain_adaptive));
    Ok(Rehearsal {
        seed: settings.seed,
        n: settings.n,
        without_bound: share(settings.n - bounds.len()),
        bound_by_readings: share(outcomes.iter().filter(by_readings).count()),
        limit_pa: quantiles(outcomes.iter().filter_map(|one| one.limit_pa).collect()),
        bound_um: quantiles(bounds),
        chances,
        probability_all_met,
        limit_holds,
        parts,
        variants,
        adaptive,
        notes,
    })
}

/// Says that controls with their leak under the liquid are planned and not
/// rehearsed: they enter no criterion.
fn under_the_liquid(plan: &Plan) -> Option<Note> {
    let under = |run: &&PlannedRun| run.factors.side == Some(LeakSide::Liquid);
    let n = plan.runs.iter().filter(under).count();
    (n > 0).then(|| {
        Note::caution(
            "liquid-controls-not-rehearsed",
            format!(
                "{n} controls with their leak under the liquid are planned; they enter no criterion, \
                 and no chance above speaks of them"
            ),
            "see the forecast for the bores found under the liquid, and fix what they must show \
             before the first run",
        )
    })
}

/// Rehearsals in which the adaptive study is played: each fits a curve for
/// every unit.
const ADAPTIVE_REHEARSALS: usize = 200;

fn adaptive_arm(
    (truths, seed): (&[Truth], u64),
    outcomes: &[Outcome],
    plan: &Plan,
    planned: (&[Unit], Shares),
    wanted: &[Criterion],
    calibration: &BoundCalibration,
) -> Option<AdaptiveArm> {
    let (place, at_most_um) =
        wanted.iter().enumerate().find_map(|(place, one)| match one.subject {
            Subject::DetectionBound { at_most_um } => Some((place, at_most_um)),
            _ => None,
        })?;
    let (sizes, planned_units) = adaptive::sizes_of(plan);
    if sizes.len() < 2 {
        return None;
    }
    let n = truths.len().min(ADAPTIVE_REHEARSALS);
    let played: Vec<(bool, usize)> = truths[..n]
        .par_iter()
        .enumerate()
        .map(|(number, truth)| {
            let stream = (seed, number as u64);
            match read(truth, planned, stream) {
                None => (false, 0),
                Some(readings) => {
                    let units = (sizes.as_slice(), planned_units);
                    adaptive::play(truth, readings, units, at_most_um, calibration, stream)
                }
            }
        })
        .collect();
    let share = |count: usize| count as f64 / n as f64;
    Some(AdaptiveArm {
        n,
        at_most_um,
        probability_met: share(played.iter().filter(|one| one.0).count()),
        planned_probability_met: share(outcomes[..n].iter().filter(|one| one.met[place]).count()),
        mean_units: played.iter().map(|one| one.1 as f64).sum::<f64>() / n as f64,
        planned_units,
    })
}

/// Share of the units that an adaptive study must spare to be worth a word.
const WORTH_A_WORD: f64 = 0.8;

fn explain_adaptive(arm: &AdaptiveArm) -> Option<Note> {
    let spares = arm.mean_units < WORTH_A_WORD * arm.planned_units as f64;
    (spares && arm.probability_met + 0.03 >= arm.planned_probability_met).then(|| {
        Note::remark(
            "adaptive-study-spares-units",
            format!(
                "choosing each next positive control from the results so far reaches the detection \
                 bound in {} % of the rehearsals with {} positive controls on average, against {} % \
                 with {}",
                rounded(100.0 * arm.probability_met),
                rounded(arm.mean_units),
                rounded(100.0 * arm.planned_probability_met),
                arm.planned_units
            ),
            "fix the rule before the first run, with its error rates, and plan the looks; large \
             positive controls for the other criteria are still needed",
        )
    })
}

/// What is asked of the detection bound: the search for it takes most of the
/// time of a rehearsal.
#[derive(Clone, Copy)]
enum Asked<'a> {
    /// The bound itself.
    Bound,
    /// Of a plan that is only compared: whether it is low enough.
    Verdict,
    /// Nothing: it is that of these rehearsals.
    Known(&'a [Outcome]),
}

impl Asked<'_> {
    /// What is asked of one rehearsal.
    fn of(self, number: usize) -> Self {
        match self {
            Self::Known(outcomes) => Self::Known(outcomes.get(number..).unwrap_or_default()),
            other => other,
        }
    }
}

/// One rehearsal; with the bound itself, or only with what is met.
fn play(
    truth: &Truth,
    units: (&[Unit], Shares),
    wanted: &[Criterion],
    calibration: &BoundCalibration,
    asked: Asked<'_>,
    stream: (u64, u64),
) -> Outcome {
    let Some(readings) = read(truth, units, stream) else {
        return Outcome {
            met: vec![false; wanted.len()],
            limit_pa: None,
            limit_holds: false,
            bound: None,
        };
    };
    let limit = readings.limit_pa;
    let bound = match asked {
        Asked::Bound => calibration.bound(&readings),
        _ => None,
    };
    let met = wanted
        .iter()
        .enumerate()
        .map(|(index, criterion)| match criterion.subject {
            Subject::FalseRejects => readings.negative.iter().all(|rise| *rise <= limit),
            Subject::LimitLeavesRoom { at_most_pa } => limit <= at_most_pa,
            Subject::LargeLeaksFound { from_um } => {
                let positive = &readings.positive;
                let mut large = positive.iter().filter(|unit| is_large(unit.0, from_um)).peekable();
                large.peek().is_some() && large.all(|unit| unit.2 > limit)
            }
            Subject::DetectionBound { at_most_um } => match (asked, bound) {
                (Asked::Known(planned), _) => planned.first().is_some_and(|one| one.met[index]),
                (Asked::Verdict, _) => calibration.meets(&readings, at_most_um),
                (Asked::Bound, Some(bound)) => bound.um <= at_most_um,
                (Asked::Bound, None) => {
                    one_size_is_enough(&readings, at_most_um, calibration.stated)
                }
            },
            Subject::FlowCalibration { at_most_pa_m3_per_s } => {
                limit_and_fit(&readings.flows.0, &readings.flows.1).is_some_and(|(limit, fit)| {
                    limit <= at_most_pa_m3_per_s && fit.is_none_or(|p| p >= BENT_BELOW)
                })
            }
            // Nothing is known of how leaks of this product close: it is rehearsed
            // as if none did.
            Subject::AgedStillFound => {
                let first = readings.aged.iter().map(|one| one.0).min();
                let mut later = readings.aged.iter().filter(|one| Some(one.0) != first).peekable();
                later.peek().is_some() && later.all(|one| one.1 > limit)
            }
        })
        .collect();
    let limit_holds = holds_for_others(truth, limit);
    Outcome { met, limit_pa: Some(limit), limit_holds, bound }
}

/// Whether a limit rejects no more good units than is tolerated, days, lots and
/// rigs taken at random: then their shares of the background spread add up to
/// the whole of it.
fn holds_for_others(truth: &Truth, limit_pa: f64) -> bool {
    let Some(last) = truth.response.tiers.last() else { return false };
    let z = (limit_pa - last.tight_rise_pa) / last.tight_rise_sd_pa;
    let rejected = digits::normal::cumulative(-z);
    rejected <= truth.input.profile.purpose.tolerable_false_reject.fraction()
}

fn quantiles(mut values: Vec<f64>) -> Option<[f64; 3]> {
    if values.is_empty() {
        return None;
    }
    values.sort_by(f64::total_cmp);
    let at = |p: f64| values[((values.len() - 1) as f64 * p).round() as usize];
    Some([at(0.05), at(0.5), at(0.95)])
}

/// Below this chance a study is better not begun; above the other, it spends
/// more than it needs. Working values.
const LOW_CHANCE: f64 = 0.8;
const HIGH_CHANCE: f64 = 0.98;

fn explain(
    chances: &[Chance],
    variants: &[Variant],
    plan: &Plan,
    probability_all_met: f64,
) -> Vec<Note> {
    let mut notes = Vec::new();
    let weakest = chances.iter().min_by(|a, b| a.probability_met.total_cmp(&b.probability_met));
    if let Some(weakest) = weakest.filter(|_| probability_all_met < LOW_CHANCE) {
        let best = variants
            .iter()
            .max_by(|a, b| a.probability_all_met.total_cmp(&b.probability_all_met))
            .filter(|variant| variant.probability_all_met > probability_all_met + 0.03);
        notes.push(Note::caution(
            "study-may-fail",
            format!(
                "all criteria are met in {} % of the rehearsals; the weakest is “{}” with {} %",
                rounded(100.0 * probability_all_met),
                weakest.criterion.code,
                rounded(100.0 * weakest.probability_met)
            ),
            best.map_or_else(
                || {
                    "more units of the same kind do not help: change the method or the criterion"
                        .to_owned()
                },
                |variant| {
                    format!(
                        "with {} it is {} %",
                        variant.change,
                        rounded(100.0 * variant.probability_all_met)
                    )
                },
            ),
        ));
    }
    let cheaper = variants
        .iter()
        .filter(|variant| variant.runs < plan.runs.len())
        .filter(|variant| variant.probability_all_met >= HIGH_CHANCE)
        .min_by_key(|variant| variant.runs);
    if let Some(cheaper) = cheaper {
        notes.push(Note::remark(
            "study-spends-more-than-needed",
            format!(
                "with {} all criteria are still met in {} % of the rehearsals",
                cheaper.change,
                rounded(100.0 * cheaper.probability_all_met)
            ),
            "consider fewer units, unless other criteria ask for them",
        ));
    }
    notes
}

#[cfg(test)]
mod tests {
    use super::chance_interval;

    /// None of 1000: at most 1 - 0.025^(1/1000) = 0.003682 (hand calculation); 873 of
    /// 1000: 0.85076 to 0.89302 (beta quantiles of scipy).
    #[test]
    fn a_chance_of_none_or_all_is_not_known_exactly() {
        let (low, high) = chance_interval(0.0, 1000);
        assert!(low == 0.0 && (high - 0.003_682).abs() < 2e-6, "{high}");
        let (low, high) = chance_interval(1.0, 1000);
        assert!(high == 1.0 && (1.0 - low - 0.003_682).abs() < 2e-6, "{low}");
        let (low, high) = chance_interval(0.873, 1000);
        assert!((low - 0.8507).abs() < 1e-4 && (high - 0.8930).abs() < 1e-4, "{low} {high}");
    }
}
