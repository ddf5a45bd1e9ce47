//! Response of the rig to leaks of every size, tier by tier.

use physics::cycle::{CycleOutcome, Tier, simulate, simulate_batch};
use physics::leak_paths::LeakPath;
use physics::quantities::Length;

pub(crate) use super::TierForecast;
use super::compute::ForecastError;
use super::leak_size::simulated_bore;
use super::{DetectionPoint, LeakSize, Share};
use crate::case_input::CaseInput;
use crate::trace_features::{self, TraceFeatures};

/// Spread of the pressure reached at the end of an evacuation, relative. A
/// working value (pump and valve timing), to be replaced by measured runs.
pub(crate) const REACH_SPREAD: f64 = 0.03;
/// How far above the tight units an open reach limit is set, in standard
/// deviations, and at least as a factor.
pub(crate) const REACH_LIMIT_DEVIATIONS: f64 = 6.0;
pub(crate) const REACH_LIMIT_FACTOR: f64 = 1.2;

/// Response of the rig to every size, with the limits that go with it.
pub(crate) struct Response {
    pub tight_reach_s: Option<f64>,
    pub tiers: Vec<TierForecast>,
    pub points: Vec<DetectionPoint>,
    /// For each point, the probability that a limit before the last rise limit
    /// finds it: every reach limit, and the rise limits of earlier tiers.
    pub found_earlier: Vec<f64>,
    pub limited_by: Vec<Share>,
    /// Pressure of the tight chamber where measuring begins, in the tier where it
    /// is lowest, Pa.
    pub lowest_pa: f64,
}

impl Response {
    /// The first tier.
    pub fn first(&self) -> Result<TierForecast, ForecastError> {
        self.tiers.first().copied().ok_or(ForecastError::NoTier)
    }

    /// The tier whose rise decides on small leaks.
    pub fn last(&self) -> Result<TierForecast, ForecastError> {
        self.tiers.last().copied().ok_or(ForecastError::NoTier)
    }
}

/// Rises and limits of a tight unit in every tier, and how probably each size
/// of leak passes one of the limits.
pub(crate) fn response(
    input: &CaseInput,
    sizes: &[LeakSize],
    relative_flow_error: f64,
) -> Result<Response, ForecastError> {
    let unlimited = without_limits(input);
    let tight = simulate(&unlimited.setup(None))?;
    let tiers = tier_forecasts(input, &tight)?;
    let first = tight.tiers.first().ok_or(ForecastError::NoMeasureStage)?;
    let scale = (1.0 + relative_flow_error).max(0.01).sqrt();
    let setups: Vec<_> = sizes
        .iter()
        .map(|size| {
            let bore = Length::from_m(size.orifice_bore.m() * scale);
            let bore_diameter =
                simulated_bore(&input.profile.headspace, input.rig.wall_temperature, bore)?;
            Ok(unlimited.setup(Some(LeakPath::Orifice { bore_diameter })))
        })
        .collect::<Result<_, ForecastError>>()?;
    let points: Vec<(DetectionPoint, f64)> = sizes
        .iter()
        .zip(simulate_batch(&setups, true))
        .map(|(size, outcome)| Ok(point(input, size, &tiers, &outcome?)))
        .collect::<Result<Vec<_>, ForecastError>>()?;
    let last = tiers.last().ok_or(ForecastError::NoTier)?;
    let noise_pa = trace_features::rise_noise_pa(&input.rig.sensor, &tight.trace);
    let background_pa = input.rig.background_spread * last.tight_rise_pa;
    Ok(Response {
        tight_reach_s: first.reached_target.then_some(first.evacuate_end_s),
        lowest_pa: tight
            .tiers
            .iter()
            .map(|tier| tier.pressure_at_settle_end.pa())
            .fold(f64::INFINITY, f64::min),
        limited_by: shares(&tight, noise_pa, background_pa),
        tiers,
        found_earlier: points.iter().map(|point| point.1).collect(),
        points: points.into_iter().map(|point| point.0).collect(),
    })
}

