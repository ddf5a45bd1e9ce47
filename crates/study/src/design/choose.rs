//! The search: all candidates, the front, the draws, the choice.

use physics::cycle::{CycleError, CycleOutcome, simulate, simulate_batch};
use physics::leak_paths::{LeakPath, LeakPathError};
use physics::quantities::Length;
use rayon::prelude::*;

use super::candidates::{
    Early, MEASURES_S, Pressures, SETTLES_S, allowed_s, early_choices, early_tiers, last_tier,
    pressures,
};
use super::closed_stage::ClosedStage;
use super::score::{Curves, SizeCurve, edges, missed_by_reach, missed_by_rise};
use super::{AcceptableRanges, Candidate, Design, DesignSettings, checks, front};
use crate::case_input::CaseInput;
use crate::cycle::PurposedTier;
use crate::forecast::response::{TierForecast, tier_forecasts_up_to, without_limits};
use crate::forecast::uncertain::Draws;
use crate::forecast::window::Edges;
use crate::forecast::{
    ForecastError, ForecastSettings, LARGEST_SIZE_UM, LeakSize, SMALLEST_SIZE_UM, forecast,
    log_grid, mall_at_reference, simulated_bore,
};
use crate::notes::Note;
use crate::trace_features;
use crate::wording::rounded;

/// Most members of the front that are kept for a reader.
const MOST_OF_FRONT: usize = 40;

/// Most members of the front that are tried on the draws.
const MOST_TRIED: usize = 24;
/// Where a gap remains, the large end of the window may fall to this share of
/// the best one in the draws: it moves with the uncertain inputs.
const SHARE_OF_LARGEST: f64 = 0.5;

/// Why no design could be made.
#[derive(Debug, thiserror::Error)]
pub enum DesignError {
    /// The settings are too coarse or out of range.
    #[error(
        "a design needs at least 8 sizes, 16 draws, a share between 0 and 1 and a longest time \
         above 5 s"
    )]
    Settings,
    /// Free volumes that cannot be tried.
    #[error("free volumes to try must be above zero, and at most {most} of them")]
    FreeVolumes {
        /// How many are tried at most.
        most: usize,
    },
    /// A forecast inside the search failed.
    #[error("{0}")]
    Forecast(#[from] ForecastError),
    /// The simulator refused a cycle.
    #[error("a cycle could not be simulated: {0}")]
    Cycle(#[from] CycleError),
    /// A leak lies outside the flow law.
    #[error("a leak could not be evaluated: {0}")]
    Leak(#[from] LeakPathError),
}

/// A candidate as numbers: which curves, which times, what came out.
#[derive(Debug, Clone, Copy)]
struct Scored {
    curves: usize,
    settle_s: f64,
    measure_s: f64,
    time_s: f64,
    edges: Edges,
}

/// What a chosen cycle must find, and the cycle.
pub(super) struct Target<'a> {
    pub branch: &'a Branch,
    pub sizes: &'a [LeakSize],
    pub settle_s: f64,
    pub measure_s: f64,
    pub target_um: f64,
    pub up_to_um: f64,
}

impl Target<'_> {
    /// Does the cycle find the leak that matters and every larger one?
    fn is_found(&self, input: &CaseInput, curves: &Curves) -> bool {
        edges(input, curves, self.settle_s, self.measure_s)
            .is_some_and(|edges| reaches(&edges, self.target_um, self.up_to_um))
    }
}

/// A choice of early tiers and pressure.
pub(super) struct Branch {
    early: Early,
    pressure_pa: f64,
    evacuate_s: f64,
}

