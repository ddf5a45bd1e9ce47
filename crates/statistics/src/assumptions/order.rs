//! Checks that use the order of the values: runs, trend, neighbours.

use super::{in_order, little_power};
use crate::account::{Account, Counted};
use crate::cannot_say::{self, CannotSay};
use crate::distributions::normal;
use crate::note::{Assumption, Note};
use digits::sums;

/// Von Neumann's ratio with its probability.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct VonNeumann {
    /// Sum of squared successive differences over the sum of squared
    /// deviations; 2 for independent values.
    pub ratio: f64,
    /// Probability of so small a ratio from independent values (large-sample).
    pub p_value: f64,
    /// Number of values.
    pub n: usize,
    /// Name of the method.
    pub method: &'static str,
}

impl Account for VonNeumann {
    fn method(&self) -> &str {
        self.method
    }

    fn counted(&self) -> Counted {
        Counted::of(self.n, "values in the order of measurement")
    }

    fn assumptions(&self) -> Vec<Assumption> {
        vec![in_order()]
    }

    fn notes(&self) -> Vec<Note> {
        let mut notes = Vec::new();
        if self.p_value < 0.01 {
            notes.push(Note::new(
                "not-independent",
                format!(
                    "Neighbours are alike: ratio {:.3}, 2 expected, p = {:.4}.",
                    self.ratio, self.p_value
                ),
                "Look for drift or carry-over; count days or lots and not readings.",
            ));
        }
        notes.extend(little_power(self.n));
        notes
    }
}

/// Von Neumann's ratio: small when neighbours are alike.
///
/// Source: J. von Neumann, Ann. Math. Statist. 12 (1941) 367; variance
/// `4 (n - 2)/((n - 1)(n + 1))` of normal values (from memory).
///
/// # Errors
/// Fewer than eight values, values that are not finite or do not vary.
pub fn von_neumann(values: &[f64]) -> Result<VonNeumann, CannotSay> {
    cannot_say::at_least("values", 8, values.len())?;
    cannot_say::all_finite("values", values)?;
    let total = sums::squared_deviations(values).unwrap_or(0.0);
    if total == 0.0 {
        return Err(CannotSay::NoSpread { what: "the values".into() });
    }
    let steps = sums::sum(values.windows(2).map(|w| (w[1] - w[0]) * (w[1] - w[0])));
    let ratio = cannot_say::computed("the ratio", steps / total)?;
    let n = values.len() as f64;
    let error = (4.0 * (n - 2.0) / ((n - 1.0) * (n + 1.0))).sqrt();
    Ok(VonNeumann {
        ratio,
        p_value: normal::cumulative((ratio - 2.0) / error),
        n: values.len(),
        method: "von Neumann's ratio, large-sample probability",
    })
}

/// Runs about the median.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Runs {
    /// Number of runs.
    pub runs: usize,
    /// Number expected of a random order.
    pub expected: f64,
    /// Two-sided probability (normal approximation with continuity).
    pub p_value: f64,
    /// Number of values.
    pub n: usize,
    /// Name of the method.
    pub method: &'static str,
}

impl Account for Runs {
    fn method(&self) -> &str {
        self.method
    }

    fn counted(&self) -> Counted {
        Counted::of(self.n, "values in the order of measurement")
    }

    fn assumptions(&self) -> Vec<Assumption> {
        vec![in_order()]
    }

    fn notes(&self) -> Vec<Note> {
        let mut notes = Vec::new();
        if self.p_value < 0.01 {
            notes.push(Note::new(
                "runs-to-one-side",
                format!(
                    "{} runs about the median where {:.1} are expected, p = {:.4}.",
                    self.runs, self.expected, self.p_value
                ),
                "Look for a shift or drift between the runs of one side.",
            ));
        }
        notes.extend(little_power(self.n));
        notes
    }
}

