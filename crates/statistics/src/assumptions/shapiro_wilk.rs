//! Shapiro and Wilk's test of normality.

use super::{little_power, values_independent};
use crate::account::{Account, Counted};
use crate::cannot_say::{self, CannotSay};
use crate::distributions::normal;
use crate::note::{Assumption, Note};
use digits::scalar::{atan, exp, ln};
use digits::sums;

/// Result of the Shapiro-Wilk test.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ShapiroWilk {
    /// Squared weighted sum of order statistics over the sum of squares.
    pub w: f64,
    /// Probability of so small a `w` from a normal population.
    pub p_value: f64,
    /// Number of values.
    pub n: usize,
    /// Name of the method.
    pub method: &'static str,
}

impl Account for ShapiroWilk {
    fn method(&self) -> &str {
        self.method
    }

    fn counted(&self) -> Counted {
        Counted::of(self.n, "values")
    }

    fn assumptions(&self) -> Vec<Assumption> {
        vec![values_independent()]
    }

    fn notes(&self) -> Vec<Note> {
        let mut notes = Vec::new();
        if self.p_value < 0.05 {
            notes.push(Note::new(
                "not-normal",
                format!("W = {:.4}, p = {:.4}: the values are not normal.", self.w, self.p_value),
                "Look for a second population or rounding; otherwise use another scale or a \
                     nonparametric method.",
            ));
        }
        notes.extend(little_power(self.n));
        notes
    }
}

fn polynomial(coefficients: &[f64], x: f64) -> f64 {
    coefficients.iter().rev().fold(0.0, |sum, c| sum * x + c)
}

/// Weights of the order statistics; antisymmetric, the upper half is given
/// from the largest value inward.
fn weights(n: usize) -> Vec<f64> {
    let count = n as f64;
    let half = n / 2;
    if n == 3 {
        return vec![core::f64::consts::FRAC_1_SQRT_2];
    }
    // Expected normal order statistics by Blom's formula, largest first.
    let m: Vec<f64> =
        (0..half).map(|i| -normal::quantile((i as f64 + 0.625) / (count + 0.25))).collect();
    let total = 2.0 * m.iter().map(|v| v * v).sum::<f64>();
    let u = 1.0 / count.sqrt();
    let largest = polynomial(
        &[m[0] / total.sqrt(), 0.221_157, -0.147_981, -2.071_19, 4.434_685, -2.706_056],
        u,
    );
    let mut result = vec![largest];
    let (first, scale) = if n > 5 {
        let second = polynomial(
            &[m[1] / total.sqrt(), 0.042_981, -0.293_762, -1.752_461, 5.682_633, -3.582_633],
            u,
        );
        result.push(second);
        let inside = (total - 2.0 * m[0] * m[0] - 2.0 * m[1] * m[1])
            / (1.0 - 2.0 * largest * largest - 2.0 * second * second);
        (2, inside.sqrt())
    } else {
        let inside = (total - 2.0 * m[0] * m[0]) / (1.0 - 2.0 * largest * largest);
        (1, inside.sqrt())
    };
    result.extend(m[first..].iter().map(|v| v / scale));
    result
}

/// Shapiro-Wilk test.
///
/// Source: S. S. Shapiro and M. B. Wilk, Biometrika 52 (1965) 591; weights and
/// probability by P. Royston, algorithm AS R94, Appl. Statist. 44 (1995) 547
/// (coefficients from memory, checked against two programs).
///
/// # Errors
/// Fewer than 3 or more than 5000 values, values that are not finite or do not
/// vary.
pub fn shapiro_wilk(values: &[f64]) -> Result<ShapiroWilk, CannotSay> {
    let n = values.len();
    cannot_say::at_least("values", 3, n)?;
    cannot_say::all_finite("values", values)?;
    if n > 5000 {
        return Err(CannotSay::OutOfRange {
            what: "the number of values".into(),
            value: n as f64,
            allowed: "3 to 5000 values (beyond that rounding alone rejects)".into(),
        });
    }
    let mut sorted = values.to_vec();
    sorted.sort_by(f64::total_cmp);
    let range = sorted[n - 1] - sorted[0];
    if range == 0.0 {
        return Err(CannotSay::NoSpread { what: "the values".into() });
    }
    cannot_say::computed("the range of the values", range)?;
    let scaled: Vec<f64> = sorted.iter().map(|v| (v - sorted[0]) / range).collect();
    let total = sums::squared_deviations(&scaled).unwrap_or(0.0);
    let a = weights(n);
    let combined =
        sums::sum(a.iter().enumerate().map(|(i, w)| w * (scaled[n - 1 - i] - scaled[i])));
    let w = (combined * combined / total).min(1.0);
    Ok(ShapiroWilk {
        w,
        p_value: probability(w, n),
        n: values.len(),
        method: "Shapiro-Wilk test of normality (Royston 1995)",
    })
}

fn probability(w: f64, n: usize) -> f64 {
    let count = n as f64;
    if n == 3 {
        // Exact: 6/pi (asin sqrt W - asin sqrt 3/4).
        let s = w.sqrt();
        let arc = atan(s / (1.0 - w).max(1e-300).sqrt());
        return (6.0 / core::f64::consts::PI * (arc - core::f64::consts::PI / 3.0)).clamp(0.0, 1.0);
    }
    let deficit = ln((1.0 - w).max(1e-300));
    let (value, mean, deviation) = if n <= 11 {
        let gamma = -2.273 + 0.459 * count;
        if deficit >= gamma {
            return 1e-99;
        }
        (
            -ln(gamma - deficit),
            polynomial(&[0.544, -0.399_78, 0.025_054, -6.714e-4], count),
            exp(polynomial(&[1.3822, -0.778_57, 0.062_767, -0.002_032_2], count)),
        )
    } else {
        let x = ln(count);
        (
            deficit,
            polynomial(&[-1.5861, -0.310_82, -0.083_751, 0.003_891_5], x),
            exp(polynomial(&[-0.4803, -0.082_676, 0.003_030_2], x)),
        )
    };
    normal::survival((value - mean) / deviation)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn evenly_spaced_three_are_perfect() {
        let result = shapiro_wilk(&[1.0, 2.0, 3.0]).unwrap();
        assert!((result.w - 1.0).abs() < 1e-15 && (result.p_value - 1.0).abs() < 1e-6);
    }

    #[test]
    fn weights_have_unit_length() {
        for n in [4, 5, 6, 20, 300] {
            let length: f64 = 2.0 * weights(n).iter().map(|a| a * a).sum::<f64>();
            assert!((length - 1.0).abs() < 1e-12, "{n}: {length}");
        }
    }

    #[test]
    fn refusals() {
        assert!(shapiro_wilk(&[1.0, 2.0]).is_err());
        assert!(shapiro_wilk(&[4.0; 10]).is_err());
        assert!(shapiro_wilk(&[1.0, f64::NAN, 2.0]).is_err());
        assert!(shapiro_wilk(&[-1e308, 1e308, 0.0]).is_err());
    }
}
