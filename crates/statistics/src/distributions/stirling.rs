//! Parts of densities that keep their digits for large parameters.
//!
//! A density built from three log-gamma values loses as many digits as those
//! values have before the point. Splitting off Stirling's main term by hand
//! keeps them. Source: C. Loader, "Fast and accurate computation of binomial
//! probabilities" (2000) (from memory).

use digits::scalar::{ln, ln_gamma};

const HALF_LN_TWO_PI: f64 = 0.918_938_533_204_672_7;

/// `ln Gamma(z + 1)` less Stirling's main term
/// `(z + 1/2) ln z - z + ln(2 pi)/2`, for `z > 0`.
pub(crate) fn stirling_error(z: f64) -> f64 {
    if z < 10.0 {
        return ln_gamma(z + 1.0) - (z + 0.5) * ln(z) + z - HALF_LN_TWO_PI;
    }
    let q = 1.0 / (z * z);
    // Bernoulli numbers over 2k(2k-1); the first term left out is below
    // 3e-16 at z = 10.
    let series = [
        1.0 / 12.0,
        -1.0 / 360.0,
        1.0 / 1260.0,
        -1.0 / 1680.0,
        1.0 / 1188.0,
        -691.0 / 360_360.0,
        1.0 / 156.0,
    ];
    series.iter().rev().fold(0.0, |sum, term| sum * q + term) / z
}

/// Deviance part `x ln(x / m) + m - x`, exact when `x` is near `m`.
pub(crate) fn deviance_part(x: f64, m: f64) -> f64 {
    if x == 0.0 {
        return m;
    }
    let difference = x - m;
    if difference.abs() < 0.1 * (x + m) {
        let v = difference / (x + m);
        let squared = v * v;
        let mut power = 2.0 * x * v;
        let mut sum = difference * v;
        for j in 1..60 {
            power *= squared;
            let next = sum + power / f64::from(2 * j + 1);
            if next == sum {
                break;
            }
            sum = next;
        }
        return sum;
    }
    x * ln(x / m) + m - x
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn stirling_error_joins_at_ten() {
        // 10! = 3628800 and 11! = 39916800 by hand.
        let direct =
            |z: f64, factorial: f64| ln(factorial) - (z + 0.5) * ln(z) + z - HALF_LN_TWO_PI;
        assert!((stirling_error(10.0) - direct(10.0, 3_628_800.0)).abs() < 1e-14);
        assert!((stirling_error(9.0) - direct(9.0, 362_880.0)).abs() < 1e-14);
    }

    #[test]
    fn deviance_part_both_ways() {
        let direct = 12.0 * ln(12.0 / 10.0) - 2.0;
        assert!((deviance_part(12.0, 10.0) / direct - 1.0).abs() < 1e-14);
    }
}