/// Searches the cycle that finds the leak that matters in the least time.
///
/// `progress` is told how many of how many parts are done.
///
/// # Errors
/// Settings without meaning, or a case outside what the physics can say.
pub fn design(
    input: &CaseInput,
    settings: &DesignSettings,
    progress: &(dyn Fn(usize, usize) + Sync),
) -> Result<Design, DesignError> {
    if settings.n_sizes < 8
        || settings.n_draws < 16
        || !(settings.required_share > 0.0 && settings.required_share <= 1.0)
        || !(settings.longest_s > 5.0)
    {
        return Err(DesignError::Settings);
    }
    let sizes = log_grid(SMALLEST_SIZE_UM, LARGEST_SIZE_UM, settings.n_sizes)
        .into_iter()
        .map(|um| LeakSize::from_flow_equivalent(Length::from_um(um)))
        .collect::<Result<Vec<_>, _>>()?;
    let target_um = match &input.profile.mall {
        Some(mall) => mall_at_reference(mall)?.map(|size| size.flow_equivalent_diameter.um()),
        None => None,
    };
    let mut notes = Vec::new();

    let pressures = pressures(input);
    explain_barred(&pressures, &mut notes);
    let wanted: Vec<(Early, f64)> = early_choices()
        .into_iter()
        .flat_map(|early| pressures.tried.iter().map(move |&pressure| (early.clone(), pressure)))
        .collect();
    let total = wanted.len() + 2;
    let done = std::sync::atomic::AtomicUsize::new(0);
    let tick = || {
        let finished = done.fetch_add(1, std::sync::atomic::Ordering::Relaxed) + 1;
        progress(finished, total);
    };
    let searched: Vec<Option<(Branch, Curves)>> = wanted
        .into_par_iter()
        .map(|(early, pressure_pa)| {
            let evacuate_s = tight_evacuation_s(input, &early, pressure_pa, settings.longest_s)?;
            let searched = match evacuate_s {
                None => None,
                Some(evacuate_s) => {
                    let branch = Branch { early, pressure_pa, evacuate_s };
                    curves(input, &branch, &sizes, 0.0)?.map(|curves| (branch, curves))
                }
            };
            tick();
            Ok(searched)
        })
        .collect::<Result<_, DesignError>>()?;
    let searched: Vec<(Branch, Curves)> = searched.into_iter().flatten().collect();
    let scored: Vec<Scored> = searched
        .par_iter()
        .enumerate()
        .flat_map_iter(|(index, (_, curves))| score(input, index, curves, settings.longest_s))
        .collect();

    let (usable, up_to_um) = usable(&scored, settings.up_to_um, &mut notes);
    let points: Vec<(f64, f64)> = usable
        .iter()
        .map(|one| (one.time_s, one.edges.smallest_um.unwrap_or(f64::INFINITY)))
        .collect();
    let places = front::front(&points);
    let mut members: Vec<Scored> = places.into_iter().map(|place| usable[place]).collect();
    thin_out(&mut members, target_um);
    tick();

    let target = |one: &Scored, target_um: f64| Target {
        branch: &searched[one.curves].0,
        sizes: &sizes,
        settle_s: one.settle_s,
        measure_s: one.measure_s,
        target_um,
        up_to_um,
    };
    let mut chosen = None;
    let mut shares: Vec<Option<f64>> = vec![None; members.len()];
    if let Some(target_um) = target_um {
        let fitting: Vec<usize> = (0..members.len())
            .filter(|place| reaches(&members[*place].edges, target_um, up_to_um))
            .take(MOST_TRIED)
            .collect();
        for place in fitting {
            let share = share_of_draws(input, &target(&members[place], target_um), settings)?;
            shares[place] = Some(share);
            if share >= settings.required_share {
                chosen = Some(place);
                break;
            }
        }
    }
    let candidates: Vec<Candidate> = members
        .iter()
        .zip(&shares)
        .map(|(one, share)| candidate(input, &searched[one.curves].0, one, *share))
        .collect();
    let (mut ranges, mut fixture, mut chosen_forecast) = (None, None, None);
    let mut found = Vec::new();
    if let (Some(place), Some(target_um)) = (chosen, target_um) {
        let mut designed = input.clone();
        designed.cycle = candidates[place].cycle.clone();
        let forecast_settings =
            ForecastSettings { seed: settings.seed, ..ForecastSettings::default() };
        let predicted = forecast(&designed, &forecast_settings, &|_, _| {})?;
        found = checks::checks(input, &candidates[place], &predicted);
        chosen_forecast = Some(predicted);
        let target = target(&members[place], target_um);
        let sought = (target_um, up_to_um);
        ranges = Some(acceptable(input, target.branch, &sizes, settings, sought)?);
        fixture = Some(super::fixture::fixture_range(input, &target, settings)?);
    }
    explain(input, target_um, chosen, &candidates, &mut notes);
    tick();
    Ok(Design {
        seed: settings.seed,
        n_draws: settings.n_draws,
        n_considered: scored.len(),
        front: candidates,
        target_um,
        chosen,
        forecast: chosen_forecast,
        ranges,
        fixture,
        checks: found,
        notes,
    })
}

