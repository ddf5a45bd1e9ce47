//! Regularised incomplete gamma functions `P(a, x)` and `Q(a, x)`.
//!
//! Series below the mean, continued fraction above it (Abramowitz and Stegun
//! 6.5.29 and 6.5.31, from memory). Both tails are returned, each with full
//! relative accuracy. Beyond `a = 1e10` the cube root is taken as normal.

use super::stirling::{deviance_part, stirling_error};
use digits::normal;
use digits::scalar::{exp, exp_m1, ln_1p};

const TWO_PI: f64 = 2.0 * core::f64::consts::PI;

/// `x^a e^-x / Gamma(a + 1)`.
pub(crate) fn power_term(a: f64, x: f64) -> f64 {
    exp(-stirling_error(a) - deviance_part(a, x)) / (TWO_PI * a).sqrt()
}

/// Lower and upper tail.
pub(crate) fn tails(a: f64, x: f64) -> (f64, f64) {
    if !(a > 0.0) || x.is_nan() {
        return (f64::NAN, f64::NAN);
    }
    if x <= 0.0 {
        return (0.0, 1.0);
    }
    if x == f64::INFINITY {
        return (1.0, 0.0);
    }
    if a > 1e10 {
        // E. B. Wilson and M. M. Hilferty, PNAS 17 (1931) 684: the cube root is
        // normal, to about 1/a, where the series would need 1e5 terms and more.
        let root = exp_m1(ln_1p((x - a) / a) / 3.0);
        let z = 3.0 * a.sqrt() * (root + 1.0 / (9.0 * a));
        return (normal::cumulative(z), normal::survival(z));
    }
    let front = power_term(a, x);
    // The number of terms grows with the square root of `a`.
    let most_terms = 1000 + (20.0 * a.sqrt()) as usize;
    if x < a + 1.0 {
        let mut term = 1.0;
        let mut sum = 1.0;
        let mut n = a;
        for _ in 0..most_terms {
            n += 1.0;
            term *= x / n;
            sum += term;
            if term < sum * 1e-17 {
                break;
            }
        }
        let lower = (front * sum).min(1.0);
        (lower, 1.0 - lower)
    } else {
        let tiny = 1e-300;
        let mut b = x + 1.0 - a;
        let mut c = 1.0 / tiny;
        let mut d = 1.0 / b;
        let mut h = d;
        for i in 1..most_terms {
            let i = i as f64;
            let an = -i * (i - a);
            b += 2.0;
            d = an * d + b;
            if d.abs() < tiny {
                d = tiny;
            }
            c = b + an / c;
            if c.abs() < tiny {
                c = tiny;
            }
            d = 1.0 / d;
            let factor = d * c;
            h *= factor;
            if (factor - 1.0).abs() < 2e-16 {
                break;
            }
        }
        let upper = (front * a * h).min(1.0);
        (1.0 - upper, upper)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn one_degree_is_the_exponential() {
        for x in [0.01, 0.5, 2.5, 30.0] {
            let (_, upper) = tails(1.0, x);
            assert!((upper / exp(-x) - 1.0).abs() < 1e-14, "{x}");
        }
    }
}
