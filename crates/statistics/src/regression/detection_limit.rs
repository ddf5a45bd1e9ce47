//! Critical value and minimum detectable value of a calibrated quantity.
//!
//! Source: ISO 11843-2:2000 (formulas from memory); the same as L. A. Currie,
//! Pure Appl. Chem. 67 (1995) 1699 with estimated sigma. At the critical
//! value half of all true values are missed; only the minimum detectable value
//! is a claim of detection.

use super::straight_line::StraightLine;
use crate::account::{Account, Counted};
use crate::cannot_say::{self, CannotSay};
use crate::distributions::{noncentral_t, student_t};
use crate::note::{Assumption, Note};

/// Critical value and minimum detectable value.
#[derive(Debug, Clone, PartialEq)]
#[non_exhaustive]
pub struct DetectionLimit {
    /// Net value above which a result is taken as more than nothing.
    pub critical_value: f64,
    /// True net value that exceeds the critical value with probability
    /// `1 - beta`.
    pub minimum_detectable_value: f64,
    /// Reading at the critical value.
    pub critical_reading: f64,
    /// Noncentrality `delta` of the t distribution behind the second figure.
    pub noncentrality: f64,
    /// Probability of calling nothing something.
    pub alpha: f64,
    /// Probability of missing the minimum detectable value.
    pub beta: f64,
    /// Number of points.
    pub n: usize,
    /// Name of the method.
    pub method: &'static str,
    /// Assumptions with the outcome of their checks.
    pub assumptions: Vec<Assumption>,
    /// Remarks with next steps.
    pub notes: Vec<Note>,
}

impl Account for DetectionLimit {
    fn method(&self) -> &str {
        self.method
    }

    fn counted(&self) -> Counted {
        Counted::of(self.n, "calibration points")
    }

    fn assumptions(&self) -> Vec<Assumption> {
        self.assumptions.clone()
    }

    fn notes(&self) -> Vec<Note> {
        self.notes.clone()
    }
}

/// Detection limit of a straight calibration line.
///
/// `x_C = t (s / |b|) sqrt(1/K + 1/N + xbar^2 / Sxx)` and
/// `x_D = delta (s / |b|) sqrt(...)`, where the noncentral t distribution with
/// noncentrality `delta` falls below `t` with probability `beta`. `K` is the
/// number of readings averaged for one result.
///
/// # Errors
/// No reading, `alpha` or `beta` outside 0 to 1/2, a slope that cannot be told
/// from zero, or no scatter.
pub fn detection_limit(
    line: &StraightLine,
    readings: usize,
    alpha: f64,
    beta: f64,
) -> Result<DetectionLimit, CannotSay> {
    cannot_say::at_least("readings", 1, readings)?;
    for (what, value) in [("alpha", alpha), ("beta", beta)] {
        if !(value > 0.0 && value < 0.5) {
            return Err(CannotSay::OutOfRange {
                what: what.into(),
                value,
                allowed: "a probability between 0 and 0.5".into(),
            });
        }
    }
    if line.slope_p_value() > 0.05 {
        return Err(CannotSay::not_determined(
            "the slope of the calibration cannot be told from zero",
            "Add calibration points further apart.",
        ));
    }
    if line.residual_sd == 0.0 {
        return Err(CannotSay::NoSpread { what: "the residuals of the calibration".into() });
    }
    let df = line.degrees_of_freedom;
    let t = -student_t::quantile(alpha, df);
    let delta = noncentrality(t, df, beta)?;
    let unit = line.residual_sd / line.slope.abs()
        * (1.0 / readings as f64
            + 1.0 / line.n as f64
            + line.mean_x * line.mean_x / line.sum_squares_x)
            .sqrt();
    let critical_value = cannot_say::computed("the critical value", t * unit)?;
    let minimum = cannot_say::computed("the minimum detectable value", delta * unit)?;
    let mut notes = vec![Note::new(
        "confirm-near-limit",
        "The limit rests on the scatter of the whole calibration, carried to zero.",
        "Confirm it with samples near the minimum detectable value.",
    )];
    if line.range_x.0 > minimum {
        notes.push(Note::new(
            "below-lowest-standard",
            format!(
                "The minimum detectable value {minimum:.6} lies below the lowest calibration point \
                 {}.",
                line.range_x.0
            ),
            "Add calibration points near the limit.",
        ));
    }
    Ok(DetectionLimit {
        critical_value,
        minimum_detectable_value: minimum,
        critical_reading: line.intercept + line.slope * critical_value,
        noncentrality: delta,
        alpha,
        beta,
        n: line.n,
        method: "ISO 11843-2, straight calibration line with constant scatter",

        assumptions: line.assumptions.clone(),
        notes,
    })
}

/// The `delta` for which the noncentral t falls below `t` with probability
/// `beta`.
fn noncentrality(t: f64, df: f64, beta: f64) -> Result<f64, CannotSay> {
    let mut high = 2.0 * t + 10.0;
    while noncentral_t::cumulative(t, df, high) > beta && high < 1e6 {
        high *= 2.0;
    }
    digits::roots::between(0.0, high, 1e-14, |delta| noncentral_t::cumulative(t, df, delta) - beta)
        .ok_or_else(|| CannotSay::Overflow { what: "the noncentrality".into() })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::regression::straight_line;

    #[test]
    fn about_twice_t() {
        let x: Vec<f64> = (0..12).map(f64::from).collect();
        let y: Vec<f64> =
            x.iter().map(|v| 2.0 * v + if *v as i64 % 2 == 0 { 0.1 } else { -0.1 }).collect();
        let line = straight_line(&x, &y).unwrap();
        let limit = detection_limit(&line, 1, 0.05, 0.05).unwrap();
        let ratio = limit.minimum_detectable_value / limit.critical_value;
        assert!((1.9..2.0).contains(&ratio), "{ratio}");
        assert!(detection_limit(&line, 1, 0.6, 0.05).is_err());
    }
}
