//! The forecast itself: simulate, compare with the spread of tight units,
//! repeat over the uncertain inputs.

use physics::cycle::{CycleError, simulate};
use physics::leak_paths::LeakPathError;
use physics::liquids::LiquidError;
use physics::quantities::{Length, Probability};
use rayon::prelude::*;

use super::correlated::CorrelationError;
use super::leak_size::{LeakSize, headspace_conditions, mall_at_reference};
use super::liquid_side::{LiquidCase, LiquidDraw};
use super::response::{Response, response, without_limits};
use super::{
    Forecast, ForecastTrace, HeadspaceFigures, false_rejects, liquid_side, uncertain, unknowns,
    verdict, window,
};
use crate::case_input::CaseInput;
use crate::notes::Note;

/// Sizes of the forecast, flow-equivalent µm: from well below to well above
/// what the trade quotes for vacuum decay.
pub(crate) const SMALLEST_SIZE_UM: f64 = 0.2;
pub(crate) const LARGEST_SIZE_UM: f64 = 500.0;
/// How finely to forecast, and from which seed.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct ForecastSettings {
    /// Seed of the draws over the uncertain inputs.
    pub seed: u64,
    /// Number of draws over the uncertain inputs.
    pub n_draws: usize,
    /// Number of leak sizes, spread evenly on the log axis.
    pub n_sizes: usize,
    /// Whether leaks under the liquid are forecast too, which takes most of the
    /// time where there is one.
    pub liquid_side: bool,
}

impl Default for ForecastSettings {
    fn default() -> Self {
        Self { seed: 1, n_draws: 128, n_sizes: 61, liquid_side: true }
    }
}

