//! Exponentially weighted moving average: chart and run length.

use super::run_length_assumptions;
use crate::account::{Account, Counted};
use crate::cannot_say::{self, CannotSay};
use crate::distributions::normal;
use crate::note::{Assumption, Note};
use crate::quadrature::gauss_legendre;
use digits::scalar::powi;
use nalgebra::{DMatrix, DVector};

fn check(lambda: f64, width: f64) -> Result<(), CannotSay> {
    if !(lambda > 0.0 && lambda <= 1.0) {
        return Err(CannotSay::OutOfRange {
            what: "lambda".into(),
            value: lambda,
            allowed: "a number above 0 and at most 1".into(),
        });
    }
    cannot_say::positive("the width of the limits", width)
}

/// Values of the chart and its limits.
#[derive(Debug, Clone, PartialEq)]
#[non_exhaustive]
pub struct Ewma {
    /// Smoothed values, one for each reading.
    pub values: Vec<f64>,
    /// Lower and upper limit after many readings.
    pub limits: (f64, f64),
    /// Lower and upper limit for each reading, narrower at the start.
    pub limits_by_reading: Vec<(f64, f64)>,
    /// Places of values outside their limits.
    pub signals: Vec<usize>,
    /// Name of the method.
    pub method: &'static str,
}

impl Account for Ewma {
    fn method(&self) -> &str {
        self.method
    }

    fn counted(&self) -> Counted {
        Counted::of(self.values.len(), "readings charted; target and sigma come from elsewhere")
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
            "The smoothed value lies outside its limits at {} of {} readings, first at number {}.",
            self.signals.len(),
            self.values.len(),
            first + 1
        ),
        "Look for the cause before the next lot is judged; keep the limits as they are.",
    ));
        }
        notes
    }
}

/// EWMA chart with frozen target and sigma.
///
/// `w_i = lambda x_i + (1 - lambda) w_{i-1}`, limits
/// `target +- width sigma sqrt(lambda/(2 - lambda) (1 - (1 - lambda)^{2i}))`.
/// Source: S. W. Roberts, Technometrics 1 (1959) 239; NIST/SEMATECH e-Handbook
/// 6.3.2.4.
///
/// # Errors
/// No value, values that are not finite, sigma or width not above zero, lambda
/// outside 0 to 1.
pub fn ewma(
    values: &[f64],
    target: f64,
    sigma: f64,
    lambda: f64,
    width: f64,
) -> Result<Ewma, CannotSay> {
    check(lambda, width)?;
    cannot_say::at_least("values", 1, values.len())?;
    cannot_say::all_finite("values", values)?;
    cannot_say::finite("the target", target)?;
    cannot_say::positive("sigma", sigma)?;
    let far = width * sigma * (lambda / (2.0 - lambda)).sqrt();
    cannot_say::computed("a limit of the chart", target + far)?;
    cannot_say::computed("a limit of the chart", target - far)?;
    let mut smoothed = target;
    let mut list = Vec::with_capacity(values.len());
    let mut limits = Vec::with_capacity(values.len());
    let mut signals = Vec::new();
    for (i, value) in values.iter().enumerate() {
        smoothed = lambda * value + (1.0 - lambda) * smoothed;
        let steps = i32::try_from(2 * (i + 1)).unwrap_or(i32::MAX);
        let half = far * (1.0 - powi(1.0 - lambda, steps)).sqrt();
        if (smoothed - target).abs() > half {
            signals.push(i);
        }
        list.push(cannot_say::computed("a smoothed value", smoothed)?);
        limits.push((target - half, target + half));
    }
    Ok(Ewma {
        values: list,
        limits: (target - far, target + far),
        limits_by_reading: limits,
        signals,
        method: "exponentially weighted moving average, frozen limits",
    })
}

/// Mean number of readings until a signal, for independent normal readings
/// shifted by `shift` sigma, limits as after many readings.
///
/// Integral equation of the run length, solved at Gauss-Legendre nodes.
/// Source: S. V. Crowder, Technometrics 29 (1987) 401.
///
/// # Errors
/// Lambda outside 0 to 1, width not above zero, shift not finite.
pub fn average_run_length(lambda: f64, width: f64, shift: f64) -> Result<f64, CannotSay> {
    check(lambda, width)?;
    cannot_say::finite("the shift", shift)?;
    if lambda == 1.0 {
        let out = normal::survival(width - shift) + normal::cumulative(-width - shift);
        return cannot_say::computed("the run length", 1.0 / out);
    }
    let edge = width * (lambda / (2.0 - lambda)).sqrt();
    let nodes = gauss_legendre(101, -edge, edge);
    let n = nodes.len();
    let kernel = |from: f64, to: f64| {
        normal::density((to - (1.0 - lambda) * from) / lambda - shift) / lambda
    };
    let matrix = DMatrix::from_fn(n, n, |i, j| {
        let unit = if i == j { 1.0 } else { 0.0 };
        unit - kernel(nodes[i].0, nodes[j].0) * nodes[j].1
    });
    let solved = matrix.lu().solve(&DVector::from_element(n, 1.0));
    let lengths = solved.ok_or_else(|| CannotSay::Overflow { what: "the run length".into() })?;
    // The chart starts at the target, between the nodes.
    let start = 1.0
        + nodes
            .iter()
            .zip(lengths.iter())
            .map(|((to, w), l)| w * kernel(0.0, *to) * l)
            .sum::<f64>();
    cannot_say::computed("the run length", start)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn lambda_one_is_the_plain_chart() {
        let length = average_run_length(1.0, 3.0, 0.0).unwrap();
        assert!((length - 370.398).abs() < 1e-3);
        let chart = ewma(&[1.0, 5.0], 0.0, 1.0, 1.0, 3.0).unwrap();
        assert_eq!(chart.signals, vec![1]);
        assert!(ewma(&[1.0], 0.0, 1.0, 0.0, 3.0).is_err());
    }
}
