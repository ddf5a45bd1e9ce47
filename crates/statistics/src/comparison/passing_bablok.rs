//! Line through two methods by ranks of the pairwise slopes.

use crate::account::{Account, Counted};
use crate::assumptions::about_line;
use crate::cannot_say::{self, CannotSay};
use crate::distributions::normal;
use crate::note::{Assumption, Note};

/// A line by ranks.
#[derive(Debug, Clone, PartialEq)]
#[non_exhaustive]
pub struct RankLine {
    /// Intercept, the median of `y - slope x`.
    pub intercept: f64,
    /// Slope, the shifted median of the pairwise slopes.
    pub slope: f64,
    /// Confidence interval of the slope.
    pub slope_interval: (f64, f64),
    /// Interval of the intercept that goes with it.
    pub intercept_interval: (f64, f64),
    /// Number of points.
    pub n: usize,
    /// Name of the method.
    pub method: &'static str,
    /// Assumptions with the outcome of their checks.
    pub assumptions: Vec<Assumption>,
    /// Remarks with next steps.
    pub notes: Vec<Note>,
}

impl Account for RankLine {
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

/// Checks about the line, units in the order of their places along it.
fn checks(x: &[f64], y: &[f64], intercept: f64, slope: f64) -> Vec<Assumption> {
    let places: Vec<f64> = x.iter().zip(y).map(|(a, b)| a + (b - intercept) / slope).collect();
    let rest: Vec<f64> = x.iter().zip(y).map(|(a, b)| b - intercept - slope * a).collect();
    vec![
        about_line::running_signs(
            "a straight relation over the whole range",
            &about_line::along(&places, &rest),
        ),
        Assumption::unchecked(
            "scatter of both sides in constant proportion",
            "repeats of both sides at several levels",
            "one reading of each side does not show it",
        ),
        Assumption::unchecked(
            "units independent of each other",
            "from the plan",
            "numbers do not show it; state how the units were drawn",
        ),
    ]
}

fn median(mut values: Vec<f64>) -> f64 {
    values.sort_by(f64::total_cmp);
    let n = values.len();
    if n % 2 == 1 { values[n / 2] } else { 0.5 * (values[n / 2 - 1] + values[n / 2]) }
}

/// Passing and Bablok's line.
///
/// Source: H. Passing and W. Bablok, J. Clin. Chem. Clin. Biochem. 21 (1983)
/// 709: slopes of all pairs, those of exactly -1 left out, the median shifted
/// by the number below -1. Exchanging the axes inverts the slope.
///
/// # Errors
/// Lists of unequal length, fewer than five or more than 3000 points, values
/// that are not finite, a confidence outside 0 to 1, no usable slope.
pub fn passing_bablok(x: &[f64], y: &[f64], confidence: f64) -> Result<RankLine, CannotSay> {
    cannot_say::open_probability("confidence", confidence)?;
    super::agreement::differences(x, y)?;
    cannot_say::at_least("points", 5, x.len())?;
    if x.len() > 3000 {
        return Err(CannotSay::OutOfRange {
            what: "the number of points".into(),
            value: x.len() as f64,
            allowed: "at most 3000 points".into(),
        });
    }
    let n = x.len();
    let mut slopes = Vec::with_capacity(n * (n - 1) / 2);
    for i in 0..n {
        for j in i + 1..n {
            let (dx, dy) = (x[j] - x[i], y[j] - y[i]);
            if dx == 0.0 && dy == 0.0 {
                continue;
            }
            let slope = if dx == 0.0 { f64::INFINITY.copysign(dy) } else { dy / dx };
            if slope != -1.0 {
                slopes.push(slope);
            }
        }
    }
    cannot_say::at_least("pairs with a slope", 3, slopes.len())?;
    slopes.sort_by(f64::total_cmp);
    let m = slopes.len();
    let shift = slopes.iter().filter(|s| **s < -1.0).count();
    let at = |rank: i64| -> Result<f64, CannotSay> {
        // Rank counted from 1, shifted; beyond the ends no bound exists.
        let place = rank + shift as i64 - 1;
        let value = usize::try_from(place).ok().and_then(|p| slopes.get(p)).copied();
        match value {
            Some(v) if v.is_finite() => Ok(v),
            _ => Err(CannotSay::not_determined(
                "too few pairs bound the slope at this confidence",
                "Add units over a wider range.",
            )),
        }
    };
    let slope = if m % 2 == 1 {
        at((m as i64 + 1) / 2)?
    } else {
        0.5 * (at(m as i64 / 2)? + at(m as i64 / 2 + 1)?)
    };
    let count = n as f64;
    let c = normal::quantile(0.5 + 0.5 * confidence)
        * (count * (count - 1.0) * (2.0 * count + 5.0) / 18.0).sqrt();
    let low = (0.5 * (m as f64 - c)).round_ties_even() as i64;
    let high = m as i64 - low + 1;
    let (slope_low, slope_high) = (at(low)?, at(high)?);
    let intercept = |b: f64| median(x.iter().zip(y).map(|(a, v)| v - b * a).collect());
    let mut notes = Vec::new();
    if slope_low <= 1.0 && slope_high >= 1.0 {
        notes.push(Note::new(
            "slope-one-not-excluded",
            "A slope of one is not excluded. That is not proof of equality.",
            "Test equivalence against a margin fixed beforehand.",
        ));
    }
    let centre = cannot_say::computed("the intercept", intercept(slope))?;
    Ok(RankLine {
        intercept: centre,
        slope,
        slope_interval: (slope_low, slope_high),
        intercept_interval: (
            cannot_say::computed("the intercept", intercept(slope_high))?,
            cannot_say::computed("the intercept", intercept(slope_low))?,
        ),
        n,
        method: "Passing and Bablok's line",
        assumptions: checks(x, y, centre, slope),
        notes,
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_exact_line_and_its_inverse() {
        let x: Vec<f64> = (0..9).map(|i| f64::from(i) + f64::from(i % 3) * 0.2).collect();
        let y: Vec<f64> = x
            .iter()
            .enumerate()
            .map(|(i, v)| 1.0 + 2.0 * v + 0.3 * f64::from((i % 2) as u8))
            .collect();
        let one = passing_bablok(&x, &y, 0.95).unwrap();
        let other = passing_bablok(&y, &x, 0.95).unwrap();
        assert!((one.slope * other.slope - 1.0).abs() < 1e-12);
        assert!(passing_bablok(&x[..3], &y[..3], 0.95).is_err());
    }

    /// A straight relation is rejected no more often than stated, a bent one
    /// is caught.
    #[test]
    fn a_bend_is_seen() {
        let rejected = |bend: f64| {
            (0..200)
                .filter(|seed| {
                    let mut stream = digits::RandomStream::new(*seed, 2);
                    let (mut x, mut y) = (Vec::new(), Vec::new());
                    for i in 0..50 {
                        let t = 1.0 + 0.1 * f64::from(i);
                        x.push(t + 0.1 * stream.normal());
                        y.push(t + bend * (t - 3.5) * (t - 3.5) + 0.1 * stream.normal());
                    }
                    let line = passing_bablok(&x, &y, 0.95).unwrap();
                    line.assumptions[0].held == Some(false)
                })
                .count()
        };
        let (straight, bent) = (rejected(0.0), rejected(0.15));
        assert!(straight <= 12, "{straight}");
        assert!(bent >= 190, "{bent}");
    }
}
