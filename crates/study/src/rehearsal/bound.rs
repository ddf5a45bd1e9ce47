//! The bound of the size found with probability 0.9, quick enough to be taken
//! a thousand times.
//!
//! As in the results the readings come first, with the very line and bound that
//! the results take. Where they carry none, hits and misses are asked. There the
//! results compare the signed root of the likelihood with simulated samples,
//! which takes far longer than everything else in a rehearsal. Its outcome is a
//! likelihood-ratio bound at a confidence that is somewhat higher than stated, and
//! how much higher depends on the design rather than on the luck of one study. So
//! the slow bound is taken in the first rehearsals of the plan, the confidence at
//! which the quick one equals it is found in each, and the middle one of these is
//! used from then on.

use rayon::prelude::*;
use statistics::detection::{HitMiss, Link, Simulation, fit_hit_miss};

use super::change::Unit;
use super::study::{Readings, Truth, read};
use crate::criteria::BOUND_PROBABILITY;
use crate::detection_bound::{enough_read, is_beyond};
use crate::notes::Note;
use crate::results::signal_line::{Axes, ReadLine, Scale};
use crate::runs::Shares;
use digits::{normal, sums};
use statistics::proportions::clopper_pearson;

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

/// The bound of one rehearsal.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct RehearsedBound {
    pub(super) um: f64,
    /// Whether it comes from the line of readings against size.
    pub(super) by_readings: bool,
}

/// Where no bound can be said: whether at one size, no larger than wanted, so
/// many units were found that the exact bound reaches the probability.
pub(super) fn one_size_is_enough(readings: &Readings, at_most_um: f64, confidence: f64) -> bool {
    readings.positive.iter().filter(|unit| unit.0 <= at_most_um).any(|unit| {
        let same = || readings.positive.iter().filter(|other| other.0 == unit.0);
        let hits = same().filter(|other| other.2 > readings.limit_pa).count() as u64;
        clopper_pearson(hits, same().count() as u64, confidence)
            .is_ok_and(|bounds| bounds.one_sided_lower >= BOUND_PROBABILITY)
    })
}

/// The line of the readings where the results would claim from it.
fn line_of(readings: &Readings) -> Option<ReadLine> {
    let mean_pa = sums::mean(&readings.negative)?;
    let sd_pa = sums::standard_deviation(&readings.negative)?;
    let scale = Scale::of(mean_pa, sd_pa, readings.limit_pa)?;
    let mut axes = Axes::default();
    for (unit, &(_, verified_um, rise_pa)) in readings.positive.iter().enumerate() {
        let net = if rise_pa.is_finite() { scale.read(rise_pa, false) } else { scale.rejected() };
        axes.push(verified_um, net, unit);
    }
    let found = ReadLine::of(&axes, &scale).ok()?;
    let read = found.line.read_below_above.0;
    (found.against.is_empty() && enough_read(found.line.units, read)).then_some(found)
}

/// Smallest and largest label of the positive controls.
fn tested(readings: &Readings) -> (f64, f64) {
    let sizes = || readings.positive.iter().map(|unit| unit.0);
    (sizes().fold(f64::INFINITY, f64::min), sizes().fold(0.0, f64::max))
}

impl BoundCalibration {
    /// The bound that a rehearsed study would claim.
    pub(super) fn bound(&self, readings: &Readings) -> Option<RehearsedBound> {
        let by_readings = || {
            let line = line_of(readings)?;
            let upper = line.place(BOUND_PROBABILITY, self.stated).ok()?.upper?;
            Some(digits::scalar::exp(upper))
        };
        if let Some(um) = by_readings().filter(|um| !is_beyond(tested(readings), *um)) {
            return Some(RehearsedBound { um, by_readings: true });
        }
        let um = self.bound_of_hits(readings)?;
        Some(RehearsedBound { um, by_readings: false })
    }

