//! The detection curve by simulated tests: every test draws its own leak and
//! its own inputs, is run through the simulator and judged by the limits.
//!
//! The curve of [`forecast`](super::forecast) is that of one rig and container
//! at the stated values. This one is the curve over all that may be true of
//! them, and it is flatter.

use physics::cycle::simulate_batch;
use physics::leak_paths::LeakPath;
use physics::quantities::{Duration, Length};
use rayon::prelude::*;
use statistics::detection::{HitMiss, Link, fit_hit_miss};

use super::compute::{ForecastError, log_grid};
use super::leak_size::{LeakSize, simulated_bore};
use super::response::without_limits;
use super::uncertain::{Draws, inputs, move_inputs};
use super::{Forecast, TierForecast};
use crate::case_input::CaseInput;
use crate::trace_features::LEVEL_SHARE;

/// How many tests, over which sizes.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct TrialSettings {
    /// Seed of the draws.
    pub seed: u64,
    /// Number of simulated tests.
    pub n: usize,
    /// Smallest size, flow-equivalent µm.
    pub smallest_um: f64,
    /// Largest size, flow-equivalent µm.
    pub largest_um: f64,
}

impl TrialSettings {
    /// Sizes from a quarter to four times the smallest that the forecast sees.
    #[must_use]
    pub fn around(forecast: &Forecast, seed: u64, n: usize) -> Self {
        let centre_um = forecast.window.smallest.map_or(5.0, |edge| edge.um);
        Self { seed, n, smallest_um: centre_um / 4.0, largest_um: 4.0 * centre_um }
    }
}

/// What simulated tests found.
#[derive(Debug, Clone, PartialEq)]
pub struct SimulatedTrials {
    /// What was asked for.
    pub settings: TrialSettings,
    /// Number of leaks found.
    pub found: usize,
    /// Size found with probability one half, flow-equivalent µm.
    pub a50_um: Option<f64>,
    /// The probability that the profile asks for.
    pub asked: f64,
    /// Size found with that probability, flow-equivalent µm.
    pub asked_um: Option<f64>,
    /// Size found with probability 0.9, flow-equivalent µm.
    pub a90_um: Option<f64>,
    /// Upper bound of it, 95 %: how well so many simulated tests know it, and
    /// nothing more.
    pub a90_95_um: Option<f64>,
}

/// Tests simulated side by side: enough to fill the lanes, few enough to keep
/// memory small.
const BLOCK: usize = 2048;
/// Classes of size, even on the logarithmic axis, into which the tests are
/// gathered for the fit: each is narrower than a hundredth of its size.
const CLASSES: usize = 512;
/// Points of the table from size to bore.
const BORES: usize = 65;

