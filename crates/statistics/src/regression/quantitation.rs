//! Limits by convention, and the limit of quantitation.

use super::straight_line::{Prediction, StraightLine};
use crate::account::{Account, Counted};
use crate::cannot_say::{self, CannotSay};
use crate::distributions::student_t;
use crate::note::{Assumption, Note};

/// Limits of the convention `3.3 s/b` and `10 s/b`.
#[derive(Debug, Clone, PartialEq)]
#[non_exhaustive]
pub struct ConventionalLimits {
    /// `3.3 s / |b|`.
    pub detection: f64,
    /// `10 s / |b|`.
    pub quantitation: f64,
    /// Number of calibration points.
    pub n: usize,
    /// Name of the method.
    pub method: &'static str,
    /// Assumptions with the outcome of their checks.
    pub assumptions: Vec<Assumption>,
    /// Remarks with next steps.
    pub notes: Vec<Note>,
}

impl Account for ConventionalLimits {
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

fn refuse_flat(line: &StraightLine) -> Result<(), CannotSay> {
    if line.slope_p_value() > 0.05 {
        return Err(CannotSay::not_determined(
            "the slope of the calibration cannot be told from zero",
            "Add calibration points further apart.",
        ));
    }
    Ok(())
}

/// Limits of ICH Q2(R2) from the residual scatter of a line.
///
/// # Errors
/// A slope that cannot be told from zero.
pub fn conventional_limits(line: &StraightLine) -> Result<ConventionalLimits, CannotSay> {
    refuse_flat(line)?;
    let unit = line.residual_sd / line.slope.abs();
    Ok(ConventionalLimits {
        detection: cannot_say::computed("the detection limit", 3.3 * unit)?,
        quantitation: cannot_say::computed("the quantitation limit", 10.0 * unit)?,
        n: line.n,
        method: "3.3 s/b and 10 s/b (ICH Q2(R2) convention)",

        assumptions: line.assumptions.clone(),
        notes: vec![Note::new(
            "convention-only",
            "The convention states no error probabilities; scatter taken from the high end of a \
             fan-shaped calibration inflates it.",
            "Confirm with samples near the limit, and prefer the minimum detectable value.",
        )],
    })
}

/// Critical and detection limit with a fixed factor of two, after DIN 32645
/// and Currie's approximation: critical `t u`, detection `2 t u`.
///
/// # Errors
/// A slope that cannot be told from zero, `alpha` outside 0 to 1/2.
pub fn doubled_critical_value(
    line: &StraightLine,
    readings: usize,
    alpha: f64,
) -> Result<(f64, f64), CannotSay> {
    refuse_flat(line)?;
    cannot_say::at_least("readings", 1, readings)?;
    if !(alpha > 0.0 && alpha < 0.5) {
        return Err(CannotSay::OutOfRange {
            what: "alpha".into(),
            value: alpha,
            allowed: "a probability between 0 and 0.5".into(),
        });
    }
    let t = -student_t::quantile(alpha, line.degrees_of_freedom);
    let share = 1.0 / readings as f64
        + 1.0 / line.n as f64
        + line.mean_x * line.mean_x / line.sum_squares_x;
    let critical = t * line.residual_sd / line.slope.abs() * share.sqrt();
    Ok((
        cannot_say::computed("the critical value", critical)?,
        cannot_say::computed("the detection limit", 2.0 * critical)?,
    ))
}

/// Smallest `x` whose relative half width of the inverse interval is `1/k`
/// (DIN 32645).
///
/// # Errors
/// A slope that cannot be told from zero; `alpha` outside 0 to 1, `k` not above
/// zero; no such `x` within a thousand times the calibrated range.
pub fn quantitation_limit(
    line: &StraightLine,
    readings: usize,
    k: f64,
    alpha: f64,
) -> Result<f64, CannotSay> {
    refuse_flat(line)?;
    cannot_say::at_least("readings", 1, readings)?;
    cannot_say::positive("k", k)?;
    cannot_say::open_probability("alpha", alpha)?;
    let t = -student_t::quantile(0.5 * alpha, line.degrees_of_freedom);
    let excess = |x: f64| {
        let share = 1.0 / readings as f64
            + 1.0 / line.n as f64
            + (x - line.mean_x) * (x - line.mean_x) / line.sum_squares_x;
        x - k * t * line.residual_sd / line.slope.abs() * share.sqrt()
    };
    let top = line.range_x.1.abs().max(line.range_x.0.abs());
    let mut high = 1e-3 * top;
    while excess(high) < 0.0 {
        high *= 2.0;
        if high > 1e3 * top {
            return Err(CannotSay::not_determined(
                format!("no value reaches a relative half width of 1/{k}"),
                "Reduce the scatter or add calibration points.",
            ));
        }
    }
    digits::roots::between(0.0, high, 0.0, excess)
        .ok_or_else(|| CannotSay::Overflow { what: "the quantitation limit".into() })
}

/// Reciprocal of the slope with its interval: a volume, where the slope is a
/// pressure rise rate per flow.
///
/// # Errors
/// A slope that cannot be told from zero at this confidence.
pub fn reciprocal_slope(line: &StraightLine, confidence: f64) -> Result<Prediction, CannotSay> {
    let slope = line.slope_interval(confidence)?;
    if slope.lower <= 0.0 && slope.upper >= 0.0 {
        return Err(CannotSay::not_determined(
            "the slope cannot be told from zero, so its reciprocal has no bound",
            "Add calibration points further apart.",
        ));
    }
    let value = cannot_say::computed("the reciprocal", 1.0 / slope.value)?;
    Ok(Prediction { value, lower: 1.0 / slope.upper, upper: 1.0 / slope.lower })
}
