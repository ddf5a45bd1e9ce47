//! Ordinary least squares of a straight line.
//!
//! Source: N. R. Draper and H. Smith, Applied Regression Analysis, chapters 1
//! to 3 (from memory).

use crate::account::{Account, Counted};
use crate::cannot_say::{self, CannotSay};
use crate::distributions::student_t;
use crate::note::{Assumption, Note};
use digits::sums;

/// A fitted straight line `y = intercept + slope x`.
#[derive(Debug, Clone, PartialEq)]
#[non_exhaustive]
pub struct StraightLine {
    /// Intercept, in the unit of `y`.
    pub intercept: f64,
    /// Slope, in the unit of `y` over that of `x`.
    pub slope: f64,
    /// Standard error of the intercept.
    pub intercept_standard_error: f64,
    /// Standard error of the slope.
    pub slope_standard_error: f64,
    /// Standard deviation of the residuals, `n - 2` degrees of freedom.
    pub residual_sd: f64,
    /// Number of points.
    pub n: usize,
    /// Degrees of freedom of the residuals.
    pub degrees_of_freedom: f64,
    /// Mean of `x`.
    pub mean_x: f64,
    /// Mean of `y`.
    pub mean_y: f64,
    /// Sum of squared deviations of `x`.
    pub sum_squares_x: f64,
    /// Smallest and largest `x`.
    pub range_x: (f64, f64),
    /// Name of the method.
    pub method: &'static str,
    /// Assumptions with the outcome of their checks.
    pub assumptions: Vec<Assumption>,
    /// Remarks with next steps.
    pub notes: Vec<Note>,
}

impl Account for StraightLine {
    fn method(&self) -> &str {
        self.method
    }

    fn counted(&self) -> Counted {
        Counted::of(self.n, "points")
    }

    fn assumptions(&self) -> Vec<Assumption> {
        self.assumptions.clone()
    }

    fn notes(&self) -> Vec<Note> {
        self.notes.clone()
    }
}

/// A value with its interval.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Prediction {
    /// Value on the line.
    pub value: f64,
    /// Lower end.
    pub lower: f64,
    /// Upper end.
    pub upper: f64,
}

/// The `x` behind an observed `y`.
#[derive(Debug, Clone, PartialEq)]
#[non_exhaustive]
pub struct InversePrediction {
    /// Estimate `(y - intercept) / slope`.
    pub x: f64,
    /// Lower end of Fieller's interval.
    pub lower: f64,
    /// Upper end of Fieller's interval.
    pub upper: f64,
    /// Half width by the delta method, for comparison with other programs.
    pub classical_half_width: f64,
    /// Fieller's `g`; the interval is finite for `g < 1` only.
    pub g: f64,
    /// Name of the method.
    pub method: &'static str,
    /// Number of calibration points.
    pub n: usize,
    /// Assumptions with the outcome of their checks.
    pub assumptions: Vec<Assumption>,
    /// Remarks with next steps.
    pub notes: Vec<Note>,
}

