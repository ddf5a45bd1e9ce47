//! Straight lines with errors on both axes.

use crate::account::{Account, Counted};
use crate::assumptions::about_line;
use crate::cannot_say::{self, CannotSay};
use crate::note::{Assumption, Note};
use digits::sums;

/// A line with errors on both axes.
#[derive(Debug, Clone, PartialEq)]
#[non_exhaustive]
pub struct BothAxes {
    /// Intercept.
    pub intercept: f64,
    /// Slope.
    pub slope: f64,
    /// Standard errors of intercept and slope; jackknife for Deming, from the
    /// given variances for York.
    pub standard_errors: (f64, f64),
    /// Weighted sum of squared distances (York), or of squares across the line
    /// (Deming).
    pub sum_of_squares: f64,
    /// Number of points.
    pub n: usize,
    /// Name of the method.
    pub method: &'static str,
    /// Assumptions with the outcome of their checks.
    pub assumptions: Vec<Assumption>,
    /// Remarks with next steps.
    pub notes: Vec<Note>,
}

impl Account for BothAxes {
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

/// Checks on the distances from the line, each over its error, in the order of
/// the places along the line; `errors` is the check of the stated errors.
fn checks(places: &[f64], distances: &[f64], errors: Assumption) -> Vec<Assumption> {
    let along = about_line::along(places, distances);
    vec![
        errors,
        about_line::straight("a straight relation over the whole range", &along),
        about_line::even_scatter("scatter over its error the same along the line", &along),
        crate::assumptions::normal("normal distances from the line", distances),
        Assumption::unchecked(
            "points independent of each other",
            "from the plan",
            "repeated readings of one unit are not points",
        ),
    ]
}

fn check(x: &[f64], y: &[f64]) -> Result<(), CannotSay> {
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
    cannot_say::all_finite("y values", y)
}

/// Intercept and slope of Deming's line.
fn deming_line(x: &[f64], y: &[f64], ratio: f64) -> Result<(f64, f64, f64), CannotSay> {
    let (mx, my) = (sums::mean(x).unwrap_or(0.0), sums::mean(y).unwrap_or(0.0));
    let sxx = sums::sum(x.iter().map(|a| (a - mx) * (a - mx)));
    let syy = sums::sum(y.iter().map(|b| (b - my) * (b - my)));
    let sxy = sums::sum(x.iter().zip(y).map(|(a, b)| (a - mx) * (b - my)));
    if sxy == 0.0 {
        return Err(CannotSay::not_determined(
            "x and y do not move together, so the line has no direction",
            "Check whether the pairs belong together.",
        ));
    }
    let difference = syy - ratio * sxx;
    let root = (difference * difference + 4.0 * ratio * sxy * sxy).sqrt();
    // The form without cancellation on either side.
    let slope = if difference >= 0.0 {
        (difference + root) / (2.0 * sxy)
    } else {
        2.0 * ratio * sxy / (root - difference)
    };
    let slope = cannot_say::computed("the slope", slope)?;
    let across = (syy - 2.0 * slope * sxy + slope * slope * sxx) / (1.0 + slope * slope / ratio);
    Ok((my - slope * mx, slope, across))
}

/// Deming's line for a known ratio of the error variance of `y` to that of
/// `x`. Standard errors by the jackknife.
///
/// Source: W. E. Deming (1943); K. Linnet, Clin. Chem. 39 (1993) 424.
///
/// # Errors
/// Lists of unequal length, fewer than three points, values that are not
/// finite, a ratio that is not positive, no common movement.
pub fn deming(x: &[f64], y: &[f64], ratio: f64) -> Result<BothAxes, CannotSay> {
    check(x, y)?;
    cannot_say::positive("the ratio of variances", ratio)?;
    let (intercept, slope, across) = deming_line(x, y, ratio)?;
    let n = x.len() as f64;
    let mut pseudo = (Vec::new(), Vec::new());
    for left_out in 0..x.len() {
        let drop = |v: &[f64]| {
            let mut rest = v.to_vec();
            rest.remove(left_out);
            rest
        };
        if let Ok((a, b, _)) = deming_line(&drop(x), &drop(y), ratio) {
            pseudo.0.push(n * intercept - (n - 1.0) * a);
            pseudo.1.push(n * slope - (n - 1.0) * b);
        }
    }
    let error = |values: &[f64]| sums::standard_deviation(values).unwrap_or(0.0) / n.sqrt();
    // Places on the line, and distances from it, in units of the errors.
    let rest = |a: f64, b: f64| b - intercept - slope * a;
    let places: Vec<f64> = x
        .iter()
        .zip(y)
        .map(|(a, b)| a + slope / ratio * rest(*a, *b) / (1.0 + slope * slope / ratio))
        .collect();
    let distances: Vec<f64> = x.iter().zip(y).map(|(a, b)| rest(*a, *b)).collect();
    let errors = Assumption::unchecked(
        "errors of both axes as stated",
        "repeats of both sides",
        "the scatter about the line gives their size and not their ratio",
    );
    Ok(BothAxes {
        intercept: cannot_say::computed("the intercept", intercept)?,
        slope,
        standard_errors: (
            cannot_say::computed("a standard error", error(&pseudo.0))?,
            cannot_say::computed("a standard error", error(&pseudo.1))?,
        ),
        sum_of_squares: cannot_say::computed("the sum of squares", across)?,
        n: x.len(),
        method: "Deming's line, jackknife errors",
        assumptions: checks(&places, &distances, errors),
        notes: vec![Note::new(
            "ratio-as-given",
            format!("The ratio of error variances, {ratio}, was taken as known."),
            "Estimate it from repeated readings of both methods.",
        )],
    })
}

/// York's line for points with their own weights (inverse variances) on both
/// axes, errors uncorrelated.
///
/// Source: D. York and others, Am. J. Phys. 72 (2004) 367.
///
/// # Errors
/// As [`deming`]; weights that are not positive; no convergence.
pub fn york(
    x: &[f64],
    y: &[f64],
    weights_x: &[f64],
    weights_y: &[f64],
) -> Result<BothAxes, CannotSay> {
    check(x, y)?;
    for weights in [weights_x, weights_y] {
        if weights.len() != x.len() {
            return Err(CannotSay::LengthsDiffer {
                left: "points".into(),
                left_count: x.len(),
                right: "weights".into(),
                right_count: weights.len(),
            });
        }
        for w in weights {
            cannot_say::positive("a weight", *w)?;
        }
    }
    let mut slope = crate::regression::straight_line(x, y)?.slope;
    let weight = |slope: f64| -> Vec<f64> {
        weights_x
            .iter()
            .zip(weights_y)
            .map(|(wx, wy)| wx * wy / (wx + slope * slope * wy))
            .collect()
    };
    let centre = |w: &[f64], v: &[f64]| {
        sums::sum(w.iter().zip(v).map(|(w, a)| w * a)) / sums::sum(w.iter().copied())
    };
    for _ in 0..2000 {
        let w = weight(slope);
        let (mx, my) = (centre(&w, x), centre(&w, y));
        let beta: Vec<f64> = (0..x.len())
            .map(|i| w[i] * ((x[i] - mx) / weights_y[i] + slope * (y[i] - my) / weights_x[i]))
            .collect();
        let top = sums::sum((0..x.len()).map(|i| w[i] * beta[i] * (y[i] - my)));
        let bottom = sums::sum((0..x.len()).map(|i| w[i] * beta[i] * (x[i] - mx)));
        let next = cannot_say::computed("the slope", top / bottom)?;
        let done = (next - slope).abs() <= 1e-15 * next.abs();
        slope = next;
        if done {
            break;
        }
    }
    let w = weight(slope);
    let total = sums::sum(w.iter().copied());
    let (mx, my) = (centre(&w, x), centre(&w, y));
    let intercept = cannot_say::computed("the intercept", my - slope * mx)?;
    let adjusted: Vec<f64> = (0..x.len())
        .map(|i| mx + w[i] * ((x[i] - mx) / weights_y[i] + slope * (y[i] - my) / weights_x[i]))
        .collect();
    let middle = centre(&w, &adjusted);
    let spread =
        sums::sum((0..x.len()).map(|i| w[i] * (adjusted[i] - middle) * (adjusted[i] - middle)));
    let slope_variance = 1.0 / spread;
    let sum = sums::sum((0..x.len()).map(|i| {
        let rest = y[i] - intercept - slope * x[i];
        w[i] * rest * rest
    }));
    let mut notes = Vec::new();
    let df = x.len() as f64 - 2.0;
    let p = crate::distributions::chi_squared::survival(sum, df);
    let distances: Vec<f64> =
        (0..x.len()).map(|i| w[i].sqrt() * (y[i] - intercept - slope * x[i])).collect();
    let errors = Assumption::tested(
        "errors of both axes as stated",
        "scatter against the stated errors, chi-squared",
        p.min(1.0),
        0.05,
        format!("S = {sum:.3} on {df} degrees of freedom, p = {p:.4}."),
    );
    if p < 0.05 {
        notes.push(Note::new(
            "scatter-beyond-errors",
            format!("The points scatter more than their stated errors (S {sum:.2}, p {p:.4})."),
            "Look for an error left out, or for curvature.",
        ));
    }
    Ok(BothAxes {
        intercept,
        slope,
        standard_errors: (
            cannot_say::computed(
                "a standard error",
                (1.0 / total + middle * middle * slope_variance).sqrt(),
            )?,
            cannot_say::computed("a standard error", slope_variance.sqrt())?,
        ),
        sum_of_squares: sum,
        n: x.len(),
        method: "York's line, weights on both axes",
        assumptions: checks(&adjusted, &distances, errors),
        notes,
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn exchanging_the_axes_inverts_the_line() {
        let (x, y) = ([1.0, 2.0, 3.0, 4.5], [2.2, 3.9, 6.3, 8.8]);
        let one = deming(&x, &y, 1.0).unwrap();
        let other = deming(&y, &x, 1.0).unwrap();
        assert!((one.slope * other.slope - 1.0).abs() < 1e-13);
        let york_line = york(&x, &y, &[1.0; 4], &[1.0; 4]).unwrap();
        assert!((york_line.slope - one.slope).abs() < 1e-10);
        assert!(deming(&x, &y, 0.0).is_err());
    }

    /// Positive controls: a bend, a fan and errors stated too small are seen;
    /// a straight line with the errors stated is not accused.
    #[test]
    fn checks_see_what_is_planted() {
        let mut stream = digits::RandomStream::new(4, 9);
        let truth: Vec<f64> = (0..80).map(|i| 1.0 + 0.1 * f64::from(i)).collect();
        let x: Vec<f64> = truth.iter().map(|t| t + 0.1 * stream.normal()).collect();
        let noise: Vec<f64> = truth.iter().map(|_| 0.1 * stream.normal()).collect();
        let line = |bend: f64, fan: f64| -> Vec<f64> {
            truth
                .iter()
                .zip(&noise)
                .map(|(t, e)| 2.0 * t + bend * (t - 5.0) * (t - 5.0) + e * (1.0 + fan * (t - 1.0)))
                .collect()
        };
        let failed = |fit: &BothAxes| -> Vec<&str> {
            let broken = |check: &&Assumption| check.held == Some(false);
            fit.assumptions.iter().filter(broken).map(|check| check.name).collect()
        };
        let by_york = |y: &[f64], weight: f64| york(&x, y, &[weight; 80], &[weight; 80]).unwrap();
        let straight = line(0.0, 0.0);
        assert!(failed(&by_york(&straight, 100.0)).is_empty());
        assert!(failed(&deming(&x, &straight, 1.0).unwrap()).is_empty());
        assert!(failed(&by_york(&straight, 400.0)).contains(&"errors of both axes as stated"));
        let bent = line(0.1, 0.0);
        let bend = "a straight relation over the whole range";
        assert!(failed(&by_york(&bent, 100.0)).contains(&bend));
        assert!(failed(&deming(&x, &bent, 1.0).unwrap()).contains(&bend));
        let fan = deming(&x, &line(0.0, 3.0), 1.0).unwrap();
        let even = "scatter over its error the same along the line";
        assert!(failed(&fan).contains(&even), "{:?}", fan.assumptions);
    }
}