/// Simulates tests and fits the detection curve, logistic in the logarithm of
/// the size.
///
/// A test counts as found where a limit of the forecast ends it: the reach
/// limits and earlier rise limits in the simulation; the last rise limit where
/// the leak's own part of the rise, with the noise of the forecast added, passes
/// what the limit lies above tight units. A limit is set from tight units on the
/// rig as it is, so that a background other than expected moves it along. Levels at the ends of a measure stage are
/// means over a tenth of it; the value in the middle of each tenth stands for
/// it.
///
/// # Errors
/// Where a cycle cannot be simulated, sizes are not in order, or fewer than 100
/// tests are asked for.
pub fn simulated_trials(
    input: &CaseInput,
    forecast: &Forecast,
    settings: &TrialSettings,
) -> Result<SimulatedTrials, ForecastError> {
    let TrialSettings { seed, n, smallest_um, largest_um } = *settings;
    if n < 100 || !(smallest_um > 0.0 && smallest_um < largest_um) {
        return Err(ForecastError::NoTrials { n, smallest_um, largest_um });
    }
    let last = forecast.tiers.last().ok_or(ForecastError::NoTier)?;
    let margin_pa = last.rise_limit_pa.ok_or(ForecastError::NoMeasureStage)? - last.tight_rise_pa;
    let bores = BoreTable::new(smallest_um, largest_um)?;
    let draws = Draws::new(input, seed)?;
    let known = inputs(input);
    let limited = with_limits(input, &forecast.tiers);
    let blocks: Vec<Vec<(usize, bool)>> = (0..n.div_ceil(BLOCK))
        .into_par_iter()
        .map(|block| {
            let numbers = block * BLOCK..((block + 1) * BLOCK).min(n);
            let mut classes = Vec::with_capacity(BLOCK);
            let mut setups = Vec::with_capacity(BLOCK);
            let mut moved = limited.clone();
            for number in numbers.clone() {
                let scores = draws.even_scores(number);
                let flow_error = move_inputs(&limited, &mut moved, &known, &scores);
                let part = draws.even_part(number);
                let bore_m = bores.at(part);
                let scale = (1.0 + flow_error).max(0.01).sqrt();
                let bore_diameter = simulated_bore(
                    &moved.profile.headspace,
                    moved.rig.wall_temperature,
                    Length::from_m(bore_m * scale),
                )?;
                classes.push((part * CLASSES as f64) as usize);
                setups.push(moved.setup(Some(LeakPath::Orifice { bore_diameter })));
            }
            let outcomes = simulate_batch(&setups, false);
            numbers
                .zip(classes.into_iter().zip(outcomes))
                .map(|(number, (class, outcome))| {
                    let outcome = outcome?;
                    let stopped = outcome.tiers.iter().any(|tier| tier.stopped_early);
                    let noise = digits::RandomStream::new(seed, number as u64).normal();
                    let leak_pa =
                        outcome.tiers.last().map_or(0.0, |tier| tier.contributions.leak_pa);
                    let found = stopped || leak_pa + noise * last.tight_rise_sd_pa > margin_pa;
                    Ok((class, found))
                })
                .collect()
        })
        .collect::<Result<_, ForecastError>>()?;
    let ratio = largest_um / smallest_um;
    let mut rows: Vec<HitMiss> = (0..CLASSES)
        .map(|class| {
            let part = (class as f64 + 0.5) / CLASSES as f64;
            HitMiss { size: smallest_um * digits::scalar::pow(ratio, part), hits: 0, of: 0 }
        })
        .collect();
    let mut found = 0;
    for (class, was_found) in blocks.into_iter().flatten() {
        let row = &mut rows[class.min(CLASSES - 1)];
        row.of += 1;
        row.hits += u64::from(was_found);
        found += usize::from(was_found);
    }
    rows.retain(|row| row.of > 0);
    let asked = input.profile.purpose.required_detection.fraction();
    let fit = fit_hit_miss(&rows, Link::Logit, true, 0.95).ok();
    let of_fit =
        |value: fn(&statistics::detection::HitMissFit) -> Option<f64>| fit.as_ref().and_then(value);
    Ok(SimulatedTrials {
        settings: *settings,
        found,
        a50_um: of_fit(|fit| fit.a50),
        asked,
        asked_um: fit.as_ref().and_then(|fit| fit.size_at(asked)),
        a90_um: of_fit(|fit| fit.a90),
        a90_95_um: of_fit(|fit| fit.a90_95),
    })
}

/// The case with the limits of the forecast, all but the last rise limit, and
/// with measure stages that run from the middle of their first tenth to that
/// of their last.
fn with_limits(input: &CaseInput, tiers: &[TierForecast]) -> CaseInput {
    use physics::quantities::{AbsolutePressure, PressureDifference};
    let mut limited = without_limits(input);
    let n = limited.cycle.tiers.len();
    for (index, (purposed, forecast)) in limited.cycle.tiers.iter_mut().zip(tiers).enumerate() {
        let tier = &mut purposed.tier;
        tier.reach_limit = Some(AbsolutePressure::from_pa(forecast.reach_limit_pa));
        if index + 1 < n {
            tier.rise_limit = forecast.rise_limit_pa.map(PressureDifference::from_pa);
        }
        let level_s = tier.measure.s() / LEVEL_SHARE as f64;
        tier.settle = Duration::from_s(tier.settle.s() + 0.5 * level_s);
        tier.measure = Duration::from_s(tier.measure.s() - level_s);
    }
    limited
}

/// Bores of thin holes by size, straight on logarithmic axes in between.
struct BoreTable {
    log_bores: Vec<f64>,
}

impl BoreTable {
    fn new(smallest_um: f64, largest_um: f64) -> Result<Self, ForecastError> {
        let log_bores = log_grid(smallest_um, largest_um, BORES)
            .into_iter()
            .map(|um| {
                let size = LeakSize::from_flow_equivalent(Length::from_um(um))?;
                Ok(digits::scalar::ln(size.orifice_bore.m()))
            })
            .collect::<Result<_, ForecastError>>()?;
        Ok(Self { log_bores })
    }

