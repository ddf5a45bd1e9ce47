//! Beta distribution on the unit interval with shapes `a` and `b`.

use super::incomplete_beta::{power_term, quantile_logit, tails};
use digits::scalar::exp;

/// Probability below `x`: the regularised incomplete beta function.
#[must_use]
pub fn cumulative(x: f64, a: f64, b: f64) -> f64 {
    tails(a, b, x, 1.0 - x).0
}

/// Probability above `x`, without cancellation.
#[must_use]
pub fn survival(x: f64, a: f64, b: f64) -> f64 {
    tails(a, b, x, 1.0 - x).1
}

/// Density at `x` strictly inside the unit interval.
#[must_use]
pub fn density(x: f64, a: f64, b: f64) -> f64 {
    if !(x > 0.0 && x < 1.0) {
        return 0.0;
    }
    power_term(a, b, x, 1.0 - x) / (x * (1.0 - x))
}

/// Value below which a beta value lies with probability `p`.
#[must_use]
pub fn quantile(p: f64, a: f64, b: f64) -> f64 {
    1.0 / (1.0 + exp(-quantile_logit(p, 1.0 - p, a, b)))
}

/// Value above which a beta value lies with probability `q`, exact for `q`
/// near zero.
#[must_use]
pub fn upper_quantile(q: f64, a: f64, b: f64) -> f64 {
    1.0 / (1.0 + exp(-quantile_logit(1.0 - q, q, a, b)))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn uniform_is_the_simplest_beta() {
        assert!((cumulative(0.3, 1.0, 1.0) - 0.3).abs() < 1e-15);
        assert!((quantile(0.3, 1.0, 1.0) - 0.3).abs() < 1e-15);
        assert_eq!(quantile(0.0, 2.0, 2.0), 0.0);
        assert!(quantile(1.5, 2.0, 2.0).is_nan());
    }
}
