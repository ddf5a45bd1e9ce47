//! Chart of individual values with moving ranges.

use crate::account::{Account, Counted};
use crate::autocorrelation::lag_one;
use crate::cannot_say::{self, CannotSay};
use crate::note::{Assumption, Note};
use digits::sums;

/// Limits frozen from a first phase.
#[derive(Debug, Clone, PartialEq)]
#[non_exhaustive]
pub struct Individuals {
    /// Centre line.
    pub mean: f64,
    /// Mean moving range of two.
    pub moving_range: f64,
    /// Standard deviation from the moving range, `MR / d2`.
    pub sigma: f64,
    /// Lower and upper limit, 3 sigma.
    pub limits: (f64, f64),
    /// Upper limit of the moving range.
    pub range_limit: f64,
    /// Lag-1 autocorrelation of the first phase.
    pub lag_one: f64,
    /// Number of values of the first phase.
    pub n: usize,
    /// Name of the method.
    pub method: &'static str,
    /// Assumptions with the outcome of their checks.
    pub assumptions: Vec<Assumption>,
    /// Remarks with next steps.
    pub notes: Vec<Note>,
}

impl Account for Individuals {
    fn method(&self) -> &str {
        self.method
    }

    fn counted(&self) -> Counted {
        Counted::of(self.n, "values of the first phase")
    }

    fn assumptions(&self) -> Vec<Assumption> {
        self.assumptions.clone()
    }

    fn notes(&self) -> Vec<Note> {
        self.notes.clone()
    }
}

/// `d2` of a range of two, `2 / sqrt(pi)`.
const D2_OF_TWO: f64 = core::f64::consts::FRAC_2_SQRT_PI;

/// Individuals chart from first-phase values.
///
/// # Errors
/// Fewer than five values, values that are not finite or do not vary.
pub fn individuals(values: &[f64]) -> Result<Individuals, CannotSay> {
    cannot_say::at_least("values", 5, values.len())?;
    cannot_say::all_finite("values", values)?;
    let mean = cannot_say::computed("the mean", sums::mean(values).unwrap_or(f64::NAN))?;
    let steps = (values.len() - 1) as f64;
    let moving_range = sums::sum(values.windows(2).map(|w| (w[1] - w[0]).abs())) / steps;
    if moving_range == 0.0 {
        return Err(CannotSay::NoSpread { what: "the values".into() });
    }
    let sigma = cannot_say::computed("sigma", moving_range / D2_OF_TWO)?;
    let lag = lag_one(values)?;
    let mut notes = Vec::new();
    let bound = 2.0 / (values.len() as f64).sqrt();
    if lag > bound {
        notes.push(Note::new(
            "autocorrelated",
            format!(
                "Neighbouring values are correlated (lag-1 {lag:.2}); the moving range then \
                 understates sigma and the chart alarms falsely, at 0.6 about twenty times too \
                 often."
            ),
            "Chart daily means, or residuals of a time model, with sigma between days.",
        ));
    }
    if values.len() < 20 {
        notes.push(Note::new(
            "short-first-phase",
            format!("{} values fix the limits poorly.", values.len()),
            "Keep the limits provisional until at least 20 values are in.",
        ));
    }
    let outside = values.iter().filter(|v| (*v - mean).abs() > 3.0 * sigma).count();
    if outside > 0 {
        notes.push(Note::new(
            "first-phase-signals",
            format!("{outside} first-phase values lie outside their own limits."),
            "Investigate them; leave one out only with an assigned cause.",
        ));
    }
    Ok(Individuals {
        mean,
        moving_range,
        sigma,
        limits: (mean - 3.0 * sigma, mean + 3.0 * sigma),
        range_limit: 3.266_531_919_288_600_4 * moving_range,
        lag_one: lag,
        n: values.len(),
        method: "individuals chart, sigma from moving ranges of two, frozen limits",

        assumptions: vec![
            crate::assumptions::normal("normal values in the first phase", values),
            crate::assumptions::independent("values independent of their neighbours", values),
            crate::assumptions::no_trend("no trend in the first phase", values),
            Assumption::looked_at(
                "first phase in control",
                "its own limits",
                outside == 0,
                format!("{outside} of {} values outside.", values.len()),
            ),
        ],
        notes,
    })
}

impl Individuals {
    /// Places of later values outside the frozen limits.
    ///
    /// # Errors
    /// A value that is not finite.
    pub fn signals(&self, later: &[f64]) -> Result<Vec<usize>, CannotSay> {
        cannot_say::all_finite("later values", later)?;
        Ok((0..later.len())
            .filter(|i| later[*i] < self.limits.0 || later[*i] > self.limits.1)
            .collect())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn by_hand() {
        let chart = individuals(&[1.0, 2.0, 1.0, 2.0, 1.0]).unwrap();
        assert_eq!(chart.moving_range, 1.0);
        assert_eq!(chart.signals(&[1.5, 9.0, -9.0]).unwrap(), vec![1, 2]);
        assert!(individuals(&[1.0; 9]).is_err());
        assert!(chart.signals(&[f64::NAN]).is_err());
    }
}