impl Account for InversePrediction {
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

/// Fits a straight line by ordinary least squares.
///
/// # Errors
/// Lists of unequal length, fewer than three points, values that are not
/// finite, or `x` values that do not vary.
pub fn straight_line(x: &[f64], y: &[f64]) -> Result<StraightLine, CannotSay> {
    if x.len() != y.len() {
        return Err(CannotSay::LengthsDiffer {
            left: "x values".into(),
            left_count: x.len(),
            right: "y values".into(),
            right_count: y.len(),
        });
    }
    cannot_say::at_least("points", 3, x.len())?;
    cannot_say::all_finite("x values", x)?;
    cannot_say::all_finite("y values", y)?;
    let mean_x = cannot_say::computed("the mean of x", sums::mean(x).unwrap_or(f64::NAN))?;
    let mean_y = cannot_say::computed("the mean of y", sums::mean(y).unwrap_or(f64::NAN))?;
    let sxx = sums::sum(x.iter().map(|v| (v - mean_x) * (v - mean_x)));
    if sxx == 0.0 {
        return Err(CannotSay::NoSpread { what: "the x values".into() });
    }
    let sxx = cannot_say::computed("the spread of x", sxx)?;
    let sxy = sums::sum(x.iter().zip(y).map(|(a, b)| (a - mean_x) * (b - mean_y)));
    let slope = cannot_say::computed("the slope", sxy / sxx)?;
    let residuals: Vec<f64> =
        x.iter().zip(y).map(|(a, b)| (b - mean_y) - slope * (a - mean_x)).collect();
    let rss = sums::sum(residuals.iter().map(|r| r * r));
    let n = x.len() as f64;
    let df = n - 2.0;
    let variance = cannot_say::computed("the residual variance", rss / df)?;
    let mut notes = Vec::new();
    if x.len() < 5 {
        notes.push(Note::new(
            "few-points",
            format!("{} points leave {df} degrees of freedom for the scatter.", x.len()),
            "Add points or repeats.",
        ));
    }
    Ok(StraightLine {
        intercept: cannot_say::computed("the intercept", mean_y - slope * mean_x)?,
        slope,
        intercept_standard_error: cannot_say::computed(
            "a standard error",
            (variance * (1.0 / n + mean_x * mean_x / sxx)).sqrt(),
        )?,
        slope_standard_error: cannot_say::computed("a standard error", (variance / sxx).sqrt())?,
        residual_sd: variance.sqrt(),
        n: x.len(),
        degrees_of_freedom: df,
        mean_x,
        mean_y,
        sum_squares_x: sxx,
        range_x: x.iter().fold((x[0], x[0]), |(low, high), v| (low.min(*v), high.max(*v))),
        method: "ordinary least squares, straight line",

        assumptions: residual_checks(&residuals),
        notes,
    })
}

/// Shape and order of residuals; what they cannot show is named.
pub(crate) fn residual_checks(residuals: &[f64]) -> Vec<Assumption> {
    vec![
        crate::assumptions::normal("normal residuals", residuals),
        crate::assumptions::independent("residuals independent in the order given", residuals),
        Assumption::unchecked(
            "a straight line over the whole range",
            "lack of fit",
            "repeats at one place are needed; test lack of fit where there are some",
        ),
    ]
}

impl StraightLine {
    fn t(&self, confidence: f64) -> Result<f64, CannotSay> {
        cannot_say::open_probability("confidence", confidence)?;
        Ok(student_t::quantile(0.5 + 0.5 * confidence, self.degrees_of_freedom))
    }

    fn around(&self, x: f64, extra: f64, confidence: f64) -> Result<Prediction, CannotSay> {
        cannot_say::finite("x", x)?;
        let value = self.mean_y + self.slope * (x - self.mean_x);
        let share = extra
            + 1.0 / self.n as f64
            + (x - self.mean_x) * (x - self.mean_x) / self.sum_squares_x;
        let half = self.t(confidence)? * self.residual_sd * share.sqrt();
        cannot_say::computed("the interval", half + value.abs())?;
        Ok(Prediction { value, lower: value - half, upper: value + half })
    }

    /// Confidence interval of the slope.
    ///
    /// # Errors
    /// A confidence outside 0 to 1.
    pub fn slope_interval(&self, confidence: f64) -> Result<Prediction, CannotSay> {
        let half = self.t(confidence)? * self.slope_standard_error;
        Ok(Prediction { value: self.slope, lower: self.slope - half, upper: self.slope + half })
    }

    /// Confidence interval of the line at `x`.
    ///
    /// # Errors
    /// `x` not finite; a confidence outside 0 to 1.
    pub fn mean_at(&self, x: f64, confidence: f64) -> Result<Prediction, CannotSay> {
        self.around(x, 0.0, confidence)
    }

    /// Prediction interval of the mean of `readings` future readings at `x`.
    ///
    /// # Errors
    /// As [`Self::mean_at`]; no reading.
    pub fn reading_at(
        &self,
        x: f64,
        readings: usize,
        confidence: f64,
    ) -> Result<Prediction, CannotSay> {
        cannot_say::at_least("readings", 1, readings)?;
        self.around(x, 1.0 / readings as f64, confidence)
    }

