//! Student's t distribution with `nu` degrees of freedom (any positive real).

use super::incomplete_beta::{quantile_logit, tails};
use super::normal;
use digits::scalar::exp;

/// Half of the probability outside `-|x|` to `|x|`.
fn tail(x: f64, nu: f64) -> f64 {
    if nu == f64::INFINITY {
        return normal::survival(x.abs());
    }
    // Scaling by the larger of the two keeps the square finite.
    let ratio = x / nu.sqrt();
    let square = ratio * ratio;
    let (inside, outside) = if square.is_infinite() {
        (0.0, 1.0)
    } else {
        (1.0 / (1.0 + square), square / (1.0 + square))
    };
    0.5 * tails(0.5 * nu, 0.5, inside, outside).0
}

/// Probability below `x`.
#[must_use]
pub fn cumulative(x: f64, nu: f64) -> f64 {
    if x.is_nan() || !(nu > 0.0) {
        return f64::NAN;
    }
    if x < 0.0 { tail(x, nu) } else { 1.0 - tail(x, nu) }
}

/// Probability above `x`, without cancellation.
#[must_use]
pub fn survival(x: f64, nu: f64) -> f64 {
    cumulative(-x, nu)
}

/// Value below which a t value lies with probability `p`.
#[must_use]
pub fn quantile(p: f64, nu: f64) -> f64 {
    if !(0.0..=1.0).contains(&p) || !(nu > 0.0) {
        return f64::NAN;
    }
    if nu == f64::INFINITY {
        return normal::quantile(p);
    }
    if p == 0.5 {
        return 0.0;
    }
    let (smaller, sign) = if p < 0.5 { (p, -1.0) } else { (1.0 - p, 1.0) };
    if smaller == 0.0 {
        return sign * f64::INFINITY;
    }
    let logit = quantile_logit(2.0 * smaller, 2.0 * (0.5 - smaller), 0.5 * nu, 0.5);
    sign * nu.sqrt() * exp(-0.5 * logit)
}

/// Density at `x`.
#[must_use]
pub fn density(x: f64, nu: f64) -> f64 {
    if nu == f64::INFINITY {
        return normal::density(x);
    }
    let square = x * x / nu;
    // x^a y^b / B(a, b) at x = 1/(1+square) has the factor sqrt(square) too
    // much, which is why zero is taken apart.
    let (a, b) = (0.5 * nu, 0.5);
    let ln_beta =
        digits::scalar::ln_gamma(a) + digits::scalar::ln_gamma(b) - digits::scalar::ln_gamma(a + b);
    exp(-(a + b) * digits::scalar::ln_1p(square) - ln_beta) / nu.sqrt()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn one_degree_is_the_cauchy_distribution() {
        assert!((cumulative(1.0, 1.0) - 0.75).abs() < 1e-15);
        assert!((quantile(0.75, 1.0) - 1.0).abs() < 1e-15);
        assert!((density(0.0, 1.0) - 1.0 / core::f64::consts::PI).abs() < 1e-15);
    }

    #[test]
    fn quantile_undoes_the_distribution_function() {
        for nu in [0.5, 1.0, 4.0, 29.0, 1e4, 1e8] {
            for p in [1e-40, 1e-6, 0.025, 0.4, 0.5, 0.500_001, 0.975] {
                let back = cumulative(quantile(p, nu), nu);
                assert!((back / p - 1.0).abs() < 1e-8, "{nu} {p} {back}");
            }
        }
    }
}
