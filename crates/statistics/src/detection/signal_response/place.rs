//! Size detected with a given probability: a new unit, read once.
//!
//! Where every unit was read equally often, nothing was censored and one scatter
//! holds, the bound is that of the unit means, exact for one reading of each.
//! Elsewhere it is by the profile of the restricted likelihood, with Student's
//! quantile on the degrees of freedom of the units (fewer than half where the
//! scatter is let to change) in place of the normal one. Both allow for the
//! scatter being estimated from few units; what the bound covers stands in
//! `docs/coverage.md`.

use super::Signal;
use super::censored_line::{check_question, check_rising};
use super::spread::Spread;
use super::unit_effects::{Fitted, SignalResponse};
use super::unit_likelihood::{Parameters, Unit};
use super::unit_means::UnitMeans;
use crate::ascent::{Summit, ascend};
use crate::cannot_say::{self, CannotSay};
use crate::detection::profile::outward_crossing;
use crate::distributions::{normal, student_t};
use core::cell::RefCell;

/// How far from the middle of the sizes, in half ranges, a bound is followed.
const FARTHEST: f64 = 1e3;

/// A size on the axis of the line.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Place {
    /// Size at which a signal of a new unit exceeds the threshold with the
    /// probability asked for, by maximum likelihood.
    pub estimate: f64,
    /// Its one-sided upper bound; `None` where the readings bound nothing.
    pub upper: Option<f64>,
    /// How the bound was found.
    pub method: &'static str,
}

/// Methods of the bound.
const EXACT: &str = "noncentral t of the line (exact for normal scatter)";
const MEANS: &str = "generalised confidence from the means of units read equally often";
const PROFILE: &str = "profile of the restricted likelihood, Student's t on units read";
const PROFILE_SPREAD: &str = "profile of the restricted likelihood, Student's t on half the units \
                              read less three, as the scatter is fitted";

/// Mean signal at which a signal exceeds `threshold` with normal score `z`,
/// on the axes of the fit, for a factor that depends on the mean.
fn mean_at(
    spread: Spread,
    threshold: f64,
    z: f64,
    x: f64,
    total: f64,
    exponent: f64,
) -> Option<f64> {
    if spread != Spread::PowerOfMean {
        return Some(threshold + z * total * spread.factor(exponent, x, 1.0)?);
    }
    if !(threshold > 0.0) {
        return None;
    }
    if z == 0.0 {
        return Some(threshold);
    }
    let excess = |mean: f64| {
        spread.factor(exponent, x, mean).map_or(f64::NAN, |h| mean - threshold - z * total * h)
    };
    // Outward from the threshold to the first crossing.
    let mut inner = threshold;
    for _ in 0..80 {
        let outer = if z > 0.0 { inner * 1.5 + 0.1 * z * total } else { inner / 1.5 };
        let there = excess(outer);
        if there.is_nan() {
            return None;
        }
        if there * z >= 0.0 {
            return digits::roots::between(inner.min(outer), inner.max(outer), 1e-13, excess);
        }
        inner = outer;
    }
    None
}

impl Fitted {
    /// Largest restricted likelihood of lines on which `x` is detected with
    /// normal score `z`, with its free parameters.
    fn pinned(
        &self,
        threshold: f64,
        z: f64,
        x: f64,
        starts: &[Vec<f64>],
    ) -> Option<(f64, Vec<f64>)> {
        let height = |free: &[f64]| {
            let mut p = self.with_intercept(free, 0.0)?;
            let mean = mean_at(self.model.spread, threshold, z, x, p.total(), p.exponent)?;
            p.intercept = mean - p.slope * x;
            self.model.restricted(&p)
        };
        let start = starts
            .iter()
            .map(|start| self.off_the_saddle(start, 2))
            .filter_map(|start| Some((height(&start)?, start)))
            .max_by(|a, b| a.0.total_cmp(&b.0))?
            .1;
        ascend(&height, &start).map(|top| (top.value, top.place))
    }

    /// A start whose units differ: no difference is level ground, from which
    /// no climb begins even where it leads up.
    fn off_the_saddle(&self, start: &[f64], at: usize) -> Vec<f64> {
        let mut start = start.to_vec();
        if self.with_units {
            start[at] = start[at].abs().max(0.3);
        }
        start
    }

    fn with_intercept(&self, free: &[f64], intercept: f64) -> Option<Parameters> {
        let mut place = vec![intercept];
        place.extend_from_slice(free);
        self.parameters(&place)
    }