/// What a tight unit does in each tier, and the limits: those given with the
/// case, or set so that all rise limits together reject no more tight units
/// than is tolerable.
fn tier_forecasts(
    input: &CaseInput,
    tight: &CycleOutcome,
) -> Result<Vec<TierForecast>, ForecastError> {
    let tiers = &input.cycle.tiers;
    let open = |tier: &Tier| tier.rise_limit.is_none() && tier.measure.s() > 0.0;
    let shared_by = tiers.iter().filter(|purposed| open(&purposed.tier)).count();
    let forecasts = tier_forecasts_up_to(input, tight, tiers.len(), shared_by.max(1))?;
    match forecasts.last() {
        Some(last) if last.rise_limit_pa.is_none() => Err(ForecastError::NoMeasureStage),
        _ => Ok(forecasts),
    }
}

/// The same for the first tiers only, whose rise limits share the tolerable
/// false rejects with others.
pub(crate) fn tier_forecasts_up_to(
    input: &CaseInput,
    tight: &CycleOutcome,
    count: usize,
    shared_by: usize,
) -> Result<Vec<TierForecast>, ForecastError> {
    let tolerable = input.profile.purpose.tolerable_false_reject.fraction() / shared_by as f64;
    let z = digits::normal::quantile(1.0 - tolerable.max(1e-9));
    input
        .cycle
        .tiers
        .iter()
        .take(count)
        .enumerate()
        .map(|(index, purposed)| {
            let tier = &purposed.tier;
            let number = u16::try_from(index + 1).map_err(|_| ForecastError::NoMeasureStage)?;
            let features = trace_features::read(&tight.trace, number);
            let tight_rise_pa = features.as_ref().map_or(0.0, |features| features.rise_pa);
            let noise_pa =
                trace_features::rise_noise_in_tier_pa(&input.rig.sensor, &tight.trace, number);
            let background_pa = input.rig.background_spread * tight_rise_pa;
            let tight_rise_sd_pa = (background_pa * background_pa + noise_pa * noise_pa).sqrt();
            let tight_reach_pa =
                trace_features::reached_pa(&tight.trace, number).unwrap_or(f64::INFINITY);
            let reach_sd_pa = reach_deviation(input, tight_reach_pa);
            let set_rise = tight_rise_pa + z * tight_rise_sd_pa;
            let set_reach = (tight_reach_pa * REACH_LIMIT_FACTOR)
                .max(tight_reach_pa + REACH_LIMIT_DEVIATIONS * reach_sd_pa);
            Ok(TierForecast {
                tight_rise_pa,
                tight_rise_sd_pa,
                rise_limit_pa: features
                    .map(|_| tier.rise_limit.map_or(set_rise, |limit| limit.pa())),
                tight_reach_pa,
                reach_limit_pa: tier.reach_limit.map_or(set_reach, |limit| limit.pa()),
            })
        })
        .collect()
}

fn point(
    input: &CaseInput,
    size: &LeakSize,
    tiers: &[TierForecast],
    outcome: &CycleOutcome,
) -> (DetectionPoint, f64) {
    let (mut missed_by_rise, mut missed_by_reach, mut missed_earlier) = (1.0, 1.0, 1.0);
    let mut rise_pa = None;
    let mut first_reach_pa = f64::INFINITY;
    for (index, tier) in tiers.iter().enumerate() {
        let number = u16::try_from(index + 1).unwrap_or(u16::MAX);
        let reached_pa = trace_features::reached_pa(&outcome.trace, number);
        let features = trace_features::read(&outcome.trace, number);
        rise_pa = features.as_ref().map(|features| features.rise_pa);
        if let (Some(limit), Some(rise)) = (tier.rise_limit_pa, rise_pa) {
            let missed = digits::normal::cumulative((limit - rise) / tier.tight_rise_sd_pa);
            missed_by_rise *= missed;
            if index + 1 < tiers.len() {
                missed_earlier *= missed;
            }
        }
        if let Some(reached) = reached_pa {
            let deviation = reach_deviation(input, reached);
            missed_by_reach *=
                digits::normal::cumulative((tier.reach_limit_pa - reached) / deviation);
            if index == 0 {
                first_reach_pa = reached;
            }
        }
    }
    let found_earlier = 1.0 - missed_earlier * missed_by_reach;
    let number = u16::try_from(tiers.len()).unwrap_or(u16::MAX);
    let challenge_pa_m3_per_s = tiers
        .last()
        .zip(trace_features::read(&outcome.trace, number))
        .and_then(|(tier, read)| challenge(input, tier.tight_rise_pa, &read));
    let point = DetectionPoint {
        flow_equivalent_um: size.flow_equivalent_diameter.um(),
        reference_throughput_pa_m3_per_s: size.reference_throughput_pa_m3_per_s(),
        rise_pa,
        challenge_pa_m3_per_s,
        reach_pa: first_reach_pa,
        by_rise: 1.0 - missed_by_rise,
        by_reach: 1.0 - missed_by_reach,
        probability: 1.0 - missed_by_rise * missed_by_reach,
    };
    (point, found_earlier)
}

