//! The forecast itself: simulate, compare with the spread of tight units,
//! repeat over the uncertain inputs.

use physics::cycle::{CycleError, CycleOutcome, simulate};
use physics::leak_paths::LeakPathError;
use physics::quantities::{Length, Probability};
use rayon::prelude::*;

use super::leak_size::{LeakSize, headspace_conditions, mall_at_reference};
use super::{DetectionPoint, Forecast, ForecastTrace, HeadspaceFigures, Share};
use super::{uncertain, verdict, window};
use crate::case_input::CaseInput;
use crate::notes::Note;
use crate::trace_features;

/// Sizes of the forecast, flow-equivalent µm: from well below to well above
/// what the trade quotes for vacuum decay.
const SMALLEST_SIZE_UM: f64 = 0.2;
const LARGEST_SIZE_UM: f64 = 500.0;
/// Spread of the pressure reached at the end of an evacuation, relative. A
/// working value (pump and valve timing), to be replaced by measured runs.
const REACH_SPREAD: f64 = 0.03;
/// How far above the tight units an open reach limit is set, in standard
/// deviations, and at least as a factor.
const REACH_LIMIT_DEVIATIONS: f64 = 6.0;
const REACH_LIMIT_FACTOR: f64 = 1.2;

/// How finely to forecast, and from which seed.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct ForecastSettings {
    /// Seed of the draws over the uncertain inputs.
    pub seed: u64,
    /// Number of draws over the uncertain inputs.
    pub n_draws: usize,
    /// Number of leak sizes, spread evenly on the log axis.
    pub n_sizes: usize,
}

