//! Upper bound of the size found with a given probability, for small samples.
//!
//! The plain likelihood-ratio bound covers 0.92 to 0.93 instead of 0.95 at 32
//! and 64 units. Here its reference distribution is not chi-squared but
//! simulated: at each candidate size the curve is pinned there, samples of the
//! same design are drawn from the pinned fit, and the observed signed root is
//! compared with theirs. The signed root needs no finite slope, so separated
//! samples, observed or drawn, take part instead of being dropped.
//!
//! Source: T. J. DiCiccio, M. A. Martin and S. E. Stern, Can. J. Stat. 29
//! (2001) 67; S. M. S. Lee and G. A. Young, Biometrika 92 (2005) 411
//! (parametric bootstrap of the signed root, from memory).

use super::likelihood::{self, Row};
use super::link::Link;
use super::profile;
use super::separation::{Extremes, Separation};
use digits::RandomStream;

/// Share of the error probability that is spent: the rest allows for drawing
/// from the pinned fit instead of the true curve. Without it the simulated
/// coverage for a nominal 0.95 touches 0.939 at 32 units of a flat curve.
pub(super) const SHARE: f64 = 0.9;

/// Settings of the simulation behind a bound.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Simulation {
    /// Number of samples drawn at each candidate size.
    pub samples: u32,
    /// Seed; the same seed gives the same bound to the last bit.
    pub seed: u64,
}

impl Default for Simulation {
    fn default() -> Self {
        Self { samples: 2000, seed: 20_251_125 }
    }
}

/// Largest log-likelihood of any curve, infinite slopes included, with the
/// sign of the height of that curve over `eta` at `x`.
pub(super) fn supremum(rows: &[Row], link: Link, x: f64, eta: f64) -> (f64, f64) {
    let extremes = Extremes::of(rows.iter().map(|r| (r.x, r.hits as u64, r.misses as u64)));
    let separation = extremes.separation();
    if separation == Separation::None {
        return match likelihood::maximise(rows, link) {
            Some((b0, b1, best)) => (best.value, (b0 + b1 * x - eta).signum()),
            // All units of one size: the share itself.
            None => (likelihood::saturated(rows), share_sign(rows, link, eta)),
        };
    }
    let (Some(hit), Some(miss)) = (extremes.smallest_hit, extremes.largest_miss) else {
        let all_hits = extremes.largest_miss.is_none();
        return (0.0, if all_hits { 1.0 } else { -1.0 });
    };
    let rising = extremes.largest_hit > extremes.smallest_miss || hit >= miss;
    let (low, high) = if rising {
        (miss, hit)
    } else {
        (extremes.largest_hit.unwrap_or(hit), extremes.smallest_miss.unwrap_or(miss))
    };
    // At the one shared size the limit curve has the observed share.
    let value = rows
        .iter()
        .filter(|row| separation == Separation::Quasi && row.x == low)
        .map(|row| likelihood::saturated(std::slice::from_ref(row)))
        .sum();
    let above = if x > high {
        1.0
    } else if x < low {
        -1.0
    } else {
        0.0
    };
    (value, if rising { above } else { -above })
}

fn share_sign(rows: &[Row], link: Link, eta: f64) -> f64 {
    let hits: f64 = rows.iter().map(|row| row.hits).sum();
    let of: f64 = rows.iter().map(|row| row.hits + row.misses).sum();
    (hits / of - link.probability(eta)).signum()
}

/// Signed root of the likelihood ratio of "the curve reaches `eta` at `x`";
/// large when the curve lies clearly higher.
pub(super) fn signed_root(rows: &[Row], link: Link, x: f64, eta: f64, start: f64) -> f64 {
    let (best, sign) = supremum(rows, link, x, eta);
    let (pinned, _) = profile::pinned(rows, link, x, eta, start);
    sign * (2.0 * (best - pinned)).max(0.0).sqrt()
}

/// Probability, under the curve pinned at `(x, eta)`, of a signed root at
/// least as large as the observed one, ties included.
///
/// A small value excludes that the curve is as low as `eta` at `x`.
#[cfg(test)]
pub(crate) fn pinned_p_value(
    rows: &[Row],
    link: Link,
    x: f64,
    eta: f64,
    start: f64,
    simulation: Simulation,
) -> f64 {
    let reached = reached(rows, link, (x, eta), start, f64::INFINITY, simulation);
    reached / (f64::from(simulation.samples) + 1.0)
}

