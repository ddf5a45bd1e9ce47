//! Upper bound of the size detected above a floor, and interval of the floor,
//! for small samples.
//!
//! As for the curve without a floor: at each candidate size the curve is held
//! there, samples of the same design, blanks included, are drawn from the best
//! curve so held, and the signed root observed is compared with theirs. Sets
//! whose hits and misses are separated above the floor take part.
//!
//! Source: S. M. S. Lee and G. A. Young, Biometrika 92 (2005) 411 (parametric
//! bootstrap of the signed root under the constrained estimate; from memory). The
//! floor is treated alike, with the likelihood ratio for the signed root.

use super::axis::Axis;
use super::scoring::{Curve, floor_ratio, signed_root};
use super::{FalseCallFit, Floor};
use crate::detection::small_sample::{SHARE, Simulation, edge};
use digits::RandomStream;

/// How far from the middle of the sizes, in half ranges, a bound is followed.
const FARTHEST: f64 = 50.0;

/// Roots that differ by less are equal: samples are discrete, and each root is
/// known to the digits of its climb.
const TIE: f64 = 1e-4;

/// Draws the same design anew from a curve.
fn draw(axis: &mut Axis, like: &Axis, curve: &Curve, stream: &mut RandomStream) {
    let mut count = |p: f64, of: f64| {
        let mut hits = 0.0;
        // Single draws, so that neighbouring candidates share their luck.
        for _ in 0..of as u64 {
            hits += f64::from(u8::from(stream.uniform() < p));
        }
        (hits, of - hits)
    };
    axis.blanks = count(curve.floor, like.blanks.0 + like.blanks.1);
    for (row, source) in axis.rows.iter_mut().zip(&like.rows) {
        let above = like.link.probability(curve.intercept + curve.slope * source.x);
        let p = curve.floor + (1.0 - curve.floor) * above;
        (row.hits, row.misses) = count(p, source.hits + source.misses);
    }
}

/// Whether the curve is excluded at `place` at an error probability.
///
/// Counting stops as soon as the answer is settled.
pub(super) fn excluded(
    axis: &Axis,
    floor: Floor,
    place: (f64, f64),
    known: Curve,
    error: f64,
    simulation: Simulation,
) -> bool {
    let Some((observed, held)) = signed_root(axis, floor, place, known) else { return false };
    rarely_reached(axis, held, observed, error, simulation, |drawn| {
        signed_root(drawn, floor, place, held).map(|found| found.0)
    })
}

/// Whether samples of `held` reach what was observed with less than the error
/// probability.
///
/// Counting stops as soon as the answer is settled.
fn rarely_reached(
    axis: &Axis,
    held: Curve,
    observed: f64,
    error: f64,
    simulation: Simulation,
    statistic: impl Fn(&Axis) -> Option<f64>,
) -> bool {
    let allowed = SHARE * error * (f64::from(simulation.samples) + 1.0);
    let mut drawn = axis.clone();
    // The observed sample counts as one of them.
    let mut reached = 1.0;
    for sample in 0..simulation.samples {
        if reached >= allowed {
            return false;
        }
        let mut stream = RandomStream::new(simulation.seed, u64::from(sample));
        draw(&mut drawn, axis, &held, &mut stream);
        // A sample without a root speaks against the exclusion.
        if statistic(&drawn).unwrap_or(f64::INFINITY) >= observed - TIE {
            reached += 1.0;
        }
    }
    reached < allowed
}

/// Whether the data exclude a floor at an error probability.
pub(super) fn floor_excluded(
    axis: &Axis,
    floor: f64,
    known: Curve,
    error: f64,
    simulation: Simulation,
) -> bool {
    // A blank called leaking allows no floor of zero.
    if floor <= 0.0 && axis.blanks.0 > 0.0 {
        return true;
    }
    let Some((observed, held)) = floor_ratio(axis, floor, known) else { return false };
    rarely_reached(axis, held, observed, error, simulation, |drawn| {
        floor_ratio(drawn, floor, held).map(|found| found.0)
    })
}

