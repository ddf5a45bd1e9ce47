//! Normal limits on a transformed scale: logarithm and power.

use super::one_sided::{UpperLimit, upper_limit_from_values};
use crate::account::{Account, Counted};
use crate::assumptions::shapiro_wilk;
use crate::cannot_say::{self, CannotSay};
use crate::distributions::chi_squared;
use crate::note::{Assumption, Note};
use digits::scalar::{exp, exp_m1, ln, ln_1p};
use digits::sums;

fn all_positive(values: &[f64]) -> Result<(), CannotSay> {
    cannot_say::all_in_range("values", values)?;
    match values.iter().position(|value| *value <= 0.0) {
        None => Ok(()),
        Some(place) => Err(CannotSay::OutOfRange {
            what: format!("value number {}", place + 1),
            value: values[place],
            allowed: "a value above zero on a logarithmic or power scale".into(),
        }),
    }
}

/// Upper limit of a population whose logarithm is normal.
///
/// `limit = exp(m + k s)` with mean and deviation of the logarithms, which the
/// result carries.
///
/// # Errors
/// A value of zero or less, and as
/// [`upper_limit_from_values`].
pub fn lognormal_upper_limit(
    values: &[f64],
    content: f64,
    confidence: f64,
) -> Result<UpperLimit, CannotSay> {
    all_positive(values)?;
    let logs: Vec<f64> = values.iter().map(|value| ln(*value)).collect();
    let mut result = upper_limit_from_values(&logs, content, confidence)?;
    result.limit = cannot_say::computed("the limit", exp(result.limit))?;
    result.method =
        "one-sided normal tolerance limit of the natural logarithms, carried back".into();
    result.notes.push(Note::new(
        "log-scale",
        "Mean, standard deviation and checks are those of the logarithms.",
        "State the scale beside the limit.",
    ));
    Ok(result)
}

/// The power of Box and Cox that makes values most nearly normal.
#[derive(Debug, Clone, PartialEq)]
#[non_exhaustive]
pub struct Power {
    /// Maximum-likelihood power; 0 stands for the logarithm.
    pub lambda: f64,
    /// Ends of the 95 % likelihood interval, cut at -3 and 4.
    pub interval: (f64, f64),
    /// Number of values.
    pub n: usize,
}

impl Account for Power {
    fn method(&self) -> &str {
        "power of Box and Cox by maximum likelihood"
    }

    fn counted(&self) -> Counted {
        Counted::of(self.n, "values")
    }

    fn assumptions(&self) -> Vec<Assumption> {
        vec![
            Assumption::looked_at(
                "the logarithm is among the powers that fit",
                "95 % likelihood interval of the power",
                self.interval.0 <= 0.0 && self.interval.1 >= 0.0,
                format!(
                    "Power {:.2}, {:.2} to {:.2}.",
                    self.lambda, self.interval.0, self.interval.1
                ),
            ),
            Assumption::unchecked(
                "normal values on the power scale",
                "Shapiro-Wilk",
                "the limit on that scale checks it",
            ),
        ]
    }

    fn notes(&self) -> Vec<Note> {
        if self.interval.0 <= -3.0 || self.interval.1 >= 4.0 {
            vec![Note::new(
                "power-poorly-fixed",
                "The interval of the power runs to the end of the range searched.",
                "Take more values, or state the scale from the physics of the reading.",
            )]
        } else {
            Vec::new()
        }
    }
}

/// Power transformation by maximum likelihood.
///
/// Source: G. E. P. Box and D. R. Cox, J. R. Stat. Soc. B 26 (1964) 211.
///
/// # Errors
/// Fewer than eight values, a value of zero or less, no spread.
pub fn box_cox_power(values: &[f64]) -> Result<Power, CannotSay> {
    cannot_say::at_least("values", 8, values.len())?;
    all_positive(values)?;
    let logs: Vec<f64> = values.iter().map(|value| ln(*value)).collect();
    let centre = sums::mean(&logs).unwrap_or(0.0);
    // Scaling by the geometric mean makes likelihoods of powers comparable.
    let scaled: Vec<f64> = logs.iter().map(|value| value - centre).collect();
    let n = values.len() as f64;
    let likelihood = |lambda: f64| {
        let moved: Vec<f64> = scaled.iter().map(|log| power_of_log(*log, lambda)).collect();
        match sums::squared_deviations(&moved) {
            Some(total) if total > 0.0 && total.is_finite() => -0.5 * n * ln(total / n),
            _ => f64::NEG_INFINITY,
        }
    };
    if likelihood(1.0) == f64::NEG_INFINITY {
        return Err(CannotSay::NoSpread { what: "the values".into() });
    }
    let (low, high) = (-3.0, 4.0);
    let mut best = low;
    for i in 0..=140 {
        let lambda = low + 0.05 * f64::from(i);
        if likelihood(lambda) > likelihood(best) {
            best = lambda;
        }
    }
    let (mut a, mut b) = ((best - 0.05).max(low), (best + 0.05).min(high));
    for _ in 0..60 {
        let (c, d) = (a + (b - a) / 3.0, b - (b - a) / 3.0);
        if likelihood(c) < likelihood(d) {
            a = c;
        } else {
            b = d;
        }
    }
    let lambda = 0.5 * (a + b);
    let drop = 0.5 * chi_squared::quantile(0.95, 1.0);
    let excess = |x: f64| likelihood(lambda) - likelihood(x) - drop;
    let lower = digits::roots::between(low, lambda, 1e-9, excess).unwrap_or(low);
    let upper = digits::roots::between(lambda, high, 1e-9, excess).unwrap_or(high);
    Ok(Power { lambda, interval: (lower, upper), n: values.len() })
}

