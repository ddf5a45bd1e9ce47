//! What a fitted curve answers: probabilities, sizes and their bounds.

use super::fit::HitMissFit;
use super::likelihood::Row;
use super::{firth, profile, small_sample};
use crate::distributions::normal;
use digits::scalar::{exp, ln};

/// How far beyond the tested range, in half ranges, a bound is followed
/// before it is called open.
const FARTHEST: f64 = 1e4;

/// The data on the axis of the fit, and the line where one exists.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Kept {
    pub rows: Vec<Row>,
    pub centre: f64,
    pub scale: f64,
    pub fitted: Option<Fitted>,
}

/// Maximum-likelihood line on the axis of the fit.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Fitted {
    pub line: (f64, f64),
    pub maximum: f64,
    /// Variances: intercept, mixed, slope.
    pub covariance: (f64, f64, f64),
}

impl Kept {
    pub(crate) fn size(&self, log_size: bool, x: f64) -> Option<f64> {
        let place = self.centre + self.scale * x;
        let value = if log_size { exp(place) } else { place };
        value.is_finite().then_some(value)
    }
}

/// Upper bound by the profile of the penalised likelihood, on the axis of the
/// fit.
pub(crate) fn penalised_bound(
    kept: &Kept,
    link: super::Link,
    line: (f64, f64),
    eta: f64,
    z: f64,
) -> Option<f64> {
    if !(z > 0.0 && line.1 > 0.0) {
        return None;
    }
    let best = firth::penalised(&kept.rows, link, line.0, line.1);
    profile::outward_crossing((eta - line.0) / line.1, FARTHEST, |x| {
        best - firth::pinned(&kept.rows, link, x, eta, line.1) - 0.5 * z * z
    })
}

impl HitMissFit {
    fn position(&self, size: f64) -> Option<(f64, &Kept)> {
        let kept = self.kept.as_ref()?;
        kept.fitted.as_ref()?;
        if !size.is_finite() || (self.log_size && size <= 0.0) {
            return None;
        }
        let axis = if self.log_size { ln(size) } else { size };
        let x = (axis - kept.centre) / kept.scale;
        x.is_finite().then_some((x, kept))
    }

    /// Probability of detection of a size; `None` where no curve was fitted
    /// or the size is not on its axis.
    #[must_use]
    pub fn probability(&self, size: f64) -> Option<f64> {
        let (x, kept) = self.position(size)?;
        let (b0, b1) = kept.fitted.as_ref()?.line;
        Some(self.link.probability(b0 + b1 * x))
    }

    /// Place on the axis of the fit where the curve reaches a probability.
    fn place(&self, probability: f64) -> Option<(f64, f64, &Kept, &Fitted)> {
        let kept = self.kept.as_ref()?;
        let fitted = kept.fitted.as_ref()?;
        let (b0, b1) = fitted.line;
        if !(probability > 0.0 && probability < 1.0 && b1 > 0.0) {
            return None;
        }
        let eta = self.link.line(probability);
        Some((eta, (eta - b0) / b1, kept, fitted))
    }

    /// Size found with the given probability.
    #[must_use]
    pub fn size_at(&self, probability: f64) -> Option<f64> {
        let (_, x, kept, _) = self.place(probability)?;
        kept.size(self.log_size, x)
    }

    /// One-sided upper bound of the size found with the given probability, by
    /// the profile likelihood; `None` where no bound exists.
    #[must_use]
    pub fn upper_bound(&self, probability: f64) -> Option<f64> {
        let (eta, _, kept, fitted) = self.place(probability)?;
        let z = normal::quantile(self.confidence);
        if z <= 0.0 {
            return None;
        }
        let drop = 0.5 * z * z;
        let x = profile::upper_crossing(
            &kept.rows,
            self.link,
            fitted.line,
            fitted.maximum,
            eta,
            drop,
            FARTHEST,
        )?;
        kept.size(self.log_size, x)
    }

    /// One-sided upper bound of the size found with the given probability, with
    /// its reference distribution simulated instead of asymptotic.
    ///
    /// Covers at least 0.94 for a nominal 0.95 from 20 units on (see
    /// `docs/coverage.md`); it exists for separated samples as well, where it
    /// rests on the likelihood alone. `None` where the data bound nothing.
    #[must_use]
    pub fn upper_bound_small_sample(
        &self,
        probability: f64,
        simulation: super::Simulation,
    ) -> Option<f64> {
        let kept = self.kept.as_ref()?;
        if !(probability > 0.0 && probability < 1.0 && simulation.samples > 0) {
            return None;
        }
        let eta = self.link.line(probability);
        let x = small_sample::upper_bound(
            &kept.rows,
            self.link,
            eta,
            1.0 - self.confidence,
            kept.fitted.as_ref().map_or(1.0, |fitted| fitted.line.1),
            50.0,
            simulation,
        )?;
        kept.size(self.log_size, x)
    }

    /// The same bound by the delta method, optimistic in small samples.
    #[must_use]
    pub fn upper_bound_wald(&self, probability: f64) -> Option<f64> {
        let (_, x, kept, fitted) = self.place(probability)?;
        let (v0, v01, v1) = fitted.covariance;
        let error = (v0 + 2.0 * x * v01 + x * x * v1).max(0.0).sqrt() / fitted.line.1;
        kept.size(self.log_size, x + normal::quantile(self.confidence) * error)
    }

    /// One-sided lower bound of the probability of detection of a size, by
    /// the profile likelihood.
    #[must_use]
    pub fn lower_bound(&self, size: f64) -> Option<f64> {
        let (x, kept) = self.position(size)?;
        let z = normal::quantile(self.confidence).max(0.0);
        let fitted = kept.fitted.as_ref()?;
        let drop = 0.5 * z * z;
        let height =
            profile::lower_height(&kept.rows, self.link, fitted.line, fitted.maximum, x, drop)?;
        Some(self.link.probability(height))
    }
}
