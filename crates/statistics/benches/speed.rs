//! Speed of the methods whose cost is felt: `cargo bench -p statistics`.
//!
//! Inputs are invented and seeded. The figures of one run are in
//! `docs/performance.md`.

use digits::RandomStream;
use statistics::detection::{HitMiss, Link, fit_hit_miss};
use statistics::tolerance_limits::one_sided_normal_factor;
use statistics::variance_components::{nested, restricted_likelihood::restricted_likelihood};

fn main() {
    divan::main();
}

fn trials(n: u64) -> Vec<HitMiss> {
    (0..n)
        .map(|unit| {
            let mut stream = RandomStream::new(1, unit);
            let size = digits::scalar::exp(0.5 + 0.9 * stream.normal());
            let p = Link::Logit.probability(-1.0 + 2.0 * digits::scalar::ln(size));
            HitMiss { size, hits: u64::from(stream.uniform() < p), of: 1 }
        })
        .collect()
}

#[divan::bench(args = [(5, 0.95), (30, 0.99), (135, 0.9999), (100_000, 0.999_999)])]
fn tolerance_factor(case: (usize, f64)) -> f64 {
    one_sided_normal_factor(divan::black_box(case.0), case.1, 0.95).unwrap_or(0.0)
}

#[divan::bench(args = [1_000, 1_000_000])]
fn logistic_curve_single_trials(bencher: divan::Bencher, n: u64) {
    let data: Vec<(f64, bool)> =
        trials(n).iter().map(|t| (digits::scalar::ln(t.size), t.hits == 1)).collect();
    bencher.bench(|| statistics::detection::fit_single_trials(divan::black_box(&data), 0.9, 0.95));
}

/// At a confidence of one half no bound is sought: the fit alone.
#[divan::bench(args = [1_000, 1_000_000])]
fn logistic_fit_alone(bencher: divan::Bencher, n: u64) {
    let data: Vec<(f64, bool)> =
        trials(n).iter().map(|t| (digits::scalar::ln(t.size), t.hits == 1)).collect();
    bencher.bench(|| statistics::detection::fit_single_trials(divan::black_box(&data), 0.9, 0.5));
}

#[divan::bench(args = [1_000, 100_000])]
fn hit_miss_with_bounds(bencher: divan::Bencher, n: u64) {
    let data = trials(n);
    bencher.bench(|| fit_hit_miss(divan::black_box(&data), Link::Logit, true, 0.95));
}

#[divan::bench]
fn bootstrap_of_a_place(bencher: divan::Bencher) {
    let data: Vec<(f64, bool)> =
        trials(200).iter().map(|t| (digits::scalar::ln(t.size), t.hits == 1)).collect();
    bencher
        .bench(|| statistics::detection::bootstrap_place(divan::black_box(&data), 0.9, 10_000, 7));
}

fn levels(balanced: bool) -> Vec<Vec<Vec<f64>>> {
    (0..100)
        .map(|i| {
            let mut stream = RandomStream::new(3, i);
            let outer = 1.5 * stream.normal();
            (0..5)
                .map(|j| {
                    let inner = outer + stream.normal();
                    let n = if balanced { 20 } else { 10 + (i + 7 * j) % 21 };
                    (0..n).map(|_| inner + 0.7 * stream.normal()).collect()
                })
                .collect()
        })
        .collect()
}

#[divan::bench]
fn components_balanced(bencher: divan::Bencher) {
    let data = levels(true);
    bencher.bench(|| nested(divan::black_box(&data)));
}

#[divan::bench]
fn restricted_likelihood_unbalanced(bencher: divan::Bencher) {
    let data = levels(false);
    bencher.bench(|| restricted_likelihood(divan::black_box(&data)));
}