    /// Whether a rehearsed study would meet a criterion on its bound: the same as
    /// by [`Self::bound`], without a search for the bound from readings.
    pub(super) fn meets(&self, readings: &Readings, at_most_um: f64) -> bool {
        let (low, high) = tested(readings);
        let looked = [high, at_most_um.min(high)];
        if let Some(line) = line_of(readings)
            && let Some(bounded) = line.bounded_by(&looked, self.stated)
            && let Ok(&[within, met]) = <&[bool; 2]>::try_from(bounded.as_slice())
            && within
            && !line.bounded_by(&[low], self.stated).is_some_and(|below| below[0])
        {
            return met;
        }
        match self.bound_of_hits(readings) {
            Some(um) => um <= at_most_um,
            None => one_size_is_enough(readings, at_most_um, self.stated),
        }
    }

    /// The bound of hits and misses, within the sizes tested.
    fn bound_of_hits(&self, readings: &Readings) -> Option<f64> {
        let fit = fit_hit_miss(&readings.hits(), Link::Logit, true, self.confidence).ok()?;
        fit.a90_95.filter(|um| !is_beyond(tested(readings), *um))
    }

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
    use crate::detection_bound::{DetectionBound, Route, detection_bound};
    use crate::forecast::{ForecastSettings, forecast};
    use crate::plan::{PlanSettings, plan_runs};
    use crate::rehearsal::{Change, truths_of};
    use crate::runs::{Ended, Run, RunClass};

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

    /// The runs of a rehearsed study, as they would stand in the records.
    fn runs_of(readings: &Readings) -> Vec<Run> {
        let negative = readings.negative.iter().enumerate().map(|(place, rise_pa)| {
            Run::invented(&format!("N{place}"), RunClass::NegativeControl, *rise_pa)
        });
        let positive = readings.positive.iter().enumerate().map(|(place, unit)| {
            let (nominal_um, size_um, rise_pa) = *unit;
            let class = RunClass::PositiveControl { nominal_um, verified_um: Some(size_um) };
            let run = Run::invented(&format!("P{place}"), class, rise_pa);
            if rise_pa.is_finite() {
                run
            } else {
                Run { ended: Ended::ReachLimit { tier: 1 }, features: None, ..run }
            }
        });
        let numbered = |(run, number): (Run, u32)| Run { number, ..run };
        negative.chain(positive).zip(1..).map(numbered).collect()
    }

    /// What a rehearsal calls its bound is what the results of the same runs
    /// would claim.
    #[test]
    fn the_rehearsed_bound_is_the_one_of_the_results() {
        let input = crate::worked_cases::liquid_vial();
        let settings = ForecastSettings { n_draws: 16, liquid_side: false, ..Default::default() };
        let predicted = forecast(&input, &settings, &|_, _| {}).expect("forecast");
        let method = crate::method::design_method(&input, &predicted);
        let plan = plan_runs(&input, &predicted, &PlanSettings::default());
        let truths = truths_of(&input, 100, 5, &|_, _| {}).expect("truths");
        let units = Change::NONE.apply(&plan);
        let shares = Shares::of(&plan);
        let calibration = BoundCalibration { confidence: 0.95, stated: 0.95, n: 0 };
        let mut both = 0;
        for (number, truth) in truths.iter().enumerate().take(8) {
            let readings = read(truth, (&units, shares), (5, number as u64)).expect("a limit");
            let rehearsed = calibration.bound(&readings);
            let results = crate::results::evaluate(&input, &method, &runs_of(&readings));
            let limit = results.reject_limit.as_ref().expect("a limit");
            // The results may set another limit (lots, transformations); only
            // the same limit can give the same bound.
            if limit.limit_pa.to_bits() != readings.limit_pa.to_bits() {
                continue;
            }
            let detection = results.detection.as_ref().expect("detection");
            let claimed = detection_bound(detection, results.signal.as_ref()).0;
            let of_readings =
                |bound: &DetectionBound| matches!(bound.route, Route::Readings { .. });
            assert_eq!(
                rehearsed.filter(|bound| bound.by_readings).map(|bound| bound.um),
                claimed.filter(of_readings).map(|bound| bound.um),
                "rehearsal {number}"
            );
            both += usize::from(claimed.is_some_and(|bound| of_readings(&bound)));
            // The quick verdict is that of the bound, on both sides of it.
            if let Some(bound) = rehearsed {
                assert!(calibration.meets(&readings, 1.0001 * bound.um), "rehearsal {number}");
                assert!(!calibration.meets(&readings, 0.9999 * bound.um), "rehearsal {number}");
            }
        }
        assert!(both >= 4, "{both} of 8");
    }
}