    /// Place on the axis of the fit at which these parameters reach score `z`.
    fn reaches(&self, p: &Parameters, threshold: f64, z: f64) -> Option<f64> {
        if !(p.slope > 0.0) {
            return None;
        }
        let excess = |x: f64| {
            let mean = p.intercept + p.slope * x;
            self.model
                .spread
                .factor(p.exponent, x, mean)
                .map_or(f64::NAN, |h| mean - threshold - z * p.total() * h)
        };
        if self.model.spread == Spread::LogLinearInSize {
            let plain = (threshold + z * p.total() - p.intercept) / p.slope;
            // Outward in both directions from where the factor is one.
            let mut width = 0.25;
            for _ in 0..40 {
                let (low, high) = (plain - width, plain + width);
                if excess(low) < 0.0 && excess(high) > 0.0 {
                    return digits::roots::between(low, high, 1e-13, excess);
                }
                width *= 1.5;
            }
            return None;
        }
        let mean = mean_at(self.model.spread, threshold, z, 0.0, p.total(), p.exponent)?;
        Some((mean - p.intercept) / p.slope)
    }

    /// Profile of the restricted likelihood over the place that reaches score
    /// `z`.
    pub(super) fn profile(&self, threshold: f64, z: f64) -> Option<Profile<'_>> {
        let restricted = |place: &[f64]| self.model.restricted(&self.parameters(place)?);
        let best = ascend(&restricted, &self.off_the_saddle(&self.place, 3))?;
        let here = self.reaches(&self.parameters(&best.place)?, threshold, z)?;
        let warm = RefCell::new(best.place[1..].to_vec());
        Some(Profile { fitted: self, threshold, z, best, here, warm })
    }

    /// Upper bound of the place, and how it was found.
    fn upper(&self, threshold: f64, z: f64, confidence: f64) -> (Option<f64>, &'static str) {
        let Some(means) = self.unit_means() else {
            let constant = self.model.spread == Spread::Constant;
            let method = if constant { PROFILE } else { PROFILE_SPREAD };
            return (self.upper_by_profile(threshold, z, confidence), method);
        };
        let error = 1.0 - confidence;
        let excess = |x: f64| error - means.p_value(x, threshold, z);
        let upper = outward_crossing(means.reaches(threshold, z), FARTHEST, excess);
        (upper, if means.single() { EXACT } else { MEANS })
    }

    /// Whether the upper bound lies at or below each of these places: one look at
    /// each instead of a search.
    fn bounded_by(&self, threshold: f64, z: f64, confidence: f64, places: &[f64]) -> Vec<bool> {
        if let Some(means) = self.unit_means() {
            let here = means.reaches(threshold, z);
            let error = 1.0 - confidence;
            let beyond = |x: &f64| *x >= here && means.p_value(*x, threshold, z) <= error;
            return places.iter().map(beyond).collect();
        }
        let Some(profile) = self.profile(threshold, z) else { return vec![false; places.len()] };
        let drop = self.most_lost(confidence);
        places.iter().map(|x| *x >= profile.here && profile.loss(*x) >= drop).collect()
    }

    fn upper_by_profile(&self, threshold: f64, z: f64, confidence: f64) -> Option<f64> {
        let profile = self.profile(threshold, z)?;
        let drop = self.most_lost(confidence);
        outward_crossing(profile.here, FARTHEST, |x| profile.loss(x) - drop)
    }

    /// The unit means, where the bound is theirs.
    fn unit_means(&self) -> Option<UnitMeans> {
        (self.model.spread == Spread::Constant).then(|| UnitMeans::of(&self.model.units)).flatten()
    }

    /// What a line within the bound loses at most against the summit.
    fn most_lost(&self, confidence: f64) -> f64 {
        let t = student_t::quantile(confidence, self.degrees_of_freedom());
        0.5 * t * t
    }

    /// Degrees of freedom of the scatter: units that were read, less the two of
    /// the line; units only judged or censored say next to nothing of it. Where
    /// it was estimated as well how the scatter goes with size, half of them
    /// and two fewer, because each end then rests on the units near it: with
    /// all of them the bound covered 0.932 to 0.960 in simulation, with half of
    /// them 0.939 at the worst, and with these what `docs/coverage.md` gives.
    pub(super) fn degrees_of_freedom(&self) -> f64 {
        let was_read = |signal: &Signal| matches!(signal, Signal::Read(_));
        let read = |unit: &&Unit| unit.rows.iter().any(|(_, signal)| was_read(signal));
        let all = (self.model.units.iter().filter(read).count() as f64 - 2.0).max(1.0);
        if self.model.spread == Spread::Constant { all } else { (0.5 * all - 2.0).max(1.0) }
    }
}

/// Restricted likelihood with the place detected held.
pub(super) struct Profile<'a> {
    fitted: &'a Fitted,
    threshold: f64,
    z: f64,
    best: Summit,
    /// Place of the summit.
    pub here: f64,
    /// Parameters of the last place, from which the next climb starts.
    warm: RefCell<Vec<f64>>,
}