/// Does a window hold the leak that matters and every larger one?
fn reaches(edges: &Edges, target_um: f64, up_to_um: f64) -> bool {
    edges.smallest_um.is_some_and(|um| um <= target_um)
        && (edges.largest_beyond || edges.largest_um.is_some_and(|um| um >= up_to_um))
}

/// Candidates without a gap up to the size asked; where there are none, those
/// that come nearest to it, and the size that then counts.
fn usable(scored: &[Scored], up_to_um: f64, notes: &mut Vec<Note>) -> (Vec<Scored>, f64) {
    let large = |one: &Scored| {
        if one.edges.largest_beyond { f64::INFINITY } else { one.edges.largest_um.unwrap_or(0.0) }
    };
    let whole: Vec<Scored> = scored
        .iter()
        .copied()
        .filter(|one| one.edges.smallest_um.is_some() && large(one) >= up_to_um)
        .collect();
    if !whole.is_empty() {
        return (whole, up_to_um);
    }
    let best = scored.iter().map(large).fold(0.0, f64::max);
    if best > 0.0 {
        notes.push(Note::caution(
            "gap-remains",
            format!(
                "no cycle considered finds every leak up to {} µm; the best reach {} µm",
                rounded(up_to_um),
                rounded(best)
            ),
            "find larger leaks by another principle before this test, or change the rig",
        ));
    }
    let nearest = scored
        .iter()
        .copied()
        .filter(|one| one.edges.smallest_um.is_some() && large(one) >= 0.95 * best)
        .collect();
    (nearest, SHARE_OF_LARGEST * best)
}

/// Keeps the front readable: evenly by place, with the members around the
/// leak that matters kept whole.
fn thin_out(members: &mut Vec<Scored>, target_um: Option<f64>) {
    if members.len() <= MOST_OF_FRONT {
        return;
    }
    let first_fine = target_um.and_then(|target| {
        members.iter().position(|one| one.edges.smallest_um.is_some_and(|um| um <= target))
    });
    let stride = members.len().div_ceil(MOST_OF_FRONT / 2);
    let mut place = 0;
    members.retain(|_| {
        let near =
            first_fine.is_some_and(|fine| place + 2 >= fine && place < fine + MOST_OF_FRONT / 2);
        let keep = near || place % stride == 0;
        place += 1;
        keep
    });
}

/// Time that a tight unit takes for the last evacuation, with its reserve, s;
/// `None` where it does not reach the pressure in any acceptable time.
fn tight_evacuation_s(
    input: &CaseInput,
    early: &Early,
    pressure_pa: f64,
    longest_s: f64,
) -> Result<Option<f64>, DesignError> {
    let mut trial = without_limits(input);
    trial.cycle.tiers = early_tiers(early, pressure_pa);
    trial.cycle.tiers.push(last_tier(pressure_pa, 0.5 * longest_s, 0.0, 1.0));
    let outcome = simulate(&trial.setup(None))?;
    let Some(last) = outcome.tiers.last().filter(|tier| tier.reached_target) else {
        return Ok(None);
    };
    let number = u16::try_from(outcome.tiers.len()).unwrap_or(u16::MAX);
    let start_s = outcome
        .trace
        .span(physics::trace::Stage::Evacuate, number)
        .map_or(0.0, |span| span.start_s);
    Ok(Some(allowed_s((last.evacuate_end_s - start_s).max(0.5))))
}

