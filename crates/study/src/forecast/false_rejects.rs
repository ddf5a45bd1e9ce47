//! How often the limits reject a tight unit, tier by tier.
//!
//! A limit that stands in the case is taken as it stands, though a tight unit may
//! pass it: what rejects tight units finds leaks of every size, and would otherwise
//! look like the best of tests.

use super::response::reach_deviation;
use super::window::quantile;
use super::{FalseRejects, TierForecast, TierRejects};
use crate::case_input::CaseInput;
use crate::notes::Note;
use crate::wording::rounded;

/// Where more tight units than this are rejected, what is found says nothing of a
/// leak, and there is no window.
pub(super) const MOST_ARE_REJECTED: f64 = 0.5;
/// Rounding of a sum of small probabilities against what is tolerable: limits set
/// from tight units reject exactly that much.
const ROUNDING_SHARE: f64 = 0.01;
const ROUNDING: f64 = 1e-6;

/// Probability that each limit rejects a tight unit: its rise and the pressure it
/// reaches vary normally, independently of each other and from tier to tier.
pub(super) fn by_tier(input: &CaseInput, tiers: &[TierForecast]) -> Vec<TierRejects> {
    let beyond = |limit: f64, at: f64, sd: f64| {
        if sd > 0.0 {
            digits::normal::cumulative((at - limit) / sd)
        } else {
            f64::from(u8::from(at > limit))
        }
    };
    tiers
        .iter()
        .map(|tier| TierRejects {
            by_reach: beyond(
                tier.reach_limit_pa,
                tier.tight_reach_pa,
                reach_deviation(input, tier.tight_reach_pa),
            ),
            by_rise: tier
                .rise_limit_pa
                .map_or(0.0, |limit| beyond(limit, tier.tight_rise_pa, tier.tight_rise_sd_pa)),
        })
        .collect()
}

/// Probability that any of them does.
pub(super) fn any(tiers: &[TierRejects]) -> f64 {
    1.0 - tiers.iter().map(|tier| (1.0 - tier.by_reach) * (1.0 - tier.by_rise)).product::<f64>()
}

/// The figure at the stated inputs with its 90 % interval over the draws.
pub(super) fn combine(
    input: &CaseInput,
    tiers: Vec<TierRejects>,
    mut drawn: Vec<f64>,
) -> FalseRejects {
    drawn.sort_by(f64::total_cmp);
    let probability = any(&tiers);
    FalseRejects {
        probability,
        low: quantile(&drawn, 0.05).min(probability),
        high: quantile(&drawn, 0.95).max(probability),
        tolerable: input.profile.purpose.tolerable_false_reject.fraction(),
        tiers,
    }
}

/// What is said where tight units are, or may be, rejected more often than is
/// tolerable: whether they surely are, and the words.
pub(super) fn too_many(found: &FalseRejects, notes: &mut Vec<Note>) -> Option<(bool, String)> {
    let tolerable = found.tolerable * (1.0 + ROUNDING_SHARE) + ROUNDING;
    if found.high <= tolerable {
        return None;
    }
    let surely = found.low > tolerable;
    let limit = worst_limit(&found.tiers);
    let percent = |share: f64| rounded(100.0 * share);
    let words = format!(
        "{} {} % of tight units are rejected (90 % interval {} to {} %), where {} % are tolerable, most \
         of them by the {limit}",
        if surely { "at the limits that stand in the case" } else { "it may be that" },
        percent(found.probability),
        percent(found.low),
        percent(found.high),
        percent(found.tolerable),
    );
    notes.push(Note::caution(
        "rejects-tight-units",
        words.clone(),
        "raise that limit, or leave it out so that it is set from tight units; wait longer before \
         measuring, or measure free volume and background first",
    ));
    Some((surely, words))
}

/// The limit that rejects most tight units, in words.
fn worst_limit(tiers: &[TierRejects]) -> String {
    let mut worst = (0.0, "limits".to_owned());
    for (number, tier) in (1..).zip(tiers) {
        for (share, kind) in [(tier.by_reach, "reach limit"), (tier.by_rise, "rise limit")] {
            if share > worst.0 {
                worst = (share, format!("{kind} of tier {number}"));
            }
        }
    }
    worst.1
}

#[cfg(test)]
mod tests {
    use super::super::{Answer, ForecastSettings, forecast};
    use super::*;
    use physics::quantities::{AbsolutePressure, Duration, PressureDifference};

    fn found(input: &CaseInput) -> super::super::Forecast {
        let settings = ForecastSettings { n_draws: 32, liquid_side: false, ..Default::default() };
        forecast(input, &settings, &|_, _| {}).expect("forecast")
    }

    /// Limits that the forecast sets reject as many as are tolerable, whatever the
    /// inputs are.
    #[test]
    fn limits_set_from_tight_units_reject_what_is_tolerable() {
        for input in [
            crate::worked_cases::lyophilised_vial(),
            crate::worked_cases::liquid_vial(),
            crate::worked_cases::syringe(),
        ] {
            let rejects = found(&input).false_rejects.expect("figures");
            let tolerable = input.profile.purpose.tolerable_false_reject.fraction();
            assert!((rejects.probability / tolerable - 1.0).abs() < 0.01, "{rejects:?}");
            assert!(rejects.high < 1.02 * tolerable && rejects.low > 0.98 * tolerable);
        }
    }

    /// A limit at the mean of tight units rejects half of them; one at a deviation
    /// above it 15.87 % (normal table).
    #[test]
    fn a_stated_limit_rejects_by_the_normal_table() {
        let input = crate::worked_cases::lyophilised_vial();
        let open = found(&input);
        for (deviations, share) in [(0.0, 0.5), (1.0, 0.158_655), (3.0, 0.001_350)] {
            let mut stated = input.clone();
            let limit_pa = open.tight_rise_pa + deviations * open.tight_rise_sd_pa;
            if let Some(last) = stated.cycle.tiers.last_mut() {
                last.tier.rise_limit = Some(PressureDifference::from_pa(limit_pa));
            }
            let rejects = found(&stated).false_rejects.expect("figures");
            assert!((rejects.probability - share).abs() < 1e-5, "{rejects:?}");
            // The background is not known so well: the limit, once it stands, may
            // reject far more or far fewer.
            assert!(rejects.low < 0.3 * share && rejects.high > share, "{rejects:?}");
        }
    }

    /// A tier for gross leaks whose limit lies below the recovery of the gas after a
    /// fast evacuation: it rejects every unit, and looked like a test that finds
    /// leaks of every size.
    #[test]
    fn a_tier_that_rejects_tight_units_is_no_test() {
        let mut input = crate::worked_cases::lyophilised_vial();
        let mut coarse = input.cycle.tiers[0].clone();
        coarse.tier.evacuate_to = AbsolutePressure::from_pa(30_000.0);
        coarse.tier.settle = Duration::from_s(0.2);
        coarse.tier.measure = Duration::from_s(2.0);
        coarse.tier.rise_limit = Some(PressureDifference::from_pa(100.0));
        input.cycle.tiers.insert(0, coarse);
        let forecast = found(&input);
        assert_eq!(forecast.verdict.answer, Answer::No, "{}", forecast.verdict.because);
        assert!(forecast.verdict.because.contains("rise limit of tier 1"));
        assert!(forecast.window.smallest.is_none());
        assert!(forecast.notes.iter().any(|note| note.code == "rejects-tight-units"));
        // Left open, the limit is set from tight units, and the tier does no harm.
        input.cycle.tiers[0].tier.rise_limit = None;
        let open = found(&input);
        assert_ne!(open.verdict.answer, Answer::No, "{}", open.verdict.because);
    }
}
