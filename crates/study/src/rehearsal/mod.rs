//! Rehearsal: the planned study, done many times on paper before a unit is
//! spent, to see how probably it shows what it must.
//!
//! In every rehearsal the uncertain inputs are drawn once (that is the rig as
//! it really is), days, lots, rigs and units vary about it as in a simulated
//! study, the reject limit is set from the rehearsed negative controls, and the criteria
//! are judged by the same statistics as real results; only the detection bound
//! has a quick stand-in, set to the one of the results in the first rehearsals.

mod adaptive;
mod bound;
mod change;
mod parts;

pub use adaptive::AdaptiveArm;
pub use bound::BoundCalibration;
pub use parts::{PartOfPlan, Power};

use change::{Change, Unit};

use rayon::prelude::*;
use statistics::detection::{HitMiss, Link, fit_hit_miss};
use statistics::tolerance_limits::upper_limit_from_values;

use crate::case_input::CaseInput;
use crate::criteria::{BENT_BELOW, Criterion, Subject};
use crate::criteria_judged::is_large;
use crate::forecast::response::{Response, response};
use crate::forecast::uncertain::Draws;
use crate::forecast::{
    Forecast, ForecastError, LARGEST_SIZE_UM, LeakSize, SMALLEST_SIZE_UM, log_grid,
};
use crate::notes::Note;
use crate::plan::Plan;
use crate::results::limit_and_fit;
use crate::runs::{ARRIVAL_LOG_SD, BORE_LOG_SD, DAY_SHARE, FLOW_LOG_SD, Shares};
use crate::unit_class::RunClass;
use crate::wording::rounded;
use digits::RandomStream;
use physics::quantities::Length;

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
    /// Share of the rehearsals in which no detection curve could be fitted,
    /// because hits and misses did not overlap.
    pub without_curve: f64,
    /// The plan with more and fewer units.
    pub variants: Vec<Variant>,
    /// The study with positive controls chosen one after the other; `None`
    /// where the plan has no detection bound to reach.
    pub adaptive: Option<AdaptiveArm>,
    /// What the reader should know.
    pub notes: Vec<Note>,
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
    bound_um: Option<f64>,
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
    let played = |units: &[Unit]| -> Vec<Outcome> {
        truths
            .par_iter()
            .enumerate()
            .map(|(number, truth)| {
                let stream = (settings.seed, number as u64);
                play(truth, (units, shares), &wanted, &calibration, stream)
            })
            .collect()
    };
    let outcomes = played(&planned);
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
            let outcomes = played(&units);
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
    let bounds: Vec<f64> = outcomes.iter().filter_map(|one| one.bound_um).collect();
    let adaptive = adaptive_arm(&truths, &outcomes, plan, &wanted, &calibration, settings.seed);
    let mut notes = explain(&chances, &variants, plan, probability_all_met);
    notes.extend(parts::explain(&parts));
    notes.extend(parts::of_the_limit(limit_holds, confidence, plan));
    notes.extend(calibration.note());
    notes.extend(adaptive.as_ref().and_then(explain_adaptive));
    Ok(Rehearsal {
        seed: settings.seed,
        n: settings.n,
        without_curve: share(settings.n - bounds.len()),
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

/// Rehearsals in which the adaptive study is played: each fits a curve for
/// every unit.
const ADAPTIVE_REHEARSALS: usize = 200;

fn adaptive_arm(
    truths: &[Truth],
    outcomes: &[Outcome],
    plan: &Plan,
    wanted: &[Criterion],
    calibration: &BoundCalibration,
    seed: u64,
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
        .zip(&outcomes[..n])
        .enumerate()
        .map(|(number, (truth, outcome))| match outcome.limit_pa {
            None => (false, 0),
            Some(limit_pa) => {
                let units = (sizes.as_slice(), planned_units);
                let stream = (seed, number as u64);
                adaptive::play(truth, limit_pa, units, at_most_um, calibration, stream)
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

/// Spread of the background between units and noise of one reading, Pa.
fn noise_of(truth: &Truth) -> Option<(f64, f64)> {
    let last = truth.response.tiers.last()?;
    let background_pa = truth.input.rig.background_spread * last.tight_rise_pa;
    let noise_pa = (last.tight_rise_sd_pa * last.tight_rise_sd_pa - background_pa * background_pa)
        .max(0.0)
        .sqrt();
    Some((background_pa, noise_pa))
}

/// A rig as it really is, with its response to every size.
struct Truth {
    input: CaseInput,
    response: Response,
}

/// The rig as it may really be, so many times over.
fn truths_of(
    input: &CaseInput,
    n: usize,
    seed: u64,
    progress: &(dyn Fn(usize, usize) + Sync),
) -> Result<Vec<Truth>, ForecastError> {
    let sizes = log_grid(SMALLEST_SIZE_UM, LARGEST_SIZE_UM, 41)
        .into_iter()
        .map(|um| LeakSize::from_flow_equivalent(Length::from_um(um)).map_err(ForecastError::from))
        .collect::<Result<Vec<_>, _>>()?;
    let done = std::sync::atomic::AtomicUsize::new(0);
    let draws = Draws::new(input, seed)?;
    (0..n)
        .into_par_iter()
        .map(|number| {
            let varied = draws.random(input, number as u64);
            let response = response(&varied.input, &sizes, varied.relative_flow_error)?;
            let finished = done.fetch_add(1, std::sync::atomic::Ordering::Relaxed) + 1;
            progress(finished, n);
            Ok(Truth { input: varied.input, response })
        })
        .collect()
}

/// The readings of one rehearsal, with its reject limit.
struct Readings {
    negative: Vec<f64>,
    /// Label, verified size, rise.
    positive: Vec<(f64, f64, f64)>,
    /// Flows and rises of the challenges.
    flows: (Vec<f64>, Vec<f64>),
    /// Days since filling and rise of every aged control with a leak, in the
    /// order of the plan.
    aged: Vec<(u32, f64)>,
    limit_pa: f64,
}

impl Readings {
    /// Hits and misses of the positive controls.
    fn hits(&self) -> Vec<HitMiss> {
        self.positive
            .iter()
            .map(|unit| HitMiss { size: unit.1, hits: u64::from(unit.2 > self.limit_pa), of: 1 })
            .collect()
    }
}

/// Reads one rehearsal; `None` where no limit can be set.
fn read(
    truth: &Truth,
    (units, shares): (&[Unit], Shares),
    (seed, number): (u64, u64),
) -> Option<Readings> {
    let purpose = &truth.input.profile.purpose;
    // Streams of the draws over the inputs come first; rehearsals follow.
    let mut stream = RandomStream::new(seed, (1 << 40) + number);
    let levels = |stream: &mut RandomStream, of: fn(&Unit) -> u32| -> Vec<f64> {
        let last = units.iter().map(of).max().unwrap_or(0);
        (0..=last).map(|_| stream.normal()).collect()
    };
    let day_levels = levels(&mut stream, |unit| unit.day);
    // Lots and rigs have streams of their own, so that they move nothing else.
    let lot_levels = levels(&mut RandomStream::new(seed, (1 << 44) + number), |unit| unit.lot);
    let rig_levels = levels(&mut RandomStream::new(seed, (1 << 45) + number), |unit| unit.rig);
    let last = truth.response.tiers.last()?;
    let (background_pa, noise_pa) = noise_of(truth)?;
    let mut negative = Vec::new();
    let mut positive: Vec<(f64, f64, f64)> = Vec::new();
    let mut flows = (Vec::new(), Vec::new());
    let mut aged = Vec::new();
    // What is neither negative nor positive control has streams of its own, so
    // that it does not move theirs.
    let mut beside = RandomStream::new(seed, (1 << 43) + number);
    for unit in units.iter().filter(|unit| !unit.liquid_side) {
        let Unit { class, day, lot, rig, .. } = *unit;
        let common = DAY_SHARE * day_levels[day as usize]
            + shares.lot * lot_levels[lot as usize]
            + shares.rig * rig_levels[rig as usize];
        let offset = |stream: &mut RandomStream| {
            let level = common + shares.within * stream.normal();
            background_pa * level + noise_pa * stream.normal()
        };
        match class {
            RunClass::Blank | RunClass::AgedControl { nominal_um: None, .. } => {}
            RunClass::FlowChallenge { flow_pa_m3_per_s } => {
                let given = flow_pa_m3_per_s * digits::scalar::exp(FLOW_LOG_SD * beside.normal());
                flows.0.push(flow_pa_m3_per_s);
                flows.1.push(rise_of_flow(&truth.response, given) + offset(&mut beside));
            }
            RunClass::AgedControl { nominal_um: Some(nominal_um), age_days } => {
                let true_um = nominal_um * digits::scalar::exp(BORE_LOG_SD * beside.normal());
                let (rise_pa, otherwise) = seen(&truth.response, true_um);
                let rise_pa = rise_pa + offset(&mut beside);
                let by_limit = beside.uniform() < otherwise;
                aged.push((age_days, if by_limit { f64::INFINITY } else { rise_pa }));
            }
            RunClass::NegativeControl => {
                negative.push(last.tight_rise_pa + offset(&mut stream));
            }
            RunClass::PositiveControl { nominal_um, .. } => {
                let offset_pa = offset(&mut stream);
                let true_um = nominal_um * digits::scalar::exp(BORE_LOG_SD * stream.normal());
                let verified_um = true_um * digits::scalar::exp(ARRIVAL_LOG_SD * stream.normal());
                let (rise_pa, otherwise) = seen(&truth.response, true_um);
                let chance = stream.uniform();
                let rise_pa = rise_pa + offset_pa;
                let rise_pa = if chance < otherwise { f64::INFINITY } else { rise_pa };
                positive.push((nominal_um, verified_um, rise_pa));
            }
        }
    }
    let content = 1.0 - purpose.tolerable_false_reject.fraction();
    let confidence = purpose.confidence.fraction();
    let limit_pa = upper_limit_from_values(&negative, content, confidence).ok()?.limit;
    Some(Readings { negative, positive, flows, aged, limit_pa })
}

/// One rehearsal.
fn play(
    truth: &Truth,
    units: (&[Unit], Shares),
    wanted: &[Criterion],
    calibration: &BoundCalibration,
    stream: (u64, u64),
) -> Outcome {
    let Some(readings) = read(truth, units, stream) else {
        return Outcome {
            met: vec![false; wanted.len()],
            limit_pa: None,
            limit_holds: false,
            bound_um: None,
        };
    };
    let limit = readings.limit_pa;
    let fit = fit_hit_miss(&readings.hits(), Link::Logit, true, calibration.confidence).ok();
    let bound_um = fit.as_ref().and_then(|fit| fit.a90_95);
    // Where hits and misses do not overlap, the results go by the readings, whose
    // bound lies between the largest miss and the smallest hit: the smallest hit
    // stands for it here.
    let bracket_um = fit.as_ref().and_then(|fit| fit.bracket).map(|bracket| bracket.1);
    let met = wanted
        .iter()
        .map(|criterion| match criterion.subject {
            Subject::FalseRejects => readings.negative.iter().all(|rise| *rise <= limit),
            Subject::LimitLeavesRoom { at_most_pa } => limit <= at_most_pa,
            Subject::LargeLeaksFound { from_um } => {
                let positive = &readings.positive;
                let mut large = positive.iter().filter(|unit| is_large(unit.0, from_um)).peekable();
                large.peek().is_some() && large.all(|unit| unit.2 > limit)
            }
            Subject::DetectionBound { at_most_um } => {
                bound_um.or(bracket_um).is_some_and(|um| um <= at_most_um)
            }
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
    Outcome { met, limit_pa: Some(limit), limit_holds, bound_um }
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

/// Rise of a constant flow in the last tier, Pa: that of the leak for which it
/// stands, up to where leaks empty the headspace.
fn rise_of_flow(response: &Response, flow: f64) -> f64 {
    let tight_pa = response.tiers.last().map_or(0.0, |tier| tier.tight_rise_pa);
    let mut below = (0.0, tight_pa);
    for point in &response.points {
        let (Some(challenge), Some(rise_pa)) = (point.challenge_pa_m3_per_s, point.rise_pa) else {
            continue;
        };
        if challenge <= below.0 {
            continue;
        }
        if challenge >= flow {
            return below.1 + (rise_pa - below.1) * (flow - below.0) / (challenge - below.0);
        }
        below = (challenge, rise_pa);
    }
    // Beyond the last leak it grows in proportion.
    if below.0 > 0.0 { tight_pa + (below.1 - tight_pa) * flow / below.0 } else { tight_pa }
}

/// Rise of a leak in the last tier, and the probability that an earlier limit
/// rejects it: read between the sizes of the response on the log axis.
fn seen(response: &Response, um: f64) -> (f64, f64) {
    let points = &response.points;
    let above = points
        .iter()
        .position(|point| point.flow_equivalent_um >= um)
        .unwrap_or(points.len() - 1)
        .max(1);
    let (low, high) = (&points[above - 1], &points[above]);
    let span = digits::scalar::ln(high.flow_equivalent_um / low.flow_equivalent_um);
    let weight = (digits::scalar::ln(um / low.flow_equivalent_um) / span).clamp(0.0, 1.0);
    let mix = |a: f64, b: f64| a + weight * (b - a);
    let rise_pa = mix(low.rise_pa.unwrap_or(0.0), high.rise_pa.unwrap_or(0.0));
    (rise_pa, mix(response.found_earlier[above - 1], response.found_earlier[above]))
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