/// Simulates a branch for the tight unit and every size.
fn curves(
    input: &CaseInput,
    branch: &Branch,
    sizes: &[LeakSize],
    relative_flow_error: f64,
) -> Result<Option<Curves>, DesignError> {
    let closed_s = SETTLES_S[SETTLES_S.len() - 1] + MEASURES_S[MEASURES_S.len() - 1];
    let interval_s = input.cycle.sample_interval.s();
    let mut trial = without_limits(input);
    trial.cycle.tiers = early_tiers(&branch.early, branch.pressure_pa);
    trial.cycle.tiers.push(last_tier(
        branch.pressure_pa,
        branch.evacuate_s,
        0.0,
        closed_s + 2.0 * interval_s,
    ));
    let scale = (1.0 + relative_flow_error).max(0.01).sqrt();
    let mut setups = vec![trial.setup(None)];
    for size in sizes {
        let bore = Length::from_m(size.orifice_bore.m() * scale);
        let bore_diameter =
            simulated_bore(&input.profile.headspace, input.rig.wall_temperature, bore)?;
        setups.push(trial.setup(Some(LeakPath::Orifice { bore_diameter })));
    }
    let mut outcomes = simulate_batch(&setups, true).into_iter();
    let tight = match outcomes.next() {
        Some(outcome) => outcome?,
        None => return Ok(None),
    };
    let Some(stage) = ClosedStage::read(&tight, interval_s) else { return Ok(None) };
    if !stage.reached_target {
        return Ok(None);
    }
    let n_early = branch.early.tiers.len();
    let early = tier_forecasts_up_to(&trial, &tight, n_early, n_early + 1)?;
    let curves = sizes
        .iter()
        .zip(outcomes)
        .map(|(size, outcome)| {
            let outcome = outcome?;
            let stage = ClosedStage::read(&outcome, interval_s);
            let mut missed_early = missed_in_early_tiers(input, &early, &outcome);
            if let Some(reached) = &stage {
                missed_early *= missed_by_reach(
                    input,
                    tight.tiers.last().map_or(0.0, |tier| tier.pressure_at_settle_end.pa()),
                    reached.reached_pa,
                );
            }
            let flow_equivalent_um = size.flow_equivalent_diameter.um();
            Ok(SizeCurve { flow_equivalent_um, missed_early, stage })
        })
        .collect::<Result<Vec<_>, DesignError>>()?;
    Ok(Some(Curves {
        tight_start_s: stage.start_s,
        tight: stage,
        sizes: curves,
        rise_limits: n_early + 1,
    }))
}

fn missed_in_early_tiers(input: &CaseInput, early: &[TierForecast], outcome: &CycleOutcome) -> f64 {
    let mut missed = 1.0;
    for (index, tier) in early.iter().enumerate() {
        let number = u16::try_from(index + 1).unwrap_or(u16::MAX);
        if let Some(reached) = trace_features::reached_pa(&outcome.trace, number) {
            missed *= missed_by_reach(input, tier.tight_reach_pa, reached);
        }
        if let Some(features) = trace_features::read(&outcome.trace, number) {
            missed *= missed_by_rise(tier, features.rise_pa);
        }
    }
    missed
}

fn score(input: &CaseInput, index: usize, curves: &Curves, longest_s: f64) -> Vec<Scored> {
    let mut out = Vec::new();
    for settle_s in SETTLES_S {
        for measure_s in MEASURES_S {
            let time_s = curves.tight_start_s + settle_s + measure_s;
            if time_s > longest_s {
                continue;
            }
            if let Some(edges) = edges(input, curves, settle_s, measure_s) {
                out.push(Scored { curves: index, settle_s, measure_s, time_s, edges });
            }
        }
    }
    out
}

/// Share of the draws over the uncertain inputs in which a cycle finds what it
/// must.
pub(super) fn share_of_draws(
    input: &CaseInput,
    target: &Target<'_>,
    settings: &DesignSettings,
) -> Result<f64, DesignError> {
    let draws = Draws::new(input, settings.seed).map_err(ForecastError::from)?;
    let held: Vec<bool> = (0..settings.n_draws)
        .into_par_iter()
        .map(|number| {
            let varied = draws.even(input, number);
            let curves =
                curves(&varied.input, target.branch, target.sizes, varied.relative_flow_error)?;
            Ok(curves.is_some_and(|curves| target.is_found(&varied.input, &curves)))
        })
        .collect::<Result<_, DesignError>>()?;
    Ok(held.iter().filter(|held| **held).count() as f64 / settings.n_draws as f64)
}

