//! What interval and bound above a floor really cover, by simulation.

use super::scoring::Curve;
use super::small_sample::{excluded, floor_excluded};
use super::{Floor, fit_with_false_calls};
use crate::detection::{HitMiss, Link, Simulation};
use digits::RandomStream;
use digits::scalar::{exp, ln};

const STEEP: f64 = 4.0;

/// Covered bounds of a90, covered intervals of the floor, sets without a
/// bound, and refused sets.
fn count(per_size: u64, blanks: u64, floor: f64, runs: u64) -> (u64, u64, u64, u64) {
    let place = exp(ln(2.0) + Link::Logit.line(0.9) / STEEP);
    let (mut bound, mut interval, mut open, mut refused) = (0, 0, 0, 0);
    for run in 0..runs {
        let mut stream = RandomStream::new(707, run);
        let mut hits = |p: f64, of: u64| (0..of).filter(|_| stream.uniform() < p).count() as u64;
        let mut data = vec![HitMiss { size: 0.0, hits: hits(floor, blanks), of: blanks }];
        for step in 0..8 {
            let size = 0.7 * exp(0.28 * f64::from(step));
            let p = floor + (1.0 - floor) * Link::Logit.probability(STEEP * (ln(size) - ln(2.0)));
            data.push(HitMiss { size, hits: hits(p, per_size), of: per_size });
        }
        match fit_with_false_calls(&data, Link::Logit, true, Floor::Estimated, 0.95) {
            Ok(fit) => {
                match fit.a90_95 {
                    Some(upper) => bound += u64::from(upper >= place),
                    None => open += 1,
                }
                let (low, high) = fit.floor_interval.unwrap();
                interval += u64::from(low <= floor && high >= floor);
            }
            Err(_) => refused += 1,
        }
    }
    (bound, interval, open, refused)
}

#[test]
fn bound_and_interval_cover_most_of_the_time() {
    let (bound, interval, open, refused) = count(10, 40, 0.1, 150);
    assert!(refused < 15, "{refused}");
    let given = 150 - refused;
    assert!(bound + open >= given * 87 / 100, "{bound} {open} of {given}");
    assert!(interval >= given * 89 / 100, "{interval} of {given}");
}

/// One set of the grid: eight sizes, blanks, a floor.
fn set(per_size: u64, blanks: u64, floor: f64, steep: f64, link: Link, run: u64) -> Vec<HitMiss> {
    let mut stream = RandomStream::new(717, run);
    let mut hits = |p: f64, of: u64| (0..of).filter(|_| stream.uniform() < p).count() as u64;
    let mut data = vec![HitMiss { size: 0.0, hits: hits(floor, blanks), of: blanks }];
    for step in 0..8 {
        let size = 0.7 * exp(0.28 * f64::from(step));
        let p = floor + (1.0 - floor) * link.probability(steep * (ln(size) - ln(2.0)));
        data.push(HitMiss { size, hits: hits(p, per_size), of: per_size });
    }
    data
}

/// What the small-sample bound does over some runs.
#[derive(Debug, Default)]
struct Small {
    /// True size not excluded, of all sets.
    all: u64,
    /// The same, of the sets that carry a fit.
    given: u64,
    /// Plain likelihood-ratio bound covers, of those.
    plain: u64,
    /// Sets without a fit.
    refused: u64,
    /// True floor not excluded, of all sets.
    floor: u64,
}

/// At the true size: the test that the bound inverts, for separated sets too.
fn small_sample(
    (per_size, blanks, floor): (u64, u64, f64),
    (link, steep): (Link, f64),
    runs: core::ops::Range<u64>,
    samples: u32,
) -> Small {
    let eta = link.line(0.9);
    let place = ln(2.0) + eta / steep;
    let mut found = Small::default();
    for run in runs {
        let data = set(per_size, blanks, floor, steep, link, run);
        let axis = super::axis::axis(&data, link, true).unwrap();
        let x = (place - axis.centre) / axis.scale;
        // The climbs start from a curve that is not the true one.
        let known = Curve { floor: 0.05, intercept: eta - 2.0 * x, slope: 2.0, value: 0.0 };
        let simulation = Simulation { samples, seed: 1_000_003 * (run + 1) };
        let covered = !excluded(&axis, Floor::Estimated, (x, eta), known, 0.05, simulation);
        found.all += u64::from(covered);
        found.floor += u64::from(!floor_excluded(&axis, floor, known, 0.05, simulation));
        match fit_with_false_calls(&data, link, true, Floor::Estimated, 0.95) {
            Ok(fit) => {
                found.given += u64::from(covered);
                found.plain += u64::from(fit.a90_95.is_none_or(|upper| ln(upper) >= place));
            }
            Err(_) => found.refused += 1,
        }
    }
    found
}

