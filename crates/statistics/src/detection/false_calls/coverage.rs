//! What interval and bound above a floor really cover, by simulation.

use super::{Floor, fit_with_false_calls};
use crate::detection::{HitMiss, Link};
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
