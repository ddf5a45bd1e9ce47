//! The bound of the size found with probability 0.9, quick enough to be taken
//! a thousand times.
//!
//! The results compare the signed root of the likelihood with simulated samples,
//! which takes far longer than everything else in a rehearsal. Its outcome is a
//! likelihood-ratio bound at a confidence that is somewhat higher than stated, and
//! how much higher depends on the design rather than on the luck of one study. So
//! the slow bound is taken in the first rehearsals of the plan, the confidence at
//! which the quick one equals it is found in each, and the middle one of these is
//! used from then on.

use rayon::prelude::*;
use statistics::detection::{HitMiss, Link, Simulation, fit_hit_miss};

use super::{Truth, Unit, read};
use crate::criteria::BOUND_PROBABILITY;
use crate::notes::Note;
use crate::runs::Shares;
use digits::normal;

/// Rehearsals in which the slow bound is taken.
const TRIED: usize = 32;
/// Samples of the slow bound in a rehearsal; the results take 2000.
const SAMPLES: u32 = 400;
/// Fewest that tell a middle.
const FEWEST: usize = 8;

/// The confidence at which the likelihood-ratio bound stands for the one that the
/// results take.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct BoundCalibration {
    /// That confidence.
    pub confidence: f64,
    /// Confidence that is stated.
    pub stated: f64,
    /// Rehearsals from which it was found; too few leave the stated one.
    pub n: usize,
}

impl BoundCalibration {
    pub(super) fn of(truths: &[Truth], units: &[Unit], shares: Shares, seed: u64) -> Self {
        let stated =
            truths.first().map_or(0.95, |truth| truth.input.profile.purpose.confidence.fraction());
        let mut found: Vec<f64> = truths
            .par_iter()
            .take(TRIED)
            .enumerate()
            .filter_map(|(number, truth)| {
                let hits = read(truth, (units, shares), (seed, number as u64))?.hits();
                equal_confidence(&hits, stated)
            })
            .collect();
        found.sort_by(f64::total_cmp);
        let n = found.len();
        let confidence = if n < FEWEST { stated } else { normal::cumulative(found[n / 2]) };
        Self { confidence, stated, n }
    }

    pub(super) fn note(&self) -> Option<Note> {
        (self.n < FEWEST && self.n > 0).then(|| {
            Note::remark(
                "rehearsed-bound",
                "too few rehearsals had a detection curve to take the bound as the results take \
                 it; the likelihood-ratio bound stands for it, which lies somewhat lower",
                "leave room between the bound wanted and the rehearsed one",
            )
        })
    }
}

/// Normal score of the confidence at which the likelihood-ratio bound of these
/// units equals the one that the results take; `None` where there is none.
fn equal_confidence(hits: &[HitMiss], stated: f64) -> Option<f64> {
    let fit = fit_hit_miss(hits, Link::Logit, true, stated).ok()?;
    fit.a90_95?;
    let simulation = Simulation { samples: SAMPLES, ..Simulation::default() };
    let slow = fit.upper_bound_small_sample(BOUND_PROBABILITY, simulation)?;
    let quick = |z: f64| {
        fit_hit_miss(hits, Link::Logit, true, normal::cumulative(z)).ok().and_then(|fit| fit.a90_95)
    };
    let (mut low, mut high) = (0.3, 4.0);
    for _ in 0..16 {
        let middle = 0.5 * (low + high);
        // Without a bound it lies beyond every size.
        if quick(middle).is_none_or(|bound| bound >= slow) {
            high = middle;
        } else {
            low = middle;
        }
    }
    Some(0.5 * (low + high))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::forecast::{ForecastSettings, forecast};
    use crate::plan::{PlanSettings, plan_runs};
    use crate::rehearsal::{Change, truths_of};

    /// The slow bound as the results take it, with a third of its samples, against the
    /// quick one, in rehearsals that had no part in the calibration: both give the
    /// same answer to the criterion in nearly all of them, and the sizes agree
    /// within a few hundredths.
    #[test]
    fn the_quick_bound_answers_as_the_bound_of_the_results() {
        let input = crate::worked_cases::liquid_vial();
        let settings = ForecastSettings { n_draws: 16, liquid_side: false, ..Default::default() };
        let predicted = forecast(&input, &settings, &|_, _| {}).expect("forecast");
        let plan = plan_runs(&input, &predicted, &PlanSettings::default());
        let truths = truths_of(&input, 100, 5, &|_, _| {}).expect("truths");
        let units = Change::NONE.apply(&plan);
        let shares = Shares::of(&plan);
        let calibration = BoundCalibration::of(&truths, &units, shares, 5);
        assert!(calibration.n >= 16, "{calibration:?}");
        assert!(calibration.confidence > calibration.stated, "{calibration:?}");
        let pairs: Vec<(f64, f64, f64)> = truths
            .par_iter()
            .enumerate()
            .skip(TRIED)
            .take(20)
            .filter_map(|(number, truth)| {
                let hits = read(truth, (&units, shares), (5, number as u64))?.hits();
                let fit = fit_hit_miss(&hits, Link::Logit, true, calibration.stated).ok()?;
                let plain = fit.a90_95?;
                let samples = Simulation { samples: 600, ..Simulation::default() };
                let slow = fit.upper_bound_small_sample(0.9, samples)?;
                let quick = fit_hit_miss(&hits, Link::Logit, true, calibration.confidence).ok()?;
                Some((plain, quick.a90_95?, slow))
            })
            .collect();
        assert!(pairs.len() >= 14, "{}", pairs.len());
        let mut off: Vec<f64> =
            pairs.iter().map(|(_, quick, slow)| digits::scalar::ln(quick / slow)).collect();
        off.sort_by(f64::total_cmp);
        let middle = off[off.len() / 2];
        let wide = off[off.len() * 95 / 100].max(-off[off.len() * 5 / 100]);
        let mut plain_off: Vec<f64> =
            pairs.iter().map(|(plain, _, slow)| digits::scalar::ln(plain / slow)).collect();
        plain_off.sort_by(f64::total_cmp);
        let plain_middle = plain_off[plain_off.len() / 2];
        println!("middle {middle} wide {wide} plain {plain_middle} {calibration:?}");
        assert!(middle.abs() < 0.01 && wide < 0.05, "{middle} {wide}");
        // The plain one lies lower, or there would be nothing to calibrate.
        assert!(plain_middle < -0.01, "{plain_middle}");
        // Judged at the middle of the bounds, where it is hardest to agree.
        let mut sizes: Vec<f64> = pairs.iter().map(|pair| pair.2).collect();
        sizes.sort_by(f64::total_cmp);
        let at_most = sizes[sizes.len() / 2];
        let agree = pairs.iter().filter(|(_, q, s)| (*q <= at_most) == (*s <= at_most)).count();
        assert!(agree as f64 >= 0.9 * pairs.len() as f64, "{agree} of {}", pairs.len());
    }
}
