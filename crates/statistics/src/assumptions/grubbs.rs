//! Grubbs's test of one outlier, and its sequence for several.

use super::{little_power, values_independent};
use crate::account::{Account, Counted};
use crate::cannot_say::{self, CannotSay};
use crate::distributions::student_t;
use crate::note::{Assumption, Note};
use digits::sums;

/// Result of Grubbs's test.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Grubbs {
    /// Largest deviation from the mean over the standard deviation.
    pub g: f64,
    /// Place of that value, counted from 0.
    pub position: usize,
    /// Critical value when the side was fixed beforehand.
    pub critical_one_sided: f64,
    /// Critical value when either side counts.
    pub critical_two_sided: f64,
    /// Number of values.
    pub n: usize,
    /// Name of the method.
    pub method: &'static str,
}

impl Account for Grubbs {
    fn method(&self) -> &str {
        self.method
    }

    fn counted(&self) -> Counted {
        Counted::of(self.n, "values")
    }

    fn assumptions(&self) -> Vec<Assumption> {
        vec![
            Assumption::unchecked(
                "normal values but for one",
                "Shapiro-Wilk",
                "run it without the value that lies apart",
            ),
            values_independent(),
        ]
    }

    fn notes(&self) -> Vec<Note> {
        let mut notes = Vec::new();
        if self.g > self.critical_two_sided {
            notes.push(Note::new(
                "outlier",
                format!(
                    "Value number {} lies apart from the rest: G = {:.3}, critical {:.3}.",
                    self.position + 1,
                    self.g,
                    self.critical_two_sided
                ),
                "Look for an assigned cause; without one keep the value and report with and \
                     without it.",
            ));
        }
        notes.extend(little_power(self.n));
        notes
    }
}

/// Critical value `(n-1)/sqrt(n) sqrt(t^2 / (n - 2 + t^2))` with `t` at the
/// upper probability `tail`.
fn critical(n: f64, tail: f64) -> f64 {
    let t = student_t::quantile(tail, n - 2.0);
    (n - 1.0) / n.sqrt() * (t * t / (n - 2.0 + t * t)).sqrt()
}

/// Grubbs's test. Source: F. E. Grubbs, Technometrics 11 (1969) 1; ISO 5725-2;
/// NIST/SEMATECH e-Handbook 1.3.5.17.1.
///
/// # Errors
/// Fewer than three values, values that are not finite or do not vary, `alpha`
/// outside 0 to 1.
pub fn grubbs(values: &[f64], alpha: f64) -> Result<Grubbs, CannotSay> {
    cannot_say::open_probability("alpha", alpha)?;
    cannot_say::at_least("values", 3, values.len())?;
    cannot_say::all_finite("values", values)?;
    let mean = cannot_say::computed("the mean", sums::mean(values).unwrap_or(f64::NAN))?;
    let deviation = sums::standard_deviation(values).unwrap_or(0.0);
    if deviation == 0.0 {
        return Err(CannotSay::NoSpread { what: "the values".into() });
    }
    let deviation = cannot_say::computed("the standard deviation", deviation)?;
    let mut position = 0;
    for (i, value) in values.iter().enumerate() {
        if (value - mean).abs() > (values[position] - mean).abs() {
            position = i;
        }
    }
    let n = values.len() as f64;
    Ok(Grubbs {
        g: (values[position] - mean).abs() / deviation,
        position,
        critical_one_sided: critical(n, alpha / n),
        critical_two_sided: critical(n, 0.5 * alpha / n),
        n: values.len(),
        method: "Grubbs's test of one outlier",
    })
}

/// Places of the outliers found when up to `most` are looked for (generalised
/// extreme studentised deviate), which two outliers cannot hide from.
///
/// Source: B. Rosner, Technometrics 25 (1983) 165 (from memory).
///
/// # Errors
/// As [`grubbs`]; fewer than `most + 3` values.
pub fn several_outliers(values: &[f64], most: usize, alpha: f64) -> Result<Vec<usize>, CannotSay> {
    cannot_say::at_least("values", most.saturating_add(3), values.len())?;
    cannot_say::all_finite("values", values)?;
    let mut left: Vec<(usize, f64)> = values.iter().copied().enumerate().collect();
    let mut removed = Vec::new();
    let mut found = 0;
    for step in 1..=most {
        let plain: Vec<f64> = left.iter().map(|(_, v)| *v).collect();
        let Ok(result) = grubbs(&plain, alpha) else { break };
        removed.push(left.remove(result.position).0);
        if result.g > result.critical_two_sided {
            found = step;
        }
    }
    removed.truncate(found);
    Ok(removed)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn two_outliers_hide_each_other_from_one_test() {
        let mut values: Vec<f64> = (0..12).map(|i| f64::from(i % 4)).collect();
        values.extend([40.0, 41.0]);
        assert!(
            grubbs(&values, 0.05).unwrap().g
                < grubbs(&values, 0.05).unwrap().critical_two_sided + 0.5
        );
        let found = several_outliers(&values, 3, 0.05).unwrap();
        assert_eq!(found, vec![13, 12]);
    }

    #[test]
    fn refusals() {
        assert!(grubbs(&[1.0, 2.0], 0.05).is_err());
        assert!(grubbs(&[1.0; 5], 0.05).is_err());
        assert!(grubbs(&[1.0, 2.0, 3.0], 0.0).is_err());
    }
}