/// The bound covers where the plain one does not: positive control and claim
/// in one.
#[test]
fn the_small_sample_bound_covers_where_the_plain_one_does_not() {
    let runs = 400;
    let found = small_sample((10, 0, 0.1), (Link::Logit, STEEP), 0..runs, 300);
    let given = runs - found.refused;
    assert!(found.all >= runs * 93 / 100, "{found:?}");
    assert!(found.given >= given * 93 / 100, "{found:?}");
    assert!(found.plain <= given * 92 / 100, "{found:?}");
    assert!(found.floor >= runs * 93 / 100, "{found:?}");
}

/// Long simulation behind `docs/coverage.md`; prints its table.
#[test]
#[ignore = "simulation of half an hour"]
fn coverage_of_the_small_sample_bound_above_a_floor() {
    let ask = |name: &str, or: u64| std::env::var(name).map_or(or, |text| text.parse().unwrap());
    let (runs, samples) = (ask("RUNS", 2000), ask("SAMPLES", 500) as u32);
    let lines = [
        ((2, 10, 0.1), (Link::Logit, 4.0)),
        ((3, 20, 0.05), (Link::Logit, 4.0)),
        ((5, 20, 0.1), (Link::Logit, 4.0)),
        ((5, 20, 0.0), (Link::Logit, 4.0)),
        ((5, 20, 0.1), (Link::Probit, 2.4)),
        ((5, 20, 0.1), (Link::Logit, 2.0)),
        ((10, 20, 0.0), (Link::Logit, 4.0)),
        ((10, 40, 0.02), (Link::Logit, 4.0)),
        ((10, 40, 0.1), (Link::Logit, 4.0)),
        ((10, 40, 0.3), (Link::Logit, 4.0)),
        ((10, 0, 0.1), (Link::Logit, 4.0)),
        ((10, 0, 0.0), (Link::Logit, 4.0)),
        ((10, 40, 0.1), (Link::Cloglog, 3.3)),
        ((10, 40, 0.1), (Link::Logit, 7.0)),
        ((20, 40, 0.1), (Link::Logit, 4.0)),
    ];
    for (design, truth) in lines.into_iter().skip(ask("FROM", 0) as usize) {
        let found = small_sample(design, truth, 0..runs, samples);
        let given = (runs - found.refused) as f64;
        println!(
            "| 8 x {} | {} | {} | {}, {} | {:.4} | {:.4} | {:.4} | {:.4} | {:.4} |",
            design.0,
            design.1,
            design.2,
            truth.0.word(),
            truth.1,
            found.all as f64 / runs as f64,
            found.given as f64 / given,
            found.plain as f64 / given,
            found.refused as f64 / runs as f64,
            found.floor as f64 / runs as f64
        );
    }
}

/// Long simulation behind `docs/coverage.md`; prints its table.
#[test]
#[ignore = "simulation of a minute"]
fn coverage_above_a_floor() {
    let runs = std::env::var("RUNS").map_or(2000, |text| text.parse().unwrap());
    for (per_size, blanks, floor) in
        [(5, 20, 0.1), (10, 20, 0.0), (10, 40, 0.02), (10, 40, 0.1), (10, 0, 0.1), (20, 40, 0.1)]
    {
        let (bound, interval, open, refused) = count(per_size, blanks, floor, runs);
        let given = (runs - refused) as f64;
        println!(
            "| 8 x {per_size} | {blanks} | {floor} | {:.4} | {:.4} | {:.4} | {:.4} |",
            (bound + open) as f64 / given,
            interval as f64 / given,
            open as f64 / given,
            refused as f64 / runs as f64
        );
    }
}
