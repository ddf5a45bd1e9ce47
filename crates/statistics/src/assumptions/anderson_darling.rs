//! Anderson and Darling's test of normality.

use super::{little_power, values_independent};
use crate::account::{Account, Counted};
use crate::cannot_say::{self, CannotSay};
use crate::distributions::normal;
use crate::note::{Assumption, Note};
use digits::scalar::{exp, ln};
use digits::sums;

/// Result of the Anderson-Darling test with estimated mean and deviation.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct AndersonDarling {
    /// Weighted distance of the empirical distribution from the normal one.
    pub a_squared: f64,
    /// Probability of so large a distance from a normal population.
    pub p_value: f64,
    /// Number of values.
    pub n: usize,
    /// Name of the method.
    pub method: &'static str,
}

impl Account for AndersonDarling {
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
                format!(
                    "A² = {:.4}, p = {:.4}: the values are not normal.",
                    self.a_squared, self.p_value
                ),
                "Look at the tails for a second population; otherwise use another scale or \
                     a nonparametric method.",
            ));
        }
        notes.extend(little_power(self.n));
        notes
    }
}

/// Anderson-Darling test of normality.
///
/// `A^2 = -n - sum (2i - 1)/n [ln F_i + ln(1 - F_{n+1-i})]`, multiplied by
/// `1 + 0.75/n + 2.25/n^2` for the probability. Source: M. A. Stephens in
/// Goodness-of-Fit Techniques (1986), table 4.9 (coefficients from memory,
/// checked against two programs).
///
/// # Errors
/// Fewer than eight values, values that are not finite or do not vary.
pub fn anderson_darling(values: &[f64]) -> Result<AndersonDarling, CannotSay> {
    let n = values.len();
    cannot_say::at_least("values", 8, n)?;
    cannot_say::all_finite("values", values)?;
    let mean = cannot_say::computed("the mean", sums::mean(values).unwrap_or(f64::NAN))?;
    let deviation = sums::standard_deviation(values).unwrap_or(0.0);
    if deviation == 0.0 {
        return Err(CannotSay::NoSpread { what: "the values".into() });
    }
    let deviation = cannot_say::computed("the standard deviation", deviation)?;
    let mut z: Vec<f64> = values.iter().map(|v| (v - mean) / deviation).collect();
    z.sort_by(f64::total_cmp);
    let count = n as f64;
    // Logarithms of both tails, floored where the tail underflows.
    let log = |p: f64| ln(p.max(1e-300));
    let total = sums::sum((0..n).map(|i| {
        (2.0 * i as f64 + 1.0)
            * (log(normal::cumulative(z[i])) + log(normal::survival(z[n - 1 - i])))
    }));
    let a_squared = -count - total / count;
    let a = a_squared * (1.0 + 0.75 / count + 2.25 / (count * count));
    let p = if a < 0.2 {
        1.0 - exp(-13.436 + 101.14 * a - 223.73 * a * a)
    } else if a < 0.34 {
        1.0 - exp(-8.318 + 42.796 * a - 59.938 * a * a)
    } else if a < 0.6 {
        exp(0.9177 - 4.279 * a - 1.38 * a * a)
    } else if a < 10.0 {
        exp(1.2937 - 5.709 * a + 0.0186 * a * a)
    } else {
        3.7e-24
    };
    Ok(AndersonDarling {
        a_squared,
        p_value: p.clamp(0.0, 1.0),
        n: values.len(),
        method: "Anderson-Darling test of normality, mean and deviation estimated",
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn normal_scores_pass_and_a_step_fails() {
        let scores: Vec<f64> =
            (0..40).map(|i| normal::quantile((f64::from(i) + 0.5) / 40.0)).collect();
        assert!(anderson_darling(&scores).unwrap().p_value > 0.9);
        let steps: Vec<f64> = (0..40).map(|i| f64::from(i % 2)).collect();
        assert!(anderson_darling(&steps).unwrap().p_value < 1e-6);
        assert!(anderson_darling(&[1.0; 9]).is_err());
    }
}
