//! Binomial distribution of `k` successes in `n` trials with probability `p`.

use super::incomplete_beta::{power_term, tails};

/// Probability of exactly `k` successes.
#[must_use]
pub fn probability(k: u64, n: u64, p: f64) -> f64 {
    if !(0.0..=1.0).contains(&p) {
        return f64::NAN;
    }
    if k > n {
        return 0.0;
    }
    let q = 1.0 - p;
    if k == 0 || k == n {
        let base = if k == 0 { q } else { p };
        return if n == 0 { 1.0 } else { digits::scalar::pow(base, n as f64) };
    }
    if p == 0.0 || p == 1.0 {
        return 0.0;
    }
    let (k, n) = (k as f64, n as f64);
    // C(n, k) = n / (k (n - k) B(k, n - k)).
    n / (k * (n - k)) * power_term(k, n - k, p, q)
}

/// Probability of `k` or fewer successes.
#[must_use]
pub fn cumulative(k: u64, n: u64, p: f64) -> f64 {
    if !(0.0..=1.0).contains(&p) {
        return f64::NAN;
    }
    if k >= n {
        return 1.0;
    }
    tails((n - k) as f64, k as f64 + 1.0, 1.0 - p, p).0
}

/// Probability of more than `k` successes, without cancellation.
#[must_use]
pub fn survival(k: u64, n: u64, p: f64) -> f64 {
    if !(0.0..=1.0).contains(&p) {
        return f64::NAN;
    }
    if k >= n {
        return 0.0;
    }
    tails((n - k) as f64, k as f64 + 1.0, 1.0 - p, p).1
}

/// Smallest number of successes whose cumulative probability reaches
/// `probability`; `None` outside the unit interval.
#[must_use]
pub fn quantile(probability: f64, n: u64, p: f64) -> Option<u64> {
    if !(0.0..=1.0).contains(&probability) || !(0.0..=1.0).contains(&p) {
        return None;
    }
    let (mut low, mut high) = (0, n);
    while low < high {
        let middle = low + (high - low) / 2;
        if cumulative(middle, n, p) >= probability {
            high = middle;
        } else {
            low = middle + 1;
        }
    }
    Some(low)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn four_coins_by_hand() {
        assert!((probability(2, 4, 0.5) - 0.375).abs() < 1e-15);
        assert!((cumulative(1, 4, 0.5) - 0.3125).abs() < 1e-15);
        assert!((survival(2, 4, 0.5) - 0.3125).abs() < 1e-15);
        assert_eq!(quantile(0.5, 4, 0.5), Some(2));
        assert_eq!(probability(0, 0, 0.3), 1.0);
    }
}
