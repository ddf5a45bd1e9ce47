//! F distribution with `d1` and `d2` degrees of freedom.

use super::incomplete_beta::{quantile_logit, tails};
use digits::scalar::exp;

fn both(x: f64, d1: f64, d2: f64) -> (f64, f64) {
    if x.is_nan() {
        return (f64::NAN, f64::NAN);
    }
    if x <= 0.0 {
        return (0.0, 1.0);
    }
    let odds = x * (d1 / d2);
    let (below, above) =
        if odds.is_infinite() { (1.0, 0.0) } else { (odds / (1.0 + odds), 1.0 / (1.0 + odds)) };
    tails(0.5 * d1, 0.5 * d2, below, above)
}

/// Probability below `x`.
#[must_use]
pub fn cumulative(x: f64, d1: f64, d2: f64) -> f64 {
    both(x, d1, d2).0
}

/// Probability above `x`, without cancellation.
#[must_use]
pub fn survival(x: f64, d1: f64, d2: f64) -> f64 {
    both(x, d1, d2).1
}

/// Value below which an F value lies with probability `p`.
#[must_use]
pub fn quantile(p: f64, d1: f64, d2: f64) -> f64 {
    d2 / d1 * exp(quantile_logit(p, 1.0 - p, 0.5 * d1, 0.5 * d2))
}

/// Value above which an F value lies with probability `q`.
#[must_use]
pub fn upper_quantile(q: f64, d1: f64, d2: f64) -> f64 {
    d2 / d1 * exp(quantile_logit(1.0 - q, q, 0.5 * d1, 0.5 * d2))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn two_and_two_degrees_by_hand() {
        // With d1 = d2 = 2 the distribution function is x / (1 + x).
        assert!((cumulative(3.0, 2.0, 2.0) - 0.75).abs() < 1e-15);
        assert!((quantile(0.75, 2.0, 2.0) - 3.0).abs() < 1e-14);
        assert!((survival(99.0, 2.0, 2.0) - 0.01).abs() < 1e-16);
    }
}
