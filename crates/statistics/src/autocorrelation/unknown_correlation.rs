//! A slope where the correlation of the noise is itself hardly known.

use super::prior::Prior;
use crate::distributions::student_t;
use digits::{scalar, sums};
use std::f64::consts::FRAC_PI_2;

/// Correlations that are tried.
const NODES: usize = 61;

/// What the slope may be beyond its least-squares value: for each correlation
/// that may hold, Student's t about the generalised least-squares slope.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Unknown {
    parts: Vec<Part>,
    freedom: f64,
    /// What the parts are counted in: root of the residuals' sum of squares
    /// over that of the times.
    unit: f64,
}

#[derive(Debug, Clone, Copy, PartialEq)]
struct Part {
    weight: f64,
    centre: f64,
    scale: f64,
}

/// Sums over a record from which `a' V^-1 b` follows at every correlation:
/// `sum a b + rho^2 (sum a b without the ends) - rho (sum of neighbours)`, in
/// units of one over the variance of the innovations.
#[derive(Debug, Clone, Copy)]
struct Products {
    all: f64,
    inner: f64,
    neighbours: f64,
}

impl Products {
    fn of(a: &[f64], b: &[f64]) -> Self {
        let all = sums::sum(a.iter().zip(b).map(|(a, b)| a * b));
        let ends = a[0] * b[0] + a[a.len() - 1] * b[b.len() - 1];
        let neighbours =
            sums::sum(a.windows(2).zip(b.windows(2)).map(|(a, b)| a[0] * b[1] + a[1] * b[0]));
        Products { all, inner: all - ends, neighbours }
    }

    fn at(&self, rho: f64) -> f64 {
        self.all + rho * rho * self.inner - rho * self.neighbours
    }
}

impl Unknown {
    /// From the centred times and the residuals of the least-squares line;
    /// `near` is where the correlation is thought to lie. `None` where nothing
    /// finite comes out.
    ///
    /// The weight of a correlation is its restricted likelihood, with the
    /// variance integrated out under `1 / sigma^2`, times the prior.
    pub(super) fn of(times: &[f64], residuals: &[f64], near: f64) -> Option<Self> {
        let n = times.len() as f64;
        let freedom = n - 2.0;
        // All in their own units, so that no product leaves the numbers.
        let length = |list: &[f64]| sums::sum(list.iter().map(|x| x * x)).sqrt();
        let (spread, rest) = (length(times), length(residuals));
        let times: &[f64] = &times.iter().map(|t| t / spread).collect::<Vec<f64>>();
        let residuals: &[f64] = &residuals.iter().map(|r| r / rest).collect::<Vec<f64>>();
        let ones = vec![1.0; times.len()];
        let one_one = Products::of(&ones, &ones);
        let one_time = Products::of(&ones, times);
        let time_time = Products::of(times, times);
        let one_rest = Products::of(&ones, residuals);
        let time_rest = Products::of(times, residuals);
        let rest_rest = Products::of(residuals, residuals);

        // In the angle asin(rho) the likelihood of a long record is about
        // normal with a standard deviation of one over the root of n.
        let middle = scalar::asin(near.clamp(-0.99, 0.99));
        let reach = 8.0 / n.sqrt();
        let low = (middle - reach).max(-FRAC_PI_2);
        let step = ((middle + reach).min(FRAC_PI_2) - low) / NODES as f64;

        let prior = Prior::of_length(times.len());
        let mut parts = Vec::with_capacity(NODES);
        let mut highest = f64::NEG_INFINITY;
        for node in 0..NODES {
            let angle = low + step * (node as f64 + 0.5);
            let rho = scalar::sin(angle);
            let (a, b, d) = (one_one.at(rho), one_time.at(rho), time_time.at(rho));
            let (u, v) = (one_rest.at(rho), time_rest.at(rho));
            let determinant = a * d - b * b;
            let centre = (a * v - b * u) / determinant;
            let explained = (d * u * u - 2.0 * b * u * v + a * v * v) / determinant;
            let squares = (rest_rest.at(rho) - explained).max(1e-12 * rest_rest.all);
            let scale = (squares / freedom * a / determinant).sqrt();
            let log_weight = prior.log_weight(angle) + 0.5 * scalar::ln(1.0 - rho * rho)
                - 0.5 * scalar::ln(determinant)
                - 0.5 * freedom * scalar::ln(squares);
            if !(log_weight.is_finite() && centre.is_finite() && scale > 0.0) {
                return None;
            }
            highest = highest.max(log_weight);
            parts.push(Part { weight: log_weight, centre, scale });
        }
        for part in &mut parts {
            part.weight = scalar::exp(part.weight - highest);
        }
        parts.retain(|part| part.weight > 1e-9);
        let total = sums::sum(parts.iter().map(|part| part.weight));
        for part in &mut parts {
            part.weight /= total;
        }
        Some(Unknown { parts, freedom, unit: rest / spread })
    }

    /// Chance that the slope lies at most `beyond` units above its least-squares
    /// value.
    fn below(&self, beyond: f64) -> f64 {
        sums::sum(self.parts.iter().map(|part| {
            part.weight * student_t::cumulative((beyond - part.centre) / part.scale, self.freedom)
        }))
    }

    /// How far above its least-squares value the slope lies with this chance;
    /// `None` where the computer's numbers do not hold it.
    pub(super) fn quantile(&self, chance: f64) -> Option<f64> {
        let t = student_t::quantile(chance, self.freedom);
        // The quantile of a mixture lies between those of its parts.
        let of = |part: &Part| part.centre + t * part.scale;
        let mut low = self.parts.iter().map(of).fold(f64::INFINITY, f64::min);
        let mut high = self.parts.iter().map(of).fold(f64::NEG_INFINITY, f64::max);
        let narrow = 1e-9 * self.parts.iter().map(|part| part.scale).fold(0.0, f64::max);
        let (mut at_low, mut at_high) = (self.below(low) - chance, self.below(high) - chance);
        let mut rises_before = None;
        for turn in 1.. {
            // Where all parts agree an end is the place itself.
            if at_low >= 0.0 || high - low <= narrow {
                return low.is_finite().then_some(self.unit * low);
            }
            if at_high <= 0.0 {
                return high.is_finite().then_some(self.unit * high);
            }
            // False position, halved at an end that stays (Illinois); every
            // third turn halves the bracket, so that it ends.
            let here = if turn % 3 == 0 {
                0.5 * (low + high)
            } else {
                (low * at_high - high * at_low) / (at_high - at_low)
            };
            let there = self.below(here) - chance;
            if !there.is_finite() {
                return None;
            }
            if there.abs() < 1e-12 {
                return Some(self.unit * here);
            }
            let rises = there < 0.0;
            if rises {
                (low, at_low) = (here, there);
            } else {
                (high, at_high) = (here, there);
            }
            if rises_before == Some(rises) {
                if rises {
                    at_high *= 0.5;
                } else {
                    at_low *= 0.5;
                }
            }
            rises_before = Some(rises);
        }
        None
    }
}