    /// Bore in m at a part of the logarithmic axis of sizes.
    fn at(&self, part: f64) -> f64 {
        let place = part * (BORES - 1) as f64;
        let cell = (place as usize).min(BORES - 2);
        let x = place - cell as f64;
        let log_bore = self.log_bores[cell] * (1.0 - x) + self.log_bores[cell + 1] * x;
        digits::scalar::exp(log_bore)
    }
}

#[cfg(test)]
mod tests {
    use super::super::{ForecastSettings, forecast};
    use super::*;

    fn trials(input: &CaseInput, n: usize) -> (Forecast, SimulatedTrials) {
        let settings = ForecastSettings { n_draws: 16, ..ForecastSettings::default() };
        let forecast = forecast(input, &settings, &|_, _| {}).expect("forecast");
        let settings = TrialSettings::around(&forecast, 3, n);
        let trials = simulated_trials(input, &forecast, &settings).expect("trials");
        (forecast, trials)
    }

    /// With every input known, the curve is that of the forecast: two routes to
    /// one probability.
    #[test]
    fn without_uncertainty_it_is_the_curve_of_the_forecast() {
        let mut input = crate::worked_cases::lyophilised_vial();
        input.rig.free_volume.standard_uncertainty_si = Some(1e-15);
        input.profile.headspace.volume.standard_uncertainty_si = Some(1e-15);
        input.profile.headspace.pressure.standard_uncertainty_si = Some(1e-9);
        let settings = ForecastSettings { n_draws: 16, ..ForecastSettings::default() };
        let forecast = forecast(&input, &settings, &|_, _| {}).expect("forecast");
        // What has no place for its uncertainty is drawn all the same; the size
        // at one half moves by its mean effect only, a few percent.
        let trials =
            simulated_trials(&input, &forecast, &TrialSettings::around(&forecast, 3, 20_000))
                .expect("trials");
        let points = &forecast.detection;
        let after = points.iter().position(|point| point.probability >= 0.5).expect("found");
        let (low, high) = (&points[after - 1], &points[after]);
        let part = (0.5 - low.probability) / (high.probability - low.probability);
        let ratio = high.flow_equivalent_um / low.flow_equivalent_um;
        let half_um = low.flow_equivalent_um * digits::scalar::pow(ratio, part);
        let a50_um = trials.a50_um.expect("a curve");
        assert!((a50_um / half_um - 1.0).abs() < 0.05, "{a50_um} {half_um}");
    }

    #[test]
    fn a_less_even_background_needs_a_larger_leak() {
        let even = crate::worked_cases::lyophilised_vial();
        let mut uneven = even.clone();
        uneven.rig.background_spread *= 3.0;
        let (_, of_even) = trials(&even, 4000);
        let (_, of_uneven) = trials(&uneven, 4000);
        // The margin is nearly three times as wide, the flow grows as the square.
        let ratio = of_uneven.a50_um.expect("a curve") / of_even.a50_um.expect("a curve");
        assert!((ratio / 3.0_f64.sqrt() - 1.0).abs() < 0.1, "{ratio}");
        assert!(of_even.a90_um > of_even.a50_um);
        // 95 % is asked for, which needs a larger leak than 90 %.
        assert_eq!(of_even.asked, 0.95);
        assert!(of_even.asked_um > of_even.a90_um);
    }

    #[test]
    fn threads_do_not_change_a_digit() {
        let input = crate::worked_cases::liquid_vial();
        let one = rayon::ThreadPoolBuilder::new().num_threads(1).build().expect("a pool");
        let two = rayon::ThreadPoolBuilder::new().num_threads(2).build().expect("a pool");
        let of_one = one.install(|| trials(&input, 5000).1);
        let of_two = two.install(|| trials(&input, 5000).1);
        assert_eq!(of_one, of_two);
    }

    #[test]
    fn too_few_tests_and_sizes_out_of_order_are_refused() {
        let input = crate::worked_cases::liquid_vial();
        let (forecast, trials) = trials(&input, 200);
        for settings in [
            TrialSettings { n: 99, ..trials.settings },
            TrialSettings { smallest_um: 9.0, largest_um: 2.0, ..trials.settings },
            TrialSettings { smallest_um: f64::NAN, ..trials.settings },
        ] {
            assert!(matches!(
                simulated_trials(&input, &forecast, &settings),
                Err(ForecastError::NoTrials { .. })
            ));
        }
    }
}
