//! Dixon's ratio of gap to range, with critical values by integration.
//!
//! The printed tables are approximate in the third decimal; the values here
//! follow from the definition.

use crate::cannot_say::{self, CannotSay};
use crate::distributions::normal;
use crate::quadrature::gauss_legendre;
use digits::scalar::powi;

/// Ratio r10: the larger of the two end gaps over the range.
///
/// # Errors
/// Fewer than three values, values that are not finite or do not vary.
pub fn ratio(values: &[f64]) -> Result<f64, CannotSay> {
    let n = values.len();
    cannot_say::at_least("values", 3, n)?;
    cannot_say::all_finite("values", values)?;
    let mut sorted = values.to_vec();
    sorted.sort_by(f64::total_cmp);
    let range = sorted[n - 1] - sorted[0];
    if range == 0.0 {
        return Err(CannotSay::NoSpread { what: "the values".into() });
    }
    let gap = (sorted[1] - sorted[0]).max(sorted[n - 1] - sorted[n - 2]);
    cannot_say::computed("the ratio", gap / range)
}

/// Probability that the upper gap of `n` normal values exceeds the share `q`
/// of the range.
fn exceeds(n: usize, q: f64, rule: &[(f64, f64)]) -> f64 {
    // Over smallest u and largest v: all n - 2 others lie between u and
    // v - q (v - u).
    let count = n as f64;
    let power = i32::try_from(n - 2).unwrap_or(i32::MAX);
    let mut total = 0.0;
    for (u, wu) in rule {
        let below = normal::cumulative(*u);
        let weight = wu * normal::density(*u);
        if weight < 1e-20 {
            continue;
        }
        for (share, wv) in rule {
            // Second variable: the range, 0 to 16, mapped from the same rule.
            let range = share + 8.0;
            let v = u + range;
            let inside = normal::cumulative(v - q * range) - below;
            if inside > 0.0 {
                total += weight * wv * normal::density(v) * powi(inside, power);
            }
        }
    }
    total * count * (count - 1.0)
}

/// Critical value of r10 for `n` values when either end counts, each end at
/// half of `alpha`.
///
/// # Errors
/// Fewer than 3 or more than 30 values; `alpha` outside 0 to 1.
pub fn critical_value(n: usize, alpha: f64) -> Result<f64, CannotSay> {
    cannot_say::open_probability("alpha", alpha)?;
    if !(3..=30).contains(&n) {
        return Err(CannotSay::OutOfRange {
            what: "the number of values".into(),
            value: n as f64,
            allowed: "3 to 30 values".into(),
        });
    }
    let rule = gauss_legendre(120, -8.0, 8.0);
    let excess = |q: f64| exceeds(n, q, &rule) - 0.5 * alpha;
    digits::roots::between(1e-6, 1.0 - 1e-9, 1e-12, excess)
        .ok_or_else(|| CannotSay::Overflow { what: "the critical value".into() })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn one_of_two_gaps_is_the_larger() {
        // Of three values exactly one gap exceeds half the range, and each of
        // the two gaps does so with probability one half.
        let rule = gauss_legendre(120, -8.0, 8.0);
        assert!((exceeds(3, 0.5, &rule) - 0.5).abs() < 1e-9);
    }
}