impl FalseCallFit {
    /// Two-sided interval of the floor whose reference is simulated.
    ///
    /// Covers at least 0.94 for a nominal 0.95 on the grid of `docs/coverage.md`;
    /// where the true floor is near zero it covers more, because few counts are
    /// possible. `None` where the floor was given, where it may be a half or
    /// more, or without samples.
    #[must_use]
    pub fn floor_interval_small_sample(&self, simulation: Simulation) -> Option<(f64, f64)> {
        let (plain_low, plain_high) = self.floor_interval?;
        if simulation.samples == 0 {
            return None;
        }
        let known = self.on_axis();
        let error = 1.0 - self.confidence;
        let out = |floor: f64| floor_excluded(&self.axis, floor, known, error, simulation);
        let lower = if out(0.0) {
            let mut low = plain_low;
            while low > 1e-6 && !out(low) {
                low *= 0.5;
            }
            edge(self.floor, low, 12, out)
        } else {
            0.0
        };
        let mut high = plain_high;
        while !out(high) {
            high = 1.3 * high + 0.01;
            if high >= 0.5 {
                return None;
            }
        }
        Some((lower, edge(self.floor, high, 12, out)))
    }

    /// The curve found, on the axis of the fit.
    fn on_axis(&self) -> Curve {
        Curve {
            floor: self.floor,
            intercept: self.intercept + self.slope * self.axis.centre,
            slope: self.slope * self.axis.scale,
            value: 0.0,
        }
    }

    /// One-sided upper bound of the size detected, for its leak, with the
    /// given probability; its reference distribution is simulated.
    ///
    /// Covers at least 0.94 for a nominal 0.95 from 16 units with 10 blanks on
    /// (`docs/coverage.md`). `None` where the data bound nothing, or for a
    /// probability or a confidence that allows no bound.
    #[must_use]
    pub fn upper_bound_small_sample(
        &self,
        probability: f64,
        simulation: Simulation,
    ) -> Option<f64> {
        if !(probability > 0.0 && probability < 1.0 && simulation.samples > 0) {
            return None;
        }
        let axis = &self.axis;
        let eta = self.link.line(probability);
        let known = self.on_axis();
        let error = 1.0 - self.confidence;
        let out = |x: f64| excluded(axis, self.given, (x, eta), known, error, simulation);
        let mut inner = (eta - known.intercept) / known.slope;
        let mut width = 0.1;
        let mut outer = inner + width;
        while !out(outer) {
            inner = outer;
            width *= 1.4;
            outer += width;
            if outer > FARTHEST {
                return None;
            }
        }
        // To a four-thousandth of the last step: far below the error of the
        // reference.
        axis.size(self.log_size, edge(inner, outer, 12, out))
    }
}

#[cfg(test)]
mod tests {
    use super::super::scoring::{Climb, leap};
    use super::*;
    use crate::detection::{HitMiss, Link, fit_hit_miss, fit_with_false_calls};

    fn drawn(seed: u64, per_size: u64, floor: f64, link: Link) -> Vec<HitMiss> {
        let mut stream = RandomStream::new(seed, 0);
        let mut hits = |p: f64, of: u64| (0..of).filter(|_| stream.uniform() < p).count() as u64;
        let mut data = vec![HitMiss { size: 0.0, hits: hits(floor, 20), of: 20 }];
        for step in 0..8 {
            let x = -1.0 + f64::from(step) / 3.5;
            let p = floor + (1.0 - floor) * link.probability(3.5 * x);
            data.push(HitMiss { size: 2.0 + x, hits: hits(p, per_size), of: per_size });
        }
        data
    }

    /// The quick climb reaches what the careful one reaches, free and held.
    #[test]
    fn scoring_reaches_the_summit_of_the_careful_climb() {
        let mut compared = 0;
        for seed in 0..40 {
            for link in [Link::Logit, Link::Probit, Link::Cloglog] {
                let floor = if seed % 2 == 0 { 0.1 } else { 0.0 };
                let data = drawn(seed, 6, floor, link);
                let Ok(fit) = fit_with_false_calls(&data, link, false, Floor::Estimated, 0.95)
                else {
                    continue;
                };
                let start = Curve { floor: 0.05, intercept: 0.0, slope: 3.0, value: 0.0 };
                let eta = link.line(0.9);
                let climb = Climb { axis: &fit.axis, free_floor: true, pin: None };
                let free = climb.from(start).unwrap();
                assert!(free.value <= fit.log_likelihood + 1e-7, "{seed} {link:?} {free:?}");
                // The root is zero where the careful climb puts the size.
                let x = (fit.a90.unwrap() - fit.axis.centre) / fit.axis.scale;
                let (root, _) = signed_root(&fit.axis, Floor::Estimated, (x, eta), start).unwrap();
                assert!(root.abs() < 2e-3, "{seed} {link:?} {root}");
                // And the normal quantile where it puts the plain bound.
                if let Some(upper) = fit.a90_95 {
                    let x = (upper - fit.axis.centre) / fit.axis.scale;
                    let (root, _) =
                        signed_root(&fit.axis, Floor::Estimated, (x, eta), start).unwrap();
                    assert!((root - 1.644_853_6).abs() < 2e-3, "{seed} {link:?} {root}");
                    compared += 1;
                }
            }
        }
        assert!(compared > 60, "{compared}");
    }

