//! Straight line with known inverse variances as weights.

use super::least_squares::least_squares;
use crate::account::{Account, Counted};
use crate::cannot_say::{self, CannotSay};
use crate::distributions::student_t;
use crate::note::{Assumption, Note};
use digits::sums;

/// A weighted straight line.
#[derive(Debug, Clone, PartialEq)]
#[non_exhaustive]
pub struct WeightedLine {
    /// Intercept.
    pub intercept: f64,
    /// Slope.
    pub slope: f64,
    /// Standard errors of intercept and slope.
    pub standard_errors: (f64, f64),
    /// Standard deviation of a residual of weight one.
    pub residual_sd: f64,
    /// Degrees of freedom.
    pub degrees_of_freedom: f64,
    /// Weighted mean of `x`.
    pub mean_x: f64,
    /// Weighted mean of `y`.
    pub mean_y: f64,
    /// Weighted sum of squared deviations of `x`.
    pub sum_squares_x: f64,
    /// Sum of the weights.
    pub total_weight: f64,
    /// Number of points.
    pub n: usize,
    /// Name of the method.
    pub method: &'static str,
    /// Assumptions with the outcome of their checks.
    pub assumptions: Vec<Assumption>,
    /// Remarks with next steps.
    pub notes: Vec<Note>,
}

impl Account for WeightedLine {
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

/// Fits a straight line with weights (inverse variances, up to a factor).
///
/// # Errors
/// As [`least_squares`]; fewer than three points.
pub fn weighted_line(x: &[f64], y: &[f64], weights: &[f64]) -> Result<WeightedLine, CannotSay> {
    cannot_say::at_least("points", 3, x.len())?;
    let fit = least_squares(&[vec![1.0; x.len()], x.to_vec()], y, Some(weights))?;
    let total = cannot_say::computed("the sum of weights", sums::sum(weights.iter().copied()))?;
    let centre = |v: &[f64]| sums::sum(weights.iter().zip(v).map(|(w, a)| w / total * a));
    let mean_x = cannot_say::computed("the mean of x", centre(x))?;
    let mean_y = cannot_say::computed("the mean of y", centre(y))?;
    let spread = weights.iter().zip(x).map(|(w, a)| w * (a - mean_x) * (a - mean_x));
    let sum_squares_x = cannot_say::computed("the spread of x", sums::sum(spread))?;
    // Residuals of weight one: these share one scatter if the weights are right.
    let weighted: Vec<f64> = fit.residuals.iter().zip(weights).map(|(r, w)| r * w.sqrt()).collect();
    Ok(WeightedLine {
        intercept: fit.coefficients[0],
        slope: fit.coefficients[1],
        standard_errors: (fit.standard_errors[0], fit.standard_errors[1]),
        residual_sd: fit.residual_sd,
        degrees_of_freedom: fit.degrees_of_freedom,
        mean_x,
        mean_y,
        sum_squares_x,
        total_weight: total,
        n: x.len(),
        method: "weighted straight line, weights as inverse variances",

        assumptions: super::straight_line::residual_checks(&weighted),
        notes: vec![Note::new(
            "weights-as-given",
            "The weights were taken as known; weights estimated from few repeats are themselves \
             uncertain.",
            "Model the variance over the range rather than level by level.",
        )],
    })
}

impl WeightedLine {
    /// The `x` behind a reading `y` whose own weight is given, with Fieller's
    /// interval.
    ///
    /// # Errors
    /// A slope that cannot be told from zero; values that are not finite.
    pub fn inverse(
        &self,
        y: f64,
        weight: f64,
        confidence: f64,
    ) -> Result<(f64, f64, f64), CannotSay> {
        cannot_say::finite("y", y)?;
        cannot_say::positive("the weight of the reading", weight)?;
        cannot_say::open_probability("confidence", confidence)?;
        let t = student_t::quantile(0.5 + 0.5 * confidence, self.degrees_of_freedom);
        let ratio = t * self.standard_errors.1 / self.slope;
        let g = ratio * ratio;
        if !(g < 1.0) {
            return Err(CannotSay::not_determined(
                "the slope cannot be told from zero",
                "Add calibration points further apart.",
            ));
        }
        let distance = (y - self.mean_y) / self.slope;
        let k = 1.0 / weight + 1.0 / self.total_weight;
        let root = t * self.residual_sd / self.slope.abs()
            * (k * (1.0 - g) + distance * distance / self.sum_squares_x).sqrt()
            / (1.0 - g);
        let middle = self.mean_x + distance / (1.0 - g);
        Ok((
            cannot_say::computed("the estimate", self.mean_x + distance)?,
            cannot_say::computed("the lower limit", middle - root)?,
            cannot_say::computed("the upper limit", middle + root)?,
        ))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn equal_weights_are_the_plain_line() {
        let (x, y) = ([0.0, 1.0, 2.0, 3.0], [1.0, 3.0, 4.0, 8.0]);
        let weighted = weighted_line(&x, &y, &[2.0; 4]).unwrap();
        let plain = crate::regression::straight_line(&x, &y).unwrap();
        assert!((weighted.slope - plain.slope).abs() < 1e-14);
        let (a, low, high) = weighted.inverse(5.0, 2.0, 0.95).unwrap();
        let other = plain.inverse(5.0, 1, 0.95).unwrap();
        assert!((a - other.x).abs() < 1e-13);
        assert!((low - other.lower).abs() < 1e-11 && (high - other.upper).abs() < 1e-11);
    }
}