/// Runs test about the median; values equal to it are left out.
///
/// Source: A. Wald and J. Wolfowitz, Ann. Math. Statist. 11 (1940) 147.
///
/// # Errors
/// Fewer than ten values, values that are not finite, or all on one side.
pub fn runs_about_median(values: &[f64]) -> Result<Runs, CannotSay> {
    cannot_say::at_least("values", 10, values.len())?;
    cannot_say::all_finite("values", values)?;
    let mut sorted = values.to_vec();
    sorted.sort_by(f64::total_cmp);
    let n = sorted.len();
    let median = 0.5 * sorted[(n - 1) / 2] + 0.5 * sorted[n / 2];
    let sides: Vec<bool> = values.iter().filter(|v| **v != median).map(|v| *v > median).collect();
    let above = sides.iter().filter(|side| **side).count() as f64;
    let below = sides.len() as f64 - above;
    if above == 0.0 || below == 0.0 {
        return Err(CannotSay::NoSpread { what: "the values".into() });
    }
    let runs = 1 + sides.windows(2).filter(|w| w[0] != w[1]).count();
    let all = above + below;
    let expected = 1.0 + 2.0 * above * below / all;
    let variance = (expected - 1.0) * (expected - 2.0) / (all - 1.0);
    let distance = ((runs as f64 - expected).abs() - 0.5).max(0.0);
    let p = if variance > 0.0 { 2.0 * normal::survival(distance / variance.sqrt()) } else { 1.0 };
    Ok(Runs {
        runs,
        expected,
        p_value: p.min(1.0),
        // Those equal to the median are left out.
        n: sides.len(),
        method: "runs about the median, normal approximation",
    })
}

/// Trend by Mann and Kendall.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Trend {
    /// Pairs that rise less pairs that fall.
    pub s: i64,
    /// Two-sided probability (normal approximation, ties allowed for).
    pub p_value: f64,
    /// Number of values.
    pub n: usize,
    /// Name of the method.
    pub method: &'static str,
}

impl Account for Trend {
    fn method(&self) -> &str {
        self.method
    }

    fn counted(&self) -> Counted {
        Counted::of(self.n, "values in the order of measurement")
    }

    fn assumptions(&self) -> Vec<Assumption> {
        vec![Assumption::unchecked(
            "values independent but for the trend",
            "von Neumann ratio",
            "alike neighbours make this test speak too often; look at both",
        )]
    }

    fn notes(&self) -> Vec<Note> {
        let mut notes = Vec::new();
        if self.p_value < 0.01 {
            notes.push(Note::new(
                "trend",
                format!("The values follow a trend: S = {}, p = {:.4}.", self.s, self.p_value),
                "Look for drift with time or temperature before the values are taken as one \
                     sample.",
            ));
        }
        notes.extend(little_power(self.n));
        notes
    }
}

/// Mann-Kendall test of a monotone trend.
///
/// Source: H. B. Mann, Econometrica 13 (1945) 245; M. G. Kendall, Rank
/// Correlation Methods (from memory).
///
/// # Errors
/// Fewer than eight values, values that are not finite or do not vary.
pub fn mann_kendall(values: &[f64]) -> Result<Trend, CannotSay> {
    cannot_say::at_least("values", 8, values.len())?;
    cannot_say::all_finite("values", values)?;
    let mut s: i64 = 0;
    for (i, first) in values.iter().enumerate() {
        for second in &values[i + 1..] {
            s += i64::from(second > first) - i64::from(second < first);
        }
    }
    let mut sorted = values.to_vec();
    sorted.sort_by(f64::total_cmp);
    let size = |n: f64| n * (n - 1.0) * (2.0 * n + 5.0);
    let ties: f64 = sorted.chunk_by(|a, b| a == b).map(|tie| size(tie.len() as f64)).sum();
    let variance = (size(values.len() as f64) - ties) / 18.0;
    if variance <= 0.0 {
        return Err(CannotSay::NoSpread { what: "the values".into() });
    }
    let distance = (s.abs() as f64 - 1.0).max(0.0);
    Ok(Trend {
        s,
        p_value: (2.0 * normal::survival(distance / variance.sqrt())).min(1.0),
        n: values.len(),
        method: "Mann-Kendall trend, normal approximation, ties allowed for",
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_ramp_is_seen_by_all_three() {
        let ramp: Vec<f64> = (0..20).map(f64::from).collect();
        assert!(von_neumann(&ramp).unwrap().p_value < 1e-5);
        let runs = runs_about_median(&ramp).unwrap();
        assert_eq!(runs.runs, 2);
        assert!(runs.p_value < 1e-3);
        let trend = mann_kendall(&ramp).unwrap();
        assert_eq!(trend.s, 190);
        assert!(trend.p_value < 1e-6);
    }

    #[test]
    fn refusals() {
        assert!(von_neumann(&[1.0; 9]).is_err());
        assert!(mann_kendall(&[1.0; 9]).is_err());
        assert!(runs_about_median(&[1.0; 12]).is_err());
    }
}