/// `(y^lambda - 1)/lambda` from the logarithm of `y`.
fn power_of_log(log: f64, lambda: f64) -> f64 {
    if lambda.abs() < 1e-12 { log } else { exp_m1(lambda * log) / lambda }
}

/// Upper limit on the power scale of Box and Cox.
///
/// The power is rounded to a half where the likelihood interval allows, so
/// that the scale can be named; the error of the power itself is not in the
/// limit, which a note says.
///
/// # Errors
/// As [`box_cox_power`]; a limit outside the range of the power.
pub fn box_cox_upper_limit(
    values: &[f64],
    content: f64,
    confidence: f64,
) -> Result<UpperLimit, CannotSay> {
    let power = box_cox_power(values)?;
    let half = (2.0 * power.lambda + 0.5).floor() / 2.0;
    let lambda =
        if half >= power.interval.0 && half <= power.interval.1 { half } else { power.lambda };
    let moved: Vec<f64> = values.iter().map(|value| power_of_log(ln(*value), lambda)).collect();
    let mut result = upper_limit_from_values(&moved, content, confidence)?;
    let back = if lambda.abs() < 1e-12 {
        exp(result.limit)
    } else {
        let inside = lambda * result.limit;
        if inside <= -1.0 {
            return Err(CannotSay::not_determined(
                format!("the limit lies beyond the end of the scale of power {lambda:.2}"),
                "Use the logarithm or a nonparametric limit.",
            ));
        }
        exp(ln_1p(inside) / lambda)
    };
    result.limit = cannot_say::computed("the limit", back)?;
    result.method = format!(
        "one-sided normal tolerance limit on the power scale, lambda {lambda:.2}, carried back"
    );
    result.notes.push(Note::new(
        "power-scale",
        format!(
            "The power {lambda:.2} was chosen from these values (95 % interval {:.2} to {:.2}); its \
             own error is not in the limit.",
            power.interval.0, power.interval.1
        ),
        "Fix the power from earlier data, or use a nonparametric limit.",
    ));
    Ok(result)
}

/// Whether the logarithm or the plain scale looks more normal: the
/// Shapiro-Wilk W of both.
///
/// # Errors
/// As [`shapiro_wilk::shapiro_wilk`]; a value of zero or less.
pub fn normality_on_both_scales(values: &[f64]) -> Result<(f64, f64), CannotSay> {
    all_positive(values)?;
    let logs: Vec<f64> = values.iter().map(|value| ln(*value)).collect();
    Ok((shapiro_wilk::shapiro_wilk(values)?.w, shapiro_wilk::shapiro_wilk(&logs)?.w))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn lognormal(seed: u64, n: u64) -> Vec<f64> {
        (0..n).map(|unit| exp(1.0 + 0.8 * digits::RandomStream::new(seed, unit).normal())).collect()
    }

    #[test]
    fn the_logarithm_is_found() {
        let power = box_cox_power(&lognormal(5, 300)).unwrap();
        assert!(power.interval.0 < 0.0 && power.interval.1 > 0.0, "{power:?}");
        let values = lognormal(6, 300);
        let log = lognormal_upper_limit(&values, 0.99, 0.95).unwrap().limit;
        let by_power = box_cox_upper_limit(&values, 0.99, 0.95).unwrap().limit;
        assert!((log / by_power - 1.0).abs() < 0.5);
        // The true 99 % point is exp(1 + 0.8 * 2.326).
        assert!(log > exp(1.0 + 0.8 * 2.326));
        let (plain, on_log) = normality_on_both_scales(&values).unwrap();
        assert!(on_log > plain);
    }

    #[test]
    fn zero_has_no_logarithm() {
        assert!(lognormal_upper_limit(&[1.0, 0.0, 2.0], 0.9, 0.9).is_err());
        assert!(box_cox_power(&[1.0; 9]).is_err());
    }
}
