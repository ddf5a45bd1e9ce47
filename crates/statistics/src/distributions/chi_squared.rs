//! Chi-squared distribution with `nu` degrees of freedom (any positive real).

use super::incomplete_gamma::{power_term, tails};
use super::normal;
use digits::scalar::{exp, ln};

/// Probability below `x`.
#[must_use]
pub fn cumulative(x: f64, nu: f64) -> f64 {
    tails(0.5 * nu, 0.5 * x).0
}

/// Probability above `x`, without cancellation.
#[must_use]
pub fn survival(x: f64, nu: f64) -> f64 {
    tails(0.5 * nu, 0.5 * x).1
}

/// Value below which a chi-squared value lies with probability `p`.
#[must_use]
pub fn quantile(p: f64, nu: f64) -> f64 {
    from_tails(p, 1.0 - p, nu)
}

/// Value above which a chi-squared value lies with probability `q`, exact for
/// `q` near zero.
#[must_use]
pub fn upper_quantile(q: f64, nu: f64) -> f64 {
    from_tails(1.0 - q, q, nu)
}

fn from_tails(p: f64, q: f64, nu: f64) -> f64 {
    if !(p >= 0.0 && q >= 0.0 && nu > 0.0 && nu.is_finite()) {
        return f64::NAN;
    }
    if p == 0.0 {
        return 0.0;
    }
    if q == 0.0 {
        return f64::INFINITY;
    }
    let a = 0.5 * nu;
    let lower_tail = p <= q;
    let target = ln(if lower_tail { p } else { q });
    let at = |u: f64| {
        let x = exp(u);
        let (lower, upper) = tails(a, x);
        let density = power_term(a, x) * a;
        if lower_tail {
            (ln(lower) - target, density / lower)
        } else {
            (target - ln(upper), density / upper)
        }
    };
    // Start at the cube of Wilson and Hilferty, if it is positive.
    let z = if lower_tail { normal::quantile(p) } else { -normal::quantile(q) };
    let c = 2.0 / (9.0 * nu);
    let cube = 1.0 - c + z * c.sqrt();
    if nu > 2e10 {
        return nu * cube * cube * cube;
    }
    let start =
        if cube > 0.1 { ln(a * cube * cube * cube) } else { ln(a) + (target / a).max(-700.0) };
    2.0 * exp(digits::roots::newton_in_bracket(
        -1400.0,
        20.0 + 2.0 * ln(a + 1.0).abs(),
        start,
        2e-16,
        at,
    ))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn two_degrees_are_the_exponential() {
        assert!((survival(6.0, 2.0) - exp(-3.0)).abs() < 1e-16);
        assert!((quantile(0.95, 2.0) + 2.0 * ln(0.05)).abs() < 1e-13);
    }

    #[test]
    fn very_many_degrees_are_normal_and_join_the_series() {
        // Just below and above the change of method.
        let (below, above) = (1.999_999e10, 2.000_001e10);
        let at = |nu: f64| cumulative(nu + (2.0 * nu).sqrt(), nu);
        assert!((at(below) - at(above)).abs() < 1e-9, "{} {}", at(below), at(above));
        assert!((cumulative(quantile(0.99, above), above) - 0.99).abs() < 1e-9);
        assert!((cumulative(1e300, 1e300) - 0.5).abs() < 1e-9);
    }

    #[test]
    fn quantile_undoes_the_distribution_function() {
        for nu in [0.3, 1.0, 7.5, 200.0, 1e5] {
            for p in [1e-30, 1e-4, 0.05, 0.5, 0.99] {
                let x = quantile(p, nu);
                assert!((cumulative(x, nu) / p - 1.0).abs() < 1e-11, "{nu} {p}");
            }
            let x = upper_quantile(1e-40, nu);
            assert!((survival(x, nu) / 1e-40 - 1.0).abs() < 1e-11, "{nu}");
        }
    }
}