impl Profile<'_> {
    /// What the best line through a place loses against the summit.
    pub(super) fn loss(&self, x: f64) -> f64 {
        // From the last lines, or from one that keeps the height in the middle
        // of the sizes.
        let mut turned = self.best.place[1..].to_vec();
        let spread = self.fitted.model.spread;
        if let Some(p) = self.fitted.parameters(&self.best.place)
            && let Some(mean) = mean_at(spread, self.threshold, self.z, x, p.total(), p.exponent)
            && x.abs() > 1e-3
        {
            turned[0] = (mean - self.best.place[0]) / x;
        }
        let starts = [self.warm.borrow().clone(), turned];
        match self.fitted.pinned(self.threshold, self.z, x, &starts) {
            Some((value, free)) => {
                *self.warm.borrow_mut() = free;
                self.best.value - value
            }
            // No line reaches the place: it is excluded.
            None => f64::INFINITY,
        }
    }
}

impl SignalResponse {
    /// Size at which a new unit, read once, exceeds `threshold` with the given
    /// probability, with its one-sided upper bound.
    ///
    /// # Errors
    /// A slope that is not positive; a probability outside 0 to 1; a
    /// confidence outside 0.5 to 1; a probability that the line never reaches
    /// because the scatter outgrows the signal.
    pub fn place_detected(
        &self,
        threshold: f64,
        probability: f64,
        confidence: f64,
    ) -> Result<Place, CannotSay> {
        let (on_axis, z) = self.asked(threshold, probability, confidence)?;
        let fitted = &self.fitted;
        let estimate = fitted
            .parameters(&fitted.place)
            .and_then(|p| fitted.reaches(&p, on_axis, z))
            .ok_or_else(|| {
                CannotSay::not_determined(
                    "with this scatter no size is detected with that probability",
                    "Lower the threshold, or ask for a smaller probability.",
                )
            })?;
        let back = |x: f64| fitted.middle + fitted.half * x;
        let (upper, method) = fitted.upper(on_axis, z, confidence);
        Ok(Place {
            estimate: cannot_say::computed("the place", back(estimate))?,
            upper: upper.map(back).filter(|upper| upper.is_finite()),
            method,
        })
    }

    /// Whether the upper bound of [`Self::place_detected`] lies at or below each of
    /// these sizes. One look at the likelihood at each, where the bound itself
    /// takes a search: for where it is asked a thousand times.
    ///
    /// # Errors
    /// As [`Self::place_detected`], and sizes that are not finite.
    pub fn bounded_by(
        &self,
        sizes: &[f64],
        threshold: f64,
        probability: f64,
        confidence: f64,
    ) -> Result<Vec<bool>, CannotSay> {
        cannot_say::all_finite("the sizes", sizes)?;
        let (on_axis, z) = self.asked(threshold, probability, confidence)?;
        let fitted = &self.fitted;
        let places: Vec<f64> = sizes.iter().map(|x| (x - fitted.middle) / fitted.half).collect();
        Ok(fitted.bounded_by(on_axis, z, confidence, &places))
    }

    /// Threshold on the axis of the fit and normal score of a question.
    fn asked(
        &self,
        threshold: f64,
        probability: f64,
        confidence: f64,
    ) -> Result<(f64, f64), CannotSay> {
        check_question(threshold, probability, confidence)?;
        if confidence < 0.5 {
            return Err(CannotSay::OutOfRange {
                what: "the confidence of an upper bound".into(),
                value: confidence,
                allowed: "a number from 0.5 to 1".into(),
            });
        }
        check_rising(self.slope)?;
        let fitted = &self.fitted;
        Ok(((threshold - fitted.origin) / fitted.scale, normal::quantile(probability)))
    }

    /// Standard deviation of one reading of a new unit at a size.
    #[must_use]
    pub fn deviation_at(&self, size: f64) -> Option<f64> {
        let fitted = &self.fitted;
        let p = fitted.parameters(&fitted.place)?;
        let x = (size - fitted.middle) / fitted.half;
        let factor = self.spread.factor(p.exponent, x, p.intercept + p.slope * x)?;
        Some(self.total * factor).filter(|v| v.is_finite())
    }

    /// Probability that a new unit of this size, read once, exceeds
    /// `threshold`.
    #[must_use]
    pub fn probability_above(&self, size: f64, threshold: f64) -> Option<f64> {
        let z = (self.intercept + self.slope * size - threshold) / self.deviation_at(size)?;
        z.is_finite().then(|| normal::cumulative(z))
    }
}