    #[test]
    fn a_leap_knows_its_place() {
        let row = |size: f64, hits: u64| HitMiss { size, hits, of: 10 };
        let data = [row(0.0, 1), row(1.0, 1), row(2.0, 4), row(3.0, 10), row(4.0, 10)];
        let axis = super::super::axis::axis(&data, Link::Logit, false).unwrap();
        let found = leap(&axis, None);
        // On size 2: floor 2 of 20, its own share 4 of 10.
        let by_hand = {
            use digits::scalar::ln;
            2.0 * ln(0.1) + 18.0 * ln(0.9) + 4.0 * ln(0.4) + 6.0 * ln(0.6)
        };
        assert!((found.value - by_hand).abs() < 1e-12 && found.after == found.before, "{found:?}");
        assert!((found.value - axis.leap(None)).abs() < 1e-12);
    }

    #[test]
    fn bound_is_wider_than_the_plain_one_and_the_same_every_time() {
        let data = drawn(3, 6, 0.1, Link::Logit);
        let fit = fit_with_false_calls(&data, Link::Logit, false, Floor::Estimated, 0.95).unwrap();
        let simulation = Simulation { samples: 400, seed: 5 };
        let bound = fit.upper_bound_small_sample(0.9, simulation).unwrap();
        assert!(bound > fit.a90_95.unwrap() && bound < 2.0 * fit.a90_95.unwrap(), "{bound}");
        assert_eq!(fit.upper_bound_small_sample(0.9, simulation), Some(bound));
        assert_eq!(fit.upper_bound_small_sample(1.0, simulation), None);
    }

    #[test]
    fn the_interval_of_the_floor_contains_it_and_is_the_same_every_time() {
        let simulation = Simulation { samples: 300, seed: 5 };
        let mut compared = 0;
        for seed in 0..6 {
            let data = drawn(seed, 6, 0.1, Link::Logit);
            let Ok(fit) = fit_with_false_calls(&data, Link::Logit, false, Floor::Estimated, 0.95)
            else {
                continue;
            };
            let (low, high) = fit.floor_interval_small_sample(simulation).unwrap();
            assert!(low <= fit.floor && fit.floor <= high && high < 0.5, "{low} {high} {fit:?}");
            assert_eq!(fit.floor_interval_small_sample(simulation), Some((low, high)));
            // A blank called leaking leaves no floor of zero.
            assert!(low > 0.0 || fit.blank_hits == 0, "{low} {fit:?}");
            compared += 1;
        }
        assert!(compared > 2, "{compared}");
        let given = fit_with_false_calls(
            &drawn(3, 6, 0.1, Link::Logit),
            Link::Logit,
            false,
            Floor::Fixed(0.1),
            0.95,
        )
        .unwrap();
        assert_eq!(given.floor_interval_small_sample(simulation), None);
    }

    /// Without false calls it is the bound of the plain curve.
    #[test]
    fn a_given_floor_of_zero_gives_the_bound_of_the_plain_curve() {
        let data = drawn(8, 8, 0.0, Link::Logit);
        let simulation = Simulation { samples: 600, seed: 5 };
        let above = fit_with_false_calls(&data, Link::Logit, false, Floor::Fixed(0.0), 0.95)
            .unwrap()
            .upper_bound_small_sample(0.9, simulation)
            .unwrap();
        let plain = fit_hit_miss(&data[1..], Link::Logit, false, 0.95)
            .unwrap()
            .upper_bound_small_sample(0.9, simulation)
            .unwrap();
        assert!((above - plain).abs() < 0.03, "{above} {plain}");
    }
}
