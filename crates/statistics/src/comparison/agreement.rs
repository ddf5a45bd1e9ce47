//! Limits of agreement of two methods on the same units.

use crate::account::{Account, Counted};
use crate::cannot_say::{self, CannotSay};
use crate::distributions::student_t;
use crate::note::{Assumption, Note};
use digits::sums;

/// Bias and limits of agreement.
#[derive(Debug, Clone, PartialEq)]
#[non_exhaustive]
pub struct Agreement {
    /// Mean difference, first less second.
    pub bias: f64,
    /// Standard deviation of the differences.
    pub standard_deviation: f64,
    /// Limits at `bias -+ multiplier * standard_deviation`.
    pub limits: (f64, f64),
    /// Multiplier of the limits.
    pub multiplier: f64,
    /// Confidence interval of the bias.
    pub bias_interval: (f64, f64),
    /// Half width of the confidence interval of each limit.
    pub limit_half_width: f64,
    /// Number of units.
    pub n: usize,
    /// Name of the method.
    pub method: &'static str,
    /// Assumptions with the outcome of their checks.
    pub assumptions: Vec<Assumption>,
    /// Remarks with next steps.
    pub notes: Vec<Note>,
}

impl Account for Agreement {
    fn method(&self) -> &str {
        self.method
    }

    fn counted(&self) -> Counted {
        Counted::of(self.n, "units, each read by both sides")
    }

    fn assumptions(&self) -> Vec<Assumption> {
        self.assumptions.clone()
    }

    fn notes(&self) -> Vec<Note> {
        self.notes.clone()
    }
}

/// Differences of pairs, checked.
pub(crate) fn differences(first: &[f64], second: &[f64]) -> Result<Vec<f64>, CannotSay> {
    if first.len() != second.len() {
        return Err(CannotSay::LengthsDiffer {
            left: "first readings".into(),
            left_count: first.len(),
            right: "second readings".into(),
            right_count: second.len(),
        });
    }
    cannot_say::at_least("pairs", 2, first.len())?;
    cannot_say::all_finite("first readings", first)?;
    cannot_say::all_finite("second readings", second)?;
    let list: Vec<f64> = first.iter().zip(second).map(|(a, b)| a - b).collect();
    cannot_say::all_finite("differences", &list)?;
    Ok(list)
}

/// Limits of agreement.
///
/// Source: J. M. Bland and D. G. Altman, Lancet i (1986) 307. Each limit is
/// uncertain by about `t s sqrt(3/n)`.
///
/// # Errors
/// Lists of unequal length, fewer than two pairs, values that are not finite,
/// a multiplier that is not positive, a confidence outside 0 to 1.
pub fn bland_altman(
    first: &[f64],
    second: &[f64],
    multiplier: f64,
    confidence: f64,
) -> Result<Agreement, CannotSay> {
    cannot_say::positive("the multiplier", multiplier)?;
    cannot_say::open_probability("confidence", confidence)?;
    let list = differences(first, second)?;
    let n = list.len() as f64;
    let bias = cannot_say::computed("the bias", sums::mean(&list).unwrap_or(f64::NAN))?;
    let deviation = cannot_say::computed(
        "the standard deviation",
        sums::standard_deviation(&list).unwrap_or(f64::NAN),
    )?;
    let t = student_t::quantile(0.5 + 0.5 * confidence, n - 1.0);
    let half = t * deviation / n.sqrt();
    let mut notes = Vec::new();
    let means: Vec<f64> = first.iter().zip(second).map(|(a, b)| 0.5 * (a + b)).collect();
    let (name, test) = ("difference does not follow the level", "slope of difference on mean");
    let level = match crate::regression::straight_line(&means, &list) {
        Ok(line) => {
            let p = line.slope_p_value();
            Assumption::tested(name, test, p, 0.05, format!("Slope p = {p:.4}."))
        }
        Err(reason) => Assumption::refused(name, test, &reason),
    };
    if level.held == Some(false) {
        notes.push(Note::new(
            "difference-follows-level",
            "The difference changes with the level; one pair of limits does not describe it.",
            "Compare logarithms, or give limits by level.",
        ));
    }
    Ok(Agreement {
        bias,
        standard_deviation: deviation,
        limits: (bias - multiplier * deviation, bias + multiplier * deviation),
        multiplier,
        bias_interval: (bias - half, bias + half),
        limit_half_width: t * deviation * (3.0 / n).sqrt(),
        n: list.len(),
        method: "limits of agreement (Bland and Altman)",

        assumptions: vec![
            crate::assumptions::normal("normal differences", &list),
            level,
            Assumption::unchecked(
                "units independent of each other",
                "from the plan",
                "numbers do not show it; state how the units were drawn",
            ),
        ],
        notes,
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn by_hand() {
        let result = bland_altman(&[1.0, 2.0, 3.0], &[0.0, 2.0, 4.0], 2.0, 0.95).unwrap();
        assert_eq!((result.bias, result.standard_deviation), (0.0, 1.0));
        assert_eq!(result.limits, (-2.0, 2.0));
        assert!(bland_altman(&[1.0], &[1.0], 2.0, 0.95).is_err());
        assert!(bland_altman(&[1e308, 1.0], &[-1e308, 1.0], 2.0, 0.95).is_err());
    }
}