    /// Probability of so steep a slope if there were none.
    #[must_use]
    pub fn slope_p_value(&self) -> f64 {
        if self.slope_standard_error == 0.0 {
            return if self.slope == 0.0 { 1.0 } else { 0.0 };
        }
        2.0 * student_t::cumulative(
            -(self.slope / self.slope_standard_error).abs(),
            self.degrees_of_freedom,
        )
    }

    /// The `x` behind the mean `y` of `readings` readings, by Fieller.
    ///
    /// # Errors
    /// Refused when the slope cannot be told from zero at this confidence:
    /// the interval would be the whole axis.
    pub fn inverse(
        &self,
        y: f64,
        readings: usize,
        confidence: f64,
    ) -> Result<InversePrediction, CannotSay> {
        cannot_say::finite("y", y)?;
        cannot_say::at_least("readings", 1, readings)?;
        let t = self.t(confidence)?;
        let ratio = t * self.slope_standard_error / self.slope;
        let g = ratio * ratio;
        if !(g < 1.0) {
            return Err(CannotSay::not_determined(
                format!(
                    "the slope ({:.6}) cannot be told from zero at {:.0} % confidence",
                    self.slope,
                    100.0 * confidence
                ),
                "Add calibration points further apart.",
            ));
        }
        let distance = (y - self.mean_y) / self.slope;
        let x = self.mean_x + distance;
        let k = 1.0 / readings as f64 + 1.0 / self.n as f64;
        let scale = t * self.residual_sd / self.slope.abs();
        let root =
            scale * (k * (1.0 - g) + distance * distance / self.sum_squares_x).sqrt() / (1.0 - g);
        let middle = self.mean_x + distance / (1.0 - g);
        let classical = scale * (k + distance * distance / self.sum_squares_x).sqrt();
        let mut notes = Vec::new();
        if x < self.range_x.0 || x > self.range_x.1 {
            notes.push(Note::new(
                "extrapolated",
                format!(
                    "The result {x:.6} lies outside the calibrated range {} to {}.",
                    self.range_x.0, self.range_x.1
                ),
                "Calibrate at that level.",
            ));
        }
        Ok(InversePrediction {
            x: cannot_say::computed("the estimate", x)?,
            lower: cannot_say::computed("the lower limit", middle - root)?,
            upper: cannot_say::computed("the upper limit", middle + root)?,
            classical_half_width: cannot_say::computed("the half width", classical)?,
            g,
            method: "inverse prediction from a straight line, Fieller interval",

            n: self.n,
            assumptions: self.assumptions.clone(),
            notes,
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn three_points_by_hand() {
        // y = 1, 3, 8 at x = 0, 1, 2: slope 3.5, intercept 0.5, residuals
        // 0.5, -1, 0.5, residual variance 1.5.
        let line = straight_line(&[0.0, 1.0, 2.0], &[1.0, 3.0, 8.0]).unwrap();
        assert!((line.slope - 3.5).abs() < 1e-15);
        assert!((line.intercept - 0.5).abs() < 1e-15);
        assert!((line.residual_sd - 1.5_f64.sqrt()).abs() < 1e-15);
    }

    #[test]
    fn refusals() {
        assert!(straight_line(&[1.0, 1.0, 1.0], &[1.0, 2.0, 3.0]).is_err());
        assert!(straight_line(&[1.0, 2.0], &[1.0, 2.0]).is_err());
        assert!(straight_line(&[1.0, 2.0, 3.0], &[1.0, 2.0]).is_err());
        assert!(straight_line(&[1e308, -1e308, 0.0], &[1.0, 2.0, 3.0]).is_err());
        let flat = straight_line(&[0.0, 1.0, 2.0, 3.0], &[1.0, 2.0, 2.0, 1.0]).unwrap();
        assert!(flat.inverse(1.5, 1, 0.95).is_err());
    }

    #[test]
    fn an_exact_line_has_no_width() {
        let line = straight_line(&[0.0, 1.0, 2.0], &[1.0, 3.0, 5.0]).unwrap();
        let back = line.inverse(4.0, 1, 0.95).unwrap();
        assert!((back.x - 1.5).abs() < 1e-15 && back.upper - back.lower < 1e-12);
    }
}