impl Default for ForecastSettings {
    fn default() -> Self {
        Self { seed: 1, n_draws: 128, n_sizes: 61 }
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
    progress(1, total);

    // Every third size is enough inside the draws: the edges are interpolated
    // on the log axis, and the spread between draws is far larger.
    let coarse: Vec<LeakSize> = sizes.iter().copied().step_by(3).collect();
    let done = std::sync::atomic::AtomicUsize::new(1);
    let edges: Vec<window::Edges> = (0..settings.n_draws)
        .into_par_iter()
        .map(|draw| {
            let varied = uncertain::draw(input, settings.seed, draw as u64);
            let response = response(&varied.input, &coarse, varied.relative_flow_error)?;
            let finished = done.fetch_add(1, std::sync::atomic::Ordering::Relaxed) + 1;
            progress(finished, total);
            Ok(window::edges(&response.points, input.profile.purpose.required_detection))
        })
        .collect::<Result<Vec<_>, ForecastError>>()?;

    let window = window::combine(&nominal.points, &edges, input.profile.purpose.required_detection);
    let mall = match &input.profile.mall {
        Some(mall) => mall_at_reference(mall)?,
        None => None,
    };
    let blind_gap_um = window::blind_gap(&nominal.points, input.profile.purpose.required_detection);
    let mut notes = Vec::new();
    notes_on_model(input, &nominal, &mut notes);
    let verdict = verdict::decide(input, &window, mall.as_ref(), blind_gap_um, &mut notes);
    let traces = example_traces(input, &window, mall.as_ref())?;
    Ok(Forecast {
        seed: settings.seed,
        n_draws: settings.n_draws,
        tight_rise_pa: nominal.tight_rise_pa,
        tight_rise_sd_pa: nominal.tight_rise_sd_pa,
        tight_reach_pa: nominal.tight_reach_pa,
        tight_reach_s: nominal.tight_reach_s,
        thermal_recovery_s: input.rig.thermal_recovery.s(),
        rise_limit_pa: nominal.rise_limit_pa,
        reach_limit_pa: nominal.reach_limit_pa,
        detection: nominal.points,
        window,
        blind_gap_um,
        limited_by: nominal.limited_by,
        traces,
        headspace: headspace_figures(input)?,
        verdict,
        notes,
    })
}

/// Response of the rig to every size, with the limits that go with it.
pub(super) struct Response {
    tight_rise_pa: f64,
    tight_rise_sd_pa: f64,
    tight_reach_pa: f64,
    tight_reach_s: Option<f64>,
    rise_limit_pa: f64,
    reach_limit_pa: f64,
    points: Vec<DetectionPoint>,
    limited_by: Vec<Share>,
}

fn response(
    input: &CaseInput,
    sizes: &[LeakSize],
    relative_flow_error: f64,
) -> Result<Response, ForecastError> {
    let unlimited = without_limits(input);
    let tight = simulate(&unlimited.setup(None))?;
    let tight_rise_pa = rise_of(&unlimited, &tight).ok_or(ForecastError::NoMeasureStage)?;
    let noise_pa = trace_features::rise_noise_pa(&input.rig.sensor, &tight.trace);
    let background_pa = input.rig.background_spread * tight_rise_pa;
    let tight_rise_sd_pa = (background_pa * background_pa + noise_pa * noise_pa).sqrt();
    let first = tight.tiers.first().ok_or(ForecastError::NoMeasureStage)?;
    let tight_reach_pa = reach_pa(&tight);
    let reach_sd_pa = reach_deviation(input, tight_reach_pa);
    let z = digits::normal::quantile(
        1.0 - input.profile.purpose.tolerable_false_reject.fraction().max(1e-9),
    );
    let deciding = input.cycle.tiers.last().ok_or(ForecastError::NoTier)?;
    let rise_limit_pa =
        deciding.tier.rise_limit.map_or(tight_rise_pa + z * tight_rise_sd_pa, |limit| limit.pa());
    let reach_limit_pa = input.cycle.tiers[0].tier.reach_limit.map_or(
        (tight_reach_pa * REACH_LIMIT_FACTOR)
            .max(tight_reach_pa + REACH_LIMIT_DEVIATIONS * reach_sd_pa),
        |limit| limit.pa(),
    );
    let scale = (1.0 + relative_flow_error).max(0.01).sqrt();
    let points = sizes
        .iter()
        .map(|size| {
            let bore = Length::from_m(size.orifice_bore.m() * scale);
            let leak = physics::leak_paths::LeakPath::Orifice { bore_diameter: bore };
            let outcome = simulate(&unlimited.setup(Some(leak)))?;
            let rise_pa = rise_of(&unlimited, &outcome);
            let reached_pa = reach_pa(&outcome);
            let by_rise = rise_pa.map_or(0.0, |rise| {
                digits::normal::survival((rise_limit_pa - rise) / tight_rise_sd_pa)
            });
            let by_reach = digits::normal::survival(
                (reach_limit_pa - reached_pa) / reach_deviation(input, reached_pa),
            );
            Ok(DetectionPoint {
                flow_equivalent_um: size.flow_equivalent_diameter.um(),
                reference_throughput_pa_m3_per_s: size.reference_throughput_pa_m3_per_s(),
                rise_pa,
                reach_pa: reached_pa,
                by_rise,
                by_reach,
                probability: 1.0 - (1.0 - by_rise) * (1.0 - by_reach),
            })
        })
        .collect::<Result<Vec<_>, ForecastError>>()?;
    let limited_by = shares(&tight, noise_pa, background_pa);
    Ok(Response {
        tight_rise_pa,
        tight_rise_sd_pa,
        tight_reach_pa,
        tight_reach_s: first.reached_target.then_some(first.evacuate_end_s),
        rise_limit_pa,
        reach_limit_pa,
        points,
        limited_by,
    })
}

/// The same case with its limits taken off, so that every simulated cycle
/// runs to its end and can be compared with any limit afterwards.
fn without_limits(input: &CaseInput) -> CaseInput {
    let mut unlimited = input.clone();
    for purposed in &mut unlimited.cycle.tiers {
        purposed.tier.reach_limit = None;
        purposed.tier.rise_limit = None;
    }
    unlimited
}

fn rise_of(input: &CaseInput, outcome: &CycleOutcome) -> Option<f64> {
    let tier = u16::try_from(input.cycle.tiers.len()).ok()?;
    trace_features::read(&outcome.trace, tier).map(|features| features.rise_pa)
}

/// Pressure at the end of the first evacuation.
fn reach_pa(outcome: &CycleOutcome) -> f64 {
    trace_features::reached_pa(&outcome.trace, 1).unwrap_or(f64::INFINITY)
}

fn reach_deviation(input: &CaseInput, reach_pa: f64) -> f64 {
    let noise_pa = input.rig.sensor.white_noise.pa();
    ((REACH_SPREAD * reach_pa) * (REACH_SPREAD * reach_pa) + noise_pa * noise_pa).sqrt().max(1e-9)
}

fn shares(tight: &CycleOutcome, noise_pa: f64, background_pa: f64) -> Vec<Share> {
    let Some(last) = tight.tiers.last() else { return Vec::new() };
    let parts = [
        ("outgassing", last.contributions.outgassing_pa),
        ("trapped gas (virtual leak)", last.contributions.virtual_leak_pa),
        ("temperature recovery", last.contributions.thermal_pa),
        ("spread of the background between units (1 s)", background_pa),
        ("sensor noise in the rise (1 s)", noise_pa),
    ];
    let total = digits::sums::sum(parts.iter().map(|part| part.1.abs()));
    let mut shares: Vec<Share> = parts
        .into_iter()
        .filter(|part| part.1 != 0.0)
        .map(|(cause, pa)| Share {
            cause: cause.to_owned(),
            pa,
            share: if total > 0.0 { pa.abs() / total } else { 0.0 },
        })
        .collect();
    shares.sort_by(|a, b| b.share.total_cmp(&a.share));
    shares
}

fn notes_on_model(input: &CaseInput, nominal: &Response, notes: &mut Vec<Note>) {
    if nominal.tight_reach_s.is_none() {
        notes.push(Note::caution(
            "target-not-reached",
            "a tight unit does not reach the pressure to evacuate to within the time given",
            "allow more time, a higher pressure or a stronger pump",
        ));
    }
    if nominal.rise_limit_pa >= nominal.tight_rise_pa && nominal.rise_limit_pa > ceiling_pa(input) {
        notes.push(Note::caution(
            "ceiling-below-limit",
            "the whole headspace emptied into the chamber would stay below the rise limit",
            "use a smaller free volume, or another physical principle",
        ));
    }
    if input.profile.product.fill == crate::profile::Fill::Liquid {
        notes.push(Note::caution(
            "gas-side-only",
            "this forecast is for a leak that holds gas; a leak wetted by the product passes no \
             gas below its capillary pressure and is not forecast here",
            "state the leak site; challenge liquid-side leaks with product-filled positive controls",
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