/// Whether that probability is below `error`; the count stops as soon as the
/// answer is settled.
pub(crate) fn is_excluded(
    rows: &[Row],
    link: Link,
    (x, eta): (f64, f64),
    start: f64,
    error: f64,
    simulation: Simulation,
) -> bool {
    let allowed = error * (f64::from(simulation.samples) + 1.0);
    reached(rows, link, (x, eta), start, allowed, simulation) < allowed
}

/// Samples of the pinned curve whose root reaches the observed one, which
/// counts as one of them so that no bound rests on "never seen"; no further
/// than `enough`.
fn reached(
    rows: &[Row],
    link: Link,
    (x, eta): (f64, f64),
    start: f64,
    enough: f64,
    simulation: Simulation,
) -> f64 {
    let observed = signed_root(rows, link, x, eta, start);
    let (_, slope) = profile::pinned(rows, link, x, eta, start);
    let shares: Vec<f64> =
        rows.iter().map(|row| link.probability(eta + slope * (row.x - x))).collect();
    let mut drawn = rows.to_vec();
    let mut reached = 1.0;
    for sample in 0..simulation.samples {
        if reached >= enough {
            break;
        }
        let mut stream = RandomStream::new(simulation.seed, u64::from(sample));
        for (row, (source, share)) in drawn.iter_mut().zip(rows.iter().zip(&shares)) {
            let of = source.hits + source.misses;
            let mut hits = 0.0;
            // Single draws, so that neighbouring candidates share their luck.
            for _ in 0..of as u64 {
                hits += f64::from(u8::from(stream.uniform() < *share));
            }
            row.hits = hits;
            row.misses = of - hits;
        }
        let root = signed_root(&drawn, link, x, eta, slope);
        if root >= observed - 1e-7 {
            reached += 1.0;
        }
    }
    reached
}

/// Upper bound on the axis of the fit: smallest place beyond which the pinned
/// curve is excluded at `error`.
///
/// `None` where even a place `farthest` half ranges away is not excluded.
pub(crate) fn upper_bound(
    rows: &[Row],
    link: Link,
    eta: f64,
    error: f64,
    start: f64,
    farthest: f64,
    simulation: Simulation,
) -> Option<f64> {
    let excluded = |x: f64| is_excluded(rows, link, (x, eta), start, SHARE * error, simulation);
    // Outward in steps from the middle of the tested range.
    let mut inner = -1.0;
    let mut width = 0.25;
    let mut outer = inner + width;
    while !excluded(outer) {
        inner = outer;
        if outer > 1.0 {
            width *= 1.5;
        }
        outer += width;
        if outer > farthest {
            return None;
        }
    }
    Some(edge(inner, outer, 14, excluded))
}

/// Edge between a place that is let in and one that is excluded, by halving;
/// always on the excluded side.
pub(super) fn edge(
    mut inside: f64,
    mut outside: f64,
    halvings: u32,
    excluded: impl Fn(f64) -> bool,
) -> f64 {
    for _ in 0..halvings {
        let middle = 0.5 * (inside + outside);
        if excluded(middle) {
            outside = middle;
        } else {
            inside = middle;
        }
    }
    outside
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn signed_root_is_zero_on_the_curve() {
        let rows =
            [Row { x: -1.0, hits: 1.0, misses: 3.0 }, Row { x: 1.0, hits: 3.0, misses: 1.0 }];
        let root = signed_root(&rows, Link::Logit, 0.0, 0.0, 1.0);
        assert!(root.abs() < 1e-6, "{root}");
        assert!(signed_root(&rows, Link::Logit, 0.0, 2.0, 1.0) < -0.5);
        assert!(signed_root(&rows, Link::Logit, 3.0, 0.0, 1.0) > 0.5);
    }

    #[test]
    fn separated_samples_have_a_root() {
        let rows = [
            Row { x: -1.0, hits: 0.0, misses: 4.0 },
            Row { x: 0.0, hits: 4.0, misses: 0.0 },
            Row { x: 1.0, hits: 4.0, misses: 0.0 },
        ];
        let far = signed_root(&rows, Link::Logit, 3.0, Link::Logit.line(0.9), 1.0);
        assert!(far > 1.0 && far.is_finite(), "{far}");
        let gap = signed_root(&rows, Link::Logit, -0.5, Link::Logit.line(0.9), 1.0);
        assert!(gap.abs() < 0.1, "{gap}");
    }
}