/// Why a forecast could not be made.
#[derive(Debug, thiserror::Error)]
pub enum ForecastError {
    /// The cycle has no tier to decide with.
    #[error("the cycle has no tier, so nothing decides; give it at least one")]
    NoTier,
    /// Too few sizes or draws for a curve with an interval.
    #[error("a forecast needs at least 8 sizes and 16 draws, got {n_sizes} and {n_draws}")]
    TooCoarse {
        /// Sizes asked for.
        n_sizes: usize,
        /// Draws asked for.
        n_draws: usize,
    },
    /// The simulator refused the set-up.
    #[error("the cycle could not be simulated: {0}")]
    Cycle(#[from] CycleError),
    /// A leak lies outside the flow law.
    #[error("the leak could not be evaluated: {0}")]
    Leak(#[from] LeakPathError),
    /// Simulated tests that make no curve.
    #[error(
        "simulated tests need at least 100 of them and sizes in rising order, got {n} from \
         {smallest_um} to {largest_um} µm"
    )]
    NoTrials {
        /// Tests asked for.
        n: usize,
        /// Smallest size, µm.
        smallest_um: f64,
        /// Largest size, µm.
        largest_um: f64,
    },
    /// Correlations that cannot be drawn.
    #[error("{0}")]
    Correlations(#[from] CorrelationError),
    /// The liquid has no properties at this temperature.
    #[error("the liquid could not be evaluated: {0}")]
    Liquid(#[from] LiquidError),
    /// The trace of the tight unit could not be read.
    #[error("the simulated trace of a tight unit has no measure stage that can be read")]
    NoMeasureStage,
}

/// Predicts what vacuum decay can see on this container and rig.
///
/// `progress` is told how many of how many parts are done; it may be called
/// from several threads, in any order.
///
/// # Errors
/// Where the cycle or a leak lies outside what the physics can say.
pub fn forecast(
    input: &CaseInput,
    settings: &ForecastSettings,
    progress: &(dyn Fn(usize, usize) + Sync),
) -> Result<Forecast, ForecastError> {
    if input.cycle.tiers.is_empty() {
        return Err(ForecastError::NoTier);
    }
    if settings.n_sizes < 8 || settings.n_draws < 16 {
        return Err(ForecastError::TooCoarse {
            n_sizes: settings.n_sizes,
            n_draws: settings.n_draws,
        });
    }
    let total = settings.n_draws + 1;
    let sizes = log_grid(SMALLEST_SIZE_UM, LARGEST_SIZE_UM, settings.n_sizes)
        .into_iter()
        .map(|um| LeakSize::from_flow_equivalent(Length::from_um(um)))
        .collect::<Result<Vec<_>, _>>()?;
    let nominal = response(input, &sizes, 0.0)?;
    let probability = input.profile.purpose.required_detection;
    let curve = around_edges(input, &nominal, 0.0)?;
    progress(1, total);

    // Every third size is enough inside the draws, with more of them about the
    // edges.
    let coarse: Vec<LeakSize> = sizes.iter().copied().step_by(3).collect();
    let draws = uncertain::Draws::new(input, settings.seed)?;
    let done = std::sync::atomic::AtomicUsize::new(1);
    // Leaks under the liquid, where enough is known of it.
    let mut notes = Vec::new();
    let liquid = if settings.liquid_side { LiquidCase::of(input, &mut notes)? } else { None };
    let drawn: Vec<([f64; uncertain::INPUTS], window::Edges, f64, Option<LiquidDraw>)> = (0
        ..settings.n_draws)
        .into_par_iter()
        .map(|draw| {
            let varied = draws.even(input, draw);
            let response = response(&varied.input, &coarse, varied.relative_flow_error)?;
            let finished = done.fetch_add(1, std::sync::atomic::Ordering::Relaxed) + 1;
            progress(finished, total);
            let curve = around_edges(&varied.input, &response, varied.relative_flow_error)?;
            let rejects =
                false_rejects::any(&false_rejects::by_tier(&varied.input, &response.tiers));
            let found = edges(&curve, probability, rejects);
            let under = match &liquid {
                Some(liquid) => {
                    let scores = draws.even_liquid_scores(draw);
                    Some(liquid.draw(&varied, &response, &scores)?)
                }
                None => None,
            };
            Ok((varied.scores, found, rejects, under))
        })
        .collect::<Result<Vec<_>, ForecastError>>()?;
    let mut scores = Vec::with_capacity(drawn.len());
    let mut edge_list = Vec::with_capacity(drawn.len());
    let mut under_liquid = Vec::new();
    let mut rejects = Vec::with_capacity(drawn.len());
    for (score, edge, rejected, under) in drawn {
        scores.push(score);
        edge_list.push(edge);
        rejects.push(rejected);
        under_liquid.extend(under);
    }
    let unknowns = unknowns::rank(&uncertain::inputs(input), draws.matrix(), &scores, &edge_list);

    let by_tier = false_rejects::by_tier(input, &nominal.tiers);
    let rejects = false_rejects::combine(input, by_tier, rejects);
    let nominal_edges = edges(&curve, probability, rejects.probability);
    let window = window::combine(nominal_edges, &edge_list);
    let mall = match &input.profile.mall {
        Some(mall) => mall_at_reference(mall)?,
        None => None,
    };
    let blind_gap_um = window::blind_gap(&curve, probability);
    notes_on_model(input, &nominal, &mut notes)?;
    let liquid_side = match &liquid {
        Some(liquid) => {
            let found = liquid.forecast(&nominal, &under_liquid, draws.matrix())?;
            notes.extend(liquid_side::notes(input, &found));
            Some(found)
        }
        None => None,
    };
    let found = verdict::Found {
        window: &window,
        mall: mall.as_ref(),
        blind_gap_um,
        liquid_side: liquid_side.as_ref(),
        false_rejects: &rejects,
    };
    let verdict = verdict::decide(input, &found, &mut notes);
    let traces = example_traces(input, &window, mall.as_ref())?;
    let (first, last) = (nominal.first()?, nominal.last()?);
    Ok(Forecast {
        seed: settings.seed,
        n_draws: settings.n_draws,
        tight_rise_pa: last.tight_rise_pa,
        tight_rise_sd_pa: last.tight_rise_sd_pa,
        tight_reach_pa: first.tight_reach_pa,
        tight_reach_s: nominal.tight_reach_s,
        thermal_recovery_s: input.rig.thermal_recovery.s(),
        rise_limit_pa: last.rise_limit_pa.ok_or(ForecastError::NoMeasureStage)?,
        reach_limit_pa: first.reach_limit_pa,
        tiers: nominal.tiers,
        detection: nominal.points,
        window,
        blind_gap_um,
        false_rejects: Some(rejects),
        limited_by: nominal.limited_by,
        unknowns,
        traces,
        headspace: headspace_figures(input)?,
        liquid_side,
        verdict,
        notes,
    })
}

/// Edges of the window; none where the limits reject most tight units, because what
/// is found then says nothing of a leak.
fn edges(curve: &[(f64, f64)], probability: Probability, rejects: f64) -> window::Edges {
    if rejects > false_rejects::MOST_ARE_REJECTED {
        window::Edges::NONE
    } else {
        window::edges_of(curve, probability)
    }
}

/// The curve of a response with more sizes about its edges.
fn around_edges(
    input: &CaseInput,
    found: &Response,
    relative_flow_error: f64,
) -> Result<Vec<(f64, f64)>, ForecastError> {
    let points = window::plain(&found.points);
    let more = window::sizes_at_edges(&points, input.profile.purpose.required_detection)
        .into_iter()
        .map(|um| LeakSize::from_flow_equivalent(Length::from_um(um)))
        .collect::<Result<Vec<_>, _>>()?;
    if more.is_empty() {
        return Ok(points);
    }
    let between = response(input, &more, relative_flow_error)?;
    Ok(window::merged(points, window::plain(&between.points)))
}

fn notes_on_model(
    input: &CaseInput,
    nominal: &Response,
    notes: &mut Vec<Note>,
) -> Result<(), ForecastError> {
    if nominal.tight_reach_s.is_none() {
        notes.push(Note::caution(
            "target-not-reached",
            "a tight unit does not reach the pressure to evacuate to within the time given",
            "allow more time, a higher pressure or a stronger pump",
        ));
    }
    let last = nominal.last()?;
    let rise_limit_pa = last.rise_limit_pa.ok_or(ForecastError::NoMeasureStage)?;
    if rise_limit_pa >= last.tight_rise_pa && rise_limit_pa > ceiling_pa(input) {
        notes.push(Note::caution(
            "ceiling-below-limit",
            "the whole headspace emptied into the chamber would stay below the rise limit",
            "use a smaller free volume, or another physical principle",
        ));
    }
    if input.profile.product.may_plug {
        notes.push(Note::caution(
            "may-plug",
            "dried product may close a leak; no room-temperature vacuum test sees a closed leak",
            "plan an ageing arm with product-filled positive controls",
        ));
    }
    notes.push(Note::remark(
        "leak-model",
        "leaks are modelled as thin holes with the stated flow at the reference state; a long \
         channel with the same flow at 1 atm loses flow faster as the headspace empties",
        "compare with the channel figures of “isobar leak” for the wall of this container",
    ));
    Ok(())
}

fn example_traces(
    input: &CaseInput,
    window: &super::Window,
    mall: Option<&LeakSize>,
) -> Result<Vec<ForecastTrace>, ForecastError> {
    let unlimited = without_limits(input);
    let mut wanted: Vec<(String, f64)> = vec![("tight unit".to_owned(), 0.0)];
    if let Some(edge) = window.smallest {
        wanted.push(("smallest detectable".to_owned(), edge.um));
    }
    if let Some(size) = mall {
        wanted.push(("leak that matters (MALL)".to_owned(), size.flow_equivalent_diameter.um()));
    }
    if let Some(edge) = window.largest {
        wanted.push(("large leak".to_owned(), edge.um.min(100.0)));
    }
    wanted
        .into_iter()
        .map(|(label, um)| {
            let leak = if um > 0.0 {
                Some(LeakSize::from_flow_equivalent(Length::from_um(um))?.as_orifice())
            } else {
                None
            };
            let outcome = simulate(&unlimited.setup(leak))?;
            Ok(ForecastTrace { label, flow_equivalent_um: um, trace: outcome.trace })
        })
        .collect()
}

fn headspace_figures(input: &CaseInput) -> Result<HeadspaceFigures, ForecastError> {
    let headspace = &input.profile.headspace;
    let volume_m3 = headspace.volume.value.m3();
    let pressure_pa = headspace.pressure.value.pa();
    let conditions = headspace_conditions(headspace, input.rig.wall_temperature);
    let emptying = [2.0, 5.0, 10.0, 20.0, 50.0, 100.0]
        .into_iter()
        .map(|um| {
            let size = LeakSize::from_flow_equivalent(Length::from_um(um))?;
            let flow = size.as_orifice().flow(&conditions)?.molar_flow;
            let throughput = flow.throughput_at(input.rig.wall_temperature).pa_m3_per_s();
            // The choked or molecular flow is proportional to the pressure, so
            // the ratio at the start is the time constant.
            Ok((um, volume_m3 * pressure_pa / throughput))
        })
        .collect::<Result<Vec<_>, ForecastError>>()?;
    Ok(HeadspaceFigures { ceiling_pa: ceiling_pa(input), emptying })
}

/// Rise if the whole headspace emptied into the chamber.
fn ceiling_pa(input: &CaseInput) -> f64 {
    let headspace = &input.profile.headspace;
    let volume_m3 = headspace.volume.value.m3();
    headspace.pressure.value.pa() * volume_m3 / (volume_m3 + input.rig.free_volume.value.m3())
}

/// Values spread evenly on a log axis, both ends included.
pub(crate) fn log_grid(first: f64, last: f64, n: usize) -> Vec<f64> {
    let span = digits::scalar::ln(last / first);
    (0..n)
        .map(|index| first * digits::scalar::exp(span * index as f64 / (n - 1).max(1) as f64))
        .collect()
}

/// Required detection as a plain fraction that a curve can reach.
pub(super) fn required(probability: Probability) -> f64 {
    probability.fraction().clamp(1e-6, 1.0 - 1e-9)
}