/// Constant flow that reads as much above a tight unit as a leak does, Pa·m³/s at
/// 20 °C: `q = (Δp - Δp_tight) V / t`, `t` the time between the middles of the two
/// levels. The gas that a leak gives over the whole stage would not do: behind an
/// emptying headspace it comes early, before the first level has been read.
fn challenge(input: &CaseInput, tight_rise_pa: f64, read: &TraceFeatures) -> Option<f64> {
    let n = read.n_samples;
    let level = trace_features::level_samples(n).min(n / 2).max(1);
    let between_s = (n - level) as f64 * input.cycle.sample_interval.s();
    let own_pa = read.rise_pa - tight_rise_pa;
    // At wall temperature; told at 20 °C.
    let flow = own_pa * input.rig.free_volume.value.m3() / between_s;
    (between_s > 0.0 && own_pa > 0.0).then(|| input.rig.told(flow))
}

/// The same case with its limits taken off, so that every simulated cycle
/// runs to its end and can be compared with any limit afterwards.
pub(crate) fn without_limits(input: &CaseInput) -> CaseInput {
    let mut unlimited = input.clone();
    for purposed in &mut unlimited.cycle.tiers {
        purposed.tier.reach_limit = None;
        purposed.tier.rise_limit = None;
    }
    unlimited
}

/// Spread of the pressure that units reach in an evacuation, Pa.
pub(crate) fn reach_deviation(input: &CaseInput, reach_pa: f64) -> f64 {
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

#[cfg(test)]
mod tests {
    use super::super::{ForecastSettings, forecast};
    use super::*;

    /// The flow that stands for a leak, let into a chamber with a tight unit, gives
    /// the reading of the leak: also where the headspace empties while it is read.
    #[test]
    fn the_flow_that_stands_for_a_leak_gives_its_reading() {
        let input = crate::worked_cases::lyophilised_vial();
        let settings = ForecastSettings { n_draws: 16, ..ForecastSettings::default() };
        let found = forecast(&input, &settings, &|_, _| {}).expect("forecast");
        let mut compared = 0;
        for point in &found.detection {
            let (Some(flow), Some(rise_pa)) = (point.challenge_pa_m3_per_s, point.rise_pa) else {
                continue;
            };
            if rise_pa < 1.2 * found.tight_rise_pa || rise_pa > 2000.0 {
                continue;
            }
            let mut with_flow = input.clone();
            // From 20 °C to the temperature of the wall, at which gas is let in.
            let at_wall = flow * input.rig.wall_temperature.k() / 293.15;
            with_flow.rig.background.constant += at_wall;
            let outcome = simulate(&without_limits(&with_flow).setup(None)).expect("a cycle");
            let number = u16::try_from(input.cycle.tiers.len()).expect("few");
            let read = trace_features::read(&outcome.trace, number).expect("read");
            assert!((read.rise_pa / rise_pa - 1.0).abs() < 0.02, "{} {rise_pa}", read.rise_pa);
            compared += 1;
        }
        assert!(compared > 8, "{compared}");
        // A leak that has emptied reads like a tight unit, and no flow stands for it.
        assert!(
            found.detection.iter().all(|one| one.challenge_pa_m3_per_s.is_none_or(|q| q > 0.0))
        );
        let emptied = found.detection.iter().find(|one| one.flow_equivalent_um > 200.0);
        assert_eq!(emptied.expect("a size").challenge_pa_m3_per_s, None);
    }
}
