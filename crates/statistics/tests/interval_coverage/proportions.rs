//! Intervals of a proportion, by summation over every outcome.

use statistics::proportions::{clopper_pearson, jeffreys, wilson};

/// Exact coverage of a binomial interval at one proportion.
fn binomial_coverage(n: u64, p: f64, holds: &[bool]) -> f64 {
    (0..=n)
        .filter(|k| holds[*k as usize])
        .map(|k| statistics::distributions::binomial::probability(k, n, p))
        .sum()
}

#[test]
fn exact_bounds_never_fall_below_nominal() {
    // Grid named in docs/coverage.md: n 5, 15, 29, 59; p from 0.005 to 0.995.
    for n in [5_u64, 15, 29, 59] {
        let mut ranges = [(1.0_f64, 0.0_f64); 3];
        for step in 1..200 {
            let p = f64::from(step) / 200.0;
            for (range, method) in ranges.iter_mut().zip([clopper_pearson, wilson, jeffreys]) {
                let holds: Vec<bool> = (0..=n)
                    .map(|k| {
                        let bounds = method(k, n, 0.95).unwrap();
                        bounds.lower <= p && p <= bounds.upper
                    })
                    .collect();
                let coverage = binomial_coverage(n, p, &holds);
                *range = (range.0.min(coverage), range.1.max(coverage));
            }
        }
        println!(
            "n {n}: exact {:.4} to {:.4}, score {:.4} to {:.4}, Jeffreys {:.4} to {:.4}",
            ranges[0].0, ranges[0].1, ranges[1].0, ranges[1].1, ranges[2].0, ranges[2].1
        );
        assert!(ranges[0].0 >= 0.95 - 1e-12, "{ranges:?}");
        // The score interval does fall below: the exact one must be told apart.
        assert!(ranges[1].0 < 0.95);
    }
}
