//! Cumulative sums: chart and run length.

use super::run_length_assumptions;
use crate::account::{Account, Counted};
use crate::cannot_say::{self, CannotSay};
use crate::distributions::normal;
use crate::note::{Assumption, Note};
use crate::quadrature::gauss_legendre;
use nalgebra::{DMatrix, DVector};

/// Values of a two-sided cumulative-sum chart.
#[derive(Debug, Clone, PartialEq)]
#[non_exhaustive]
pub struct Cusum {
    /// Upward sums.
    pub high: Vec<f64>,
    /// Downward sums.
    pub low: Vec<f64>,
    /// Places where either sum exceeds the decision interval.
    pub signals: Vec<usize>,
    /// Name of the method.
    pub method: &'static str,
}

impl Account for Cusum {
    fn method(&self) -> &str {
        self.method
    }

    fn counted(&self) -> Counted {
        Counted::of(self.high.len(), "readings charted; target and sigma come from elsewhere")
    }

    fn assumptions(&self) -> Vec<Assumption> {
        run_length_assumptions()
    }

    fn notes(&self) -> Vec<Note> {
        let mut notes = Vec::new();
        if let Some(first) = self.signals.first() {
            notes.push(Note::new(
                "signals",
                format!(
                    "A sum passes the decision interval at {} of {} readings, first at number {}.",
                    self.signals.len(),
                    self.high.len(),
                    first + 1
                ),
                "Go back to the last reading at which that sum was zero: the shift began about \
                 there. Look for its cause.",
            ));
        }
        notes
    }
}

/// Two-sided cumulative sums with allowance and decision interval in the unit
/// of the values.
///
/// `high_i = max(0, high + x - target - allowance)` and the mirror image.
/// Source: E. S. Page, Biometrika 41 (1954) 100; NIST/SEMATECH e-Handbook
/// 6.3.2.3.
///
/// # Errors
/// No value, values that are not finite, a negative allowance, a decision
/// interval not above zero.
pub fn cusum(
    values: &[f64],
    target: f64,
    allowance: f64,
    decision: f64,
) -> Result<Cusum, CannotSay> {
    cannot_say::at_least("values", 1, values.len())?;
    cannot_say::all_finite("values", values)?;
    cannot_say::finite("the target", target)?;
    cannot_say::not_negative("the allowance", allowance)?;
    cannot_say::positive("the decision interval", decision)?;
    let (mut high, mut low) = (0.0_f64, 0.0_f64);
    let mut result = Cusum {
        high: Vec::new(),
        low: Vec::new(),
        signals: Vec::new(),
        method: "two-sided cumulative sums",
    };
    for (i, value) in values.iter().enumerate() {
        high = (high + value - target - allowance).max(0.0);
        low = (low + target - allowance - value).max(0.0);
        cannot_say::computed("a cumulative sum", high + low)?;
        result.high.push(high);
        result.low.push(low);
        if high > decision || low > decision {
            result.signals.push(i);
        }
    }
    Ok(result)
}

/// Run length of the upward sum alone, in units of sigma.
fn one_sided(allowance: f64, decision: f64, shift: f64) -> Option<f64> {
    let nodes = gauss_legendre(100, 0.0, decision);
    let n = nodes.len();
    // State 0 is the sum at zero, which has a probability of its own.
    let place = |i: usize| if i == 0 { 0.0 } else { nodes[i - 1].0 };
    let matrix = DMatrix::from_fn(n + 1, n + 1, |i, j| {
        let unit = if i == j { 1.0 } else { 0.0 };
        let from = place(i);
        let into = if j == 0 {
            normal::cumulative(allowance - from - shift)
        } else {
            let (to, weight) = nodes[j - 1];
            weight * normal::density(to - from + allowance - shift)
        };
        unit - into
    });
    matrix.lu().solve(&DVector::from_element(n + 1, 1.0)).map(|lengths| lengths[0])
}

/// Mean number of readings until a two-sided chart signals, for independent
/// normal readings shifted by `shift` sigma; allowance and decision interval
/// in units of sigma.
///
/// `1/L = 1/L_high + 1/L_low`, each by its integral equation. Source: C. van
/// Dobben de Bruyn (1968); K. W. Kemp, J. R. Stat. Soc. B 23 (1961) 149.
///
/// # Errors
/// A negative allowance, a decision interval not above zero, a shift that is
/// not finite.
pub fn average_run_length(allowance: f64, decision: f64, shift: f64) -> Result<f64, CannotSay> {
    cannot_say::not_negative("the allowance", allowance)?;
    cannot_say::positive("the decision interval", decision)?;
    cannot_say::finite("the shift", shift)?;
    let failed = || CannotSay::Overflow { what: "the run length".into() };
    let high = one_sided(allowance, decision, shift).ok_or_else(failed)?;
    let low = one_sided(allowance, decision, -shift).ok_or_else(failed)?;
    cannot_say::computed("the run length", 1.0 / (1.0 / high + 1.0 / low))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn by_hand() {
        let chart = cusum(&[1.0, 1.0, 1.0], 0.0, 0.5, 1.2).unwrap();
        assert_eq!(chart.high, vec![0.5, 1.0, 1.5]);
        assert_eq!(chart.signals, vec![2]);
        assert!(cusum(&[1.0], 0.0, -1.0, 1.0).is_err());
    }
}
