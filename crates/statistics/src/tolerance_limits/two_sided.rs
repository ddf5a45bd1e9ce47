//! Two-sided factors of a normal population.

use crate::cannot_say::{self, CannotSay};
use crate::distributions::{chi_squared, normal};

/// Exact two-sided factor `k` of the normal tolerance interval
/// `mean - k s` to `mean + k s`.
///
/// The content of an interval whose centre is off by `z` standard deviations
/// is `P` when its half width is `r(z)`; the confidence is the mean, over the
/// normal error of the centre, of the probability that `k s` reaches `r(z)`.
/// Source: ISO 16269-6:2014; D. B. Owen (1964) (definition from memory).
///
/// # Errors
/// Fewer than two values; `content` or `confidence` outside 0 to 1.
pub fn two_sided_normal_factor(n: usize, content: f64, confidence: f64) -> Result<f64, CannotSay> {
    cannot_say::at_least("values", 2, n)?;
    cannot_say::open_probability("content", content)?;
    cannot_say::open_probability("confidence", confidence)?;
    let count = n as f64;
    let df = count - 1.0;
    // The integrand is even and dies as a normal density: the trapezoidal
    // rule converges faster than any power of the step.
    let step = 0.2;
    let nodes: Vec<(f64, f64)> = (0..=45)
        .map(|i| {
            let t = step * f64::from(i);
            let weight = if i == 0 { step } else { 2.0 * step } * normal::density(t);
            (half_width(t / count.sqrt(), content), weight)
        })
        .collect();
    let excess = |log_k: f64| {
        let k = digits::scalar::exp(log_k);
        let sum: f64 = nodes
            .iter()
            .map(|(r, weight)| weight * chi_squared::survival(df * (r / k) * (r / k), df))
            .sum();
        sum - confidence
    };
    let start = digits::scalar::ln(howe_factor(n, content, confidence)?);
    let root = digits::roots::between(start - 4.0, start + 4.0, 1e-13, excess)
        .ok_or_else(|| CannotSay::Overflow { what: "the two-sided tolerance factor".into() })?;
    cannot_say::computed("the two-sided tolerance factor", digits::scalar::exp(root))
}

/// Half width of the interval around `z` that holds `content`.
fn half_width(z: f64, content: f64) -> f64 {
    let start = normal::quantile(0.5 + 0.5 * content);
    let excess = |r: f64| {
        // 1 - content outside, so that high contents keep their digits.
        let outside = normal::survival(r - z) + normal::survival(r + z);
        ((1.0 - content) - outside, normal::density(r - z) + normal::density(r + z))
    };
    digits::roots::newton_in_bracket(
        0.0,
        start + z + 1.0,
        start + 0.5 * z * z / (1.0 + z),
        1e-15,
        excess,
    )
}

/// Howe's approximation of the two-sided factor.
///
/// `sqrt( (n - 1)(1 + 1/n) z^2 / chi2 )` with the normal quantile of
/// `(1 + content)/2` and the lower chi-squared quantile. Source: W. G. Howe,
/// J. Am. Stat. Assoc. 64 (1969) 610; NIST/SEMATECH e-Handbook 7.2.6.3.
///
/// # Errors
/// Fewer than two values; `content` or `confidence` outside 0 to 1.
pub fn howe_factor(n: usize, content: f64, confidence: f64) -> Result<f64, CannotSay> {
    cannot_say::at_least("values", 2, n)?;
    cannot_say::open_probability("content", content)?;
    cannot_say::open_probability("confidence", confidence)?;
    let count = n as f64;
    let z = normal::quantile(0.5 + 0.5 * content);
    let chi = chi_squared::quantile(1.0 - confidence, count - 1.0);
    cannot_say::computed(
        "the two-sided tolerance factor",
        ((count - 1.0) * (1.0 + 1.0 / count) / chi).sqrt() * z,
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn large_samples_approach_the_normal_quantile() {
        let k = two_sided_normal_factor(200_000, 0.95, 0.5).unwrap();
        assert!((k - 1.959_964).abs() < 1e-4, "{k}");
    }

    #[test]
    fn refusals() {
        assert!(two_sided_normal_factor(1, 0.9, 0.9).is_err());
        assert!(two_sided_normal_factor(9, 0.9, 1.0).is_err());
    }
}
