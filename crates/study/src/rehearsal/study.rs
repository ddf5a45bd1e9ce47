//! One rehearsed study: a rig as it may really be, and what its runs would read.

use rayon::prelude::*;
use statistics::detection::HitMiss;
use statistics::tolerance_limits::upper_limit_from_values;

use super::change::Unit;
use crate::case_input::CaseInput;
use crate::forecast::response::{Response, response};
use crate::forecast::uncertain::Draws;
use crate::forecast::{ForecastError, LARGEST_SIZE_UM, LeakSize, SMALLEST_SIZE_UM, log_grid};
use crate::runs::{ARRIVAL_LOG_SD, BORE_LOG_SD, DAY_SHARE, FLOW_LOG_SD, Shares};
use crate::unit_class::RunClass;
use digits::RandomStream;
use physics::quantities::Length;

/// Spread of the background between units and noise of one reading, Pa.
pub(super) fn noise_of(truth: &Truth) -> Option<(f64, f64)> {
    let last = truth.response.tiers.last()?;
    let background_pa = truth.input.rig.background_spread * last.tight_rise_pa;
    let noise_pa = (last.tight_rise_sd_pa * last.tight_rise_sd_pa - background_pa * background_pa)
        .max(0.0)
        .sqrt();
    Some((background_pa, noise_pa))
}

/// A rig as it really is, with its response to every size.
pub(super) struct Truth {
    pub(super) input: CaseInput,
    pub(super) response: Response,
}

/// The rig as it may really be, so many times over.
pub(super) fn truths_of(
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
pub(super) struct Readings {
    pub(super) negative: Vec<f64>,
    /// Label, verified size, rise.
    pub(super) positive: Vec<(f64, f64, f64)>,
    /// Flows and rises of the challenges.
    pub(super) flows: (Vec<f64>, Vec<f64>),
    /// Days since filling and rise of every aged control with a leak, in the
    /// order of the plan.
    pub(super) aged: Vec<(u32, f64)>,
    pub(super) limit_pa: f64,
}

impl Readings {
    /// Hits and misses of the positive controls.
    pub(super) fn hits(&self) -> Vec<HitMiss> {
        self.positive
            .iter()
            .map(|unit| HitMiss { size: unit.1, hits: u64::from(unit.2 > self.limit_pa), of: 1 })
            .collect()
    }
}

/// Reads one rehearsal; `None` where no limit can be set.
pub(super) fn read(
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

/// Rise of a constant flow in the last tier, Pa: that of the leak for which it
/// stands, up to where leaks empty the headspace.
pub(super) fn rise_of_flow(response: &Response, flow: f64) -> f64 {
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
pub(super) fn seen(response: &Response, um: f64) -> (f64, f64) {
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
