//! Regularised incomplete beta function `I_x(a, b)` and its inverse.
//!
//! Continued fraction of Abramowitz and Stegun 26.5.8 (from memory) by the
//! modified Lentz method, on the side where it converges. The argument is
//! passed as the pair `x`, `1 - x`, so that neither tail loses digits.

use super::stirling::{deviance_part, stirling_error};
use digits::scalar::{exp, ln, ln_gamma};

const TWO_PI: f64 = 2.0 * core::f64::consts::PI;

/// `x^a y^b / B(a, b)` for `y = 1 - x`.
pub(crate) fn power_term(a: f64, b: f64, x: f64, y: f64) -> f64 {
    if x <= 0.0 || y <= 0.0 {
        return 0.0;
    }
    let n = a + b;
    if a < 1e-3 || b < 1e-3 {
        // Stirling's split degenerates for parameters near zero.
        return exp(a * ln(x) + b * ln(y) + ln_gamma(n) - ln_gamma(a) - ln_gamma(b));
    }
    let exponent = stirling_error(n)
        - stirling_error(a)
        - stirling_error(b)
        - deviance_part(a, n * x)
        - deviance_part(b, n * y);
    (a * (b / (TWO_PI * n))).sqrt() * exp(exponent)
}

fn continued_fraction(a: f64, b: f64, x: f64) -> f64 {
    let tiny = 1e-300;
    let most_terms = 1000 + (20.0 * a.max(b).sqrt()) as usize;
    let mut c = 1.0;
    let mut d = 1.0 - (a + b) * x / (a + 1.0);
    if d.abs() < tiny {
        d = tiny;
    }
    d = 1.0 / d;
    let mut h = d;
    for m in 1..most_terms {
        let m = m as f64;
        let even = m * (b - m) * x / ((a + 2.0 * m - 1.0) * (a + 2.0 * m));
        let odd = -(a + m) * (a + b + m) * x / ((a + 2.0 * m) * (a + 2.0 * m + 1.0));
        let mut last = 1.0;
        for numerator in [even, odd] {
            d = 1.0 + numerator * d;
            if d.abs() < tiny {
                d = tiny;
            }
            c = 1.0 + numerator / c;
            if c.abs() < tiny {
                c = tiny;
            }
            d = 1.0 / d;
            last = d * c;
            h *= last;
        }
        if (last - 1.0).abs() < 2e-16 {
            break;
        }
    }
    h
}

/// Lower tail `I_x(a, b)` and upper tail, for `y = 1 - x`.
pub(crate) fn tails(a: f64, b: f64, x: f64, y: f64) -> (f64, f64) {
    if !(a > 0.0 && b > 0.0 && a.is_finite() && b.is_finite()) || x.is_nan() || y.is_nan() {
        return (f64::NAN, f64::NAN);
    }
    if x <= 0.0 {
        return (0.0, 1.0);
    }
    if y <= 0.0 {
        return (1.0, 0.0);
    }
    let front = power_term(a, b, x, y);
    if x < (a + 1.0) / (a + b + 2.0) {
        let lower = (front * continued_fraction(a, b, x) / a).min(1.0);
        (lower, 1.0 - lower)
    } else {
        let upper = (front * continued_fraction(b, a, y) / b).min(1.0);
        (1.0 - upper, upper)
    }
}

/// `ln(x / (1 - x))` of the quantile, from the lower tail `p` and the upper
/// tail `q = 1 - p`; the smaller of the two is the one that counts.
///
/// The logit keeps relative accuracy at both ends of the unit interval.
pub(crate) fn quantile_logit(p: f64, q: f64, a: f64, b: f64) -> f64 {
    if !(p >= 0.0 && q >= 0.0 && a > 0.0 && b > 0.0 && a.is_finite() && b.is_finite()) {
        return f64::NAN;
    }
    if p == 0.0 {
        return f64::NEG_INFINITY;
    }
    if q == 0.0 {
        return f64::INFINITY;
    }
    let lower_tail = p <= q;
    let target = ln(if lower_tail { p } else { q });
    let at = |u: f64| {
        let x = 1.0 / (1.0 + exp(-u));
        let y = 1.0 / (1.0 + exp(u));
        let (lower, upper) = tails(a, b, x, y);
        let density = power_term(a, b, x, y);
        // The logarithm of a tail is concave in the logit, so Newton's method
        // on it converges from anywhere.
        if lower_tail {
            (ln(lower) - target, density / lower)
        } else {
            (target - ln(upper), density / upper)
        }
    };
    digits::roots::newton_in_bracket(-800.0, 800.0, ln(a / b), 4e-16, at)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn hand_values() {
        // I_x(1, b) = 1 - (1 - x)^b, I_x(a, 1) = x^a.
        let (lower, upper) = tails(1.0, 3.0, 0.2, 0.8);
        assert!((upper - 0.512).abs() < 1e-15 && (lower - 0.488).abs() < 1e-15);
        let (lower, _) = tails(4.0, 1.0, 0.5, 0.5);
        assert!((lower - 0.0625).abs() < 1e-16);
    }

    #[test]
    fn quantile_undoes_the_tail() {
        for (a, b) in [(0.5, 0.5), (1.0, 29.0), (1e4, 0.5), (3e5, 2e5)] {
            for p in [1e-90, 1e-9, 0.03, 0.5, 0.97] {
                let u = quantile_logit(p, 1.0 - p, a, b);
                let (lower, _) = tails(a, b, 1.0 / (1.0 + exp(-u)), 1.0 / (1.0 + exp(u)));
                assert!((lower / p - 1.0).abs() < 1e-9, "{a} {b} {p} {lower}");
            }
        }
    }
}