/// Share of the draws that work, for every settling and measuring time.
fn acceptable(
    input: &CaseInput,
    branch: &Branch,
    sizes: &[LeakSize],
    settings: &DesignSettings,
    (target_um, up_to_um): (f64, f64),
) -> Result<AcceptableRanges, DesignError> {
    let draws = Draws::new(input, settings.seed).map_err(ForecastError::from)?;
    let works: Vec<Vec<bool>> = (0..settings.n_draws)
        .into_par_iter()
        .map(|number| {
            let varied = draws.even(input, number);
            let curves = curves(&varied.input, branch, sizes, varied.relative_flow_error)?;
            let mut works = Vec::with_capacity(SETTLES_S.len() * MEASURES_S.len());
            for settle_s in SETTLES_S {
                for measure_s in MEASURES_S {
                    works.push(curves.as_ref().is_some_and(|curves| {
                        edges(&varied.input, curves, settle_s, measure_s)
                            .is_some_and(|edges| reaches(&edges, target_um, up_to_um))
                    }));
                }
            }
            Ok(works)
        })
        .collect::<Result<_, DesignError>>()?;
    let share = |place: usize| {
        works.iter().filter(|works| works[place]).count() as f64 / works.len() as f64
    };
    Ok(AcceptableRanges {
        settles_s: SETTLES_S.to_vec(),
        measures_s: MEASURES_S.to_vec(),
        share: (0..SETTLES_S.len())
            .map(|row| {
                (0..MEASURES_S.len()).map(|column| share(row * MEASURES_S.len() + column)).collect()
            })
            .collect(),
        required_share: settings.required_share,
    })
}

fn candidate(input: &CaseInput, branch: &Branch, one: &Scored, share: Option<f64>) -> Candidate {
    let mut tiers: Vec<PurposedTier> = early_tiers(&branch.early, branch.pressure_pa);
    tiers.push(last_tier(branch.pressure_pa, branch.evacuate_s, one.settle_s, one.measure_s));
    let mut cycle = input.cycle.clone();
    cycle.tiers = tiers;
    Candidate {
        cycle,
        tight_time_s: one.time_s,
        smallest_um: one.edges.smallest_um,
        largest_um: one.edges.largest_um,
        largest_beyond: one.edges.largest_beyond,
        share_of_draws: share,
    }
}

/// Says which pressures were not tried, and why.
fn explain_barred(pressures: &Pressures, notes: &mut Vec<Note>) {
    let Some((_, failed)) = &pressures.barred else { return };
    let next = "hold the plunger in the fixture or support the container, or measure what it \
                withstands, and search again";
    for check in failed {
        let finding = format!("{}: {}", check.subject, check.finding);
        notes.push(match pressures.tried.first() {
            Some(&lowest_pa) => Note::caution(
                "pressures-barred",
                format!("no pressure below {} Pa is considered; {finding}", rounded(lowest_pa)),
                next,
            ),
            None => Note::refusal(
                "no-pressure-stood",
                format!("the container stands no vacuum, so no cycle is considered; {finding}"),
                next,
            ),
        });
    }
}

fn explain(
    input: &CaseInput,
    target_um: Option<f64>,
    chosen: Option<usize>,
    candidates: &[Candidate],
    notes: &mut Vec<Note>,
) {
    if target_um.is_none() {
        notes.push(Note::refusal(
            "no-target",
            if input.profile.mall.is_some() {
                "the leak that matters is stated in helium, which has no fixed equivalent in air, \
                 so no method is chosen"
            } else {
                "nobody has said which leak matters, so no method is chosen"
            },
            "state the leak that matters as a flow of air or a flow-equivalent diameter",
        ));
    } else if chosen.is_none() {
        let finest =
            candidates.iter().filter_map(|one| one.smallest_um).fold(f64::INFINITY, f64::min);
        let text = if finest.is_finite() {
            format!(
                "no cycle considered finds the leak that matters in enough of the draws; the \
                 finest reaches {} µm at the stated inputs",
                rounded(finest)
            )
        } else {
            "no cycle considered finds any leak with the required probability".to_owned()
        };
        notes.push(Note::refusal(
            "no-method",
            text,
            "use a smaller free volume or a quieter rig, accept a longer cycle, or ask for another \
             physical principle",
        ));
    }
    notes.push(Note::remark(
        "limits-follow",
        "reject limits of the chosen method come from the forecast until negative controls have \
         been run",
        "plan the study with `isobar plan`, and rehearse it before units are spent",
    ));
}
