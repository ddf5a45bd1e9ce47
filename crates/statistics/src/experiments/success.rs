//! Probability that one more run meets all criteria.
//!
//! A mean surface inside the limits says little: half of the runs on its edge
//! fail. The predictive distribution carries the scatter and the error of the
//! fit. Responses of the same runs scatter together: their residuals give the
//! correlation of a multivariate t. Source: J. J. Peterson, J. Qual. Technol.
//! 36 (2004) 139; unlike there each response keeps the degrees of freedom of
//! its own fit, so that it alone has the probability of its own prediction.

use super::joint_t::JointT;
use super::response_surface::{Surface, model_row};
use crate::account::{Account, Counted};
use crate::cannot_say::{self, CannotSay};
use crate::distributions::student_t;
use crate::note::{Assumption, Note};

/// A response with the limits it must keep.
#[derive(Debug, Clone)]
pub struct Criterion<'a> {
    /// The fitted surface.
    pub surface: &'a Surface,
    /// Lower limit, if any.
    pub lower: Option<f64>,
    /// Upper limit, if any.
    pub upper: Option<f64>,
}

/// Probability of success at one point.
#[derive(Debug, Clone, PartialEq)]
#[non_exhaustive]
pub struct Success {
    /// Probability that all criteria hold in one more run there.
    pub probability: f64,
    /// Probability of each criterion.
    pub each: Vec<f64>,
    /// Their product: what it would be without correlation.
    pub if_independent: f64,
    /// Correlation of the residuals, which the probability allows for; `None`
    /// for one criterion, or where the surfaces do not rest on the same runs.
    pub correlation: Option<Vec<Vec<f64>>>,
    /// Runs behind the surface with the fewest.
    pub fewest_runs: usize,
    /// Remarks with next steps.
    pub notes: Vec<Note>,
}

impl Success {
    /// Largest correlation of two responses, by absolute value.
    #[must_use]
    pub fn largest_correlation(&self) -> Option<f64> {
        let matrix = self.correlation.as_ref()?;
        (0..matrix.len())
            .flat_map(|i| (0..i).map(move |j| matrix[i][j]))
            .max_by(|a, b| a.abs().total_cmp(&b.abs()))
    }
}

impl Account for Success {
    fn method(&self) -> &str {
        match (&self.correlation, self.each.len()) {
            (Some(_), _) => {
                "multivariate Student's t about the fitted surfaces, correlation of the residuals"
            }
            (None, 1) => "Student's t about the fitted surface",
            (None, _) => "Student's t about each fitted surface, probabilities multiplied",
        }
    }

    fn counted(&self) -> Counted {
        Counted::of(self.fewest_runs, "runs behind the surface with the fewest")
    }

    fn assumptions(&self) -> Vec<Assumption> {
        let together = ("responses scatter together as stated", "correlation of the residuals");
        let mut list = vec![match (self.largest_correlation(), self.each.len()) {
            (Some(r), _) => Assumption::looked_at(
                together.0,
                together.1,
                true,
                format!(
                    "Residuals correlate by up to {r:.2}, which is taken into account; taken as \
                     independent the probability would be {:.3}.",
                    self.if_independent
                ),
            ),
            (None, 1) => Assumption::looked_at(
                together.0,
                together.1,
                true,
                "There is one response.".to_owned(),
            ),
            (None, _) => Assumption::unchecked(
                together.0,
                together.1,
                "the surfaces rest on different runs, and were taken as independent",
            ),
        }];
        list.push(Assumption::unchecked(
            "each surface holds at this point",
            "confirmation runs",
            "a prediction does not test itself",
        ));
        list
    }

    fn notes(&self) -> Vec<Note> {
        let mut notes = self.notes.clone();
        notes.push(Note::new(
            "confirm",
            "The probability is that of one more run, from the scatter about fitted \
                     surfaces.",
            "Confirm it with runs at the point chosen.",
        ));
        notes
    }
}

/// Residuals of the same runs under the same model: their correlation, with
/// the degrees of freedom.
fn correlation(criteria: &[Criterion<'_>]) -> Option<(Vec<Vec<f64>>, f64)> {
    let fits: Vec<_> = criteria.iter().map(|criterion| &criterion.surface.fit).collect();
    let first = fits.first().filter(|_| fits.len() > 1)?;
    // One design gives one covariance of the coefficients, but for the scatter.
    let unit = |fit: &crate::regression::least_squares::LinearFit| -> Vec<f64> {
        let square = fit.residual_sd * fit.residual_sd;
        fit.covariance.iter().flatten().map(|value| value / square).collect()
    };
    let design = unit(first);
    let largest = design.iter().fold(0.0_f64, |most, value| most.max(value.abs()));
    for fit in &fits {
        let other = unit(fit);
        let same = fit.n == first.n
            && fit.degrees_of_freedom == first.degrees_of_freedom
            && other.len() == design.len()
            && other.iter().zip(&design).all(|(a, b)| (a - b).abs() <= 1e-8 * largest);
        if !same {
            return None;
        }
    }
    // Scaled first, so that squares of tiny or huge residuals stay in range.
    let scaled: Vec<Vec<f64>> = fits
        .iter()
        .map(|fit| fit.residuals.iter().map(|rest| rest / fit.residual_sd).collect())
        .collect();
    let product = |a: &[f64], b: &[f64]| digits::sums::sum(a.iter().zip(b).map(|(x, y)| x * y));
    let own: Vec<f64> = scaled.iter().map(|list| product(list, list).sqrt()).collect();
    let matrix: Vec<Vec<f64>> = (0..fits.len())
        .map(|i| {
            (0..fits.len())
                .map(|j| match i == j {
                    true => 1.0,
                    false => (product(&scaled[i], &scaled[j]) / (own[i] * own[j])).clamp(-1.0, 1.0),
                })
                .collect()
        })
        .collect();
    let finite = matrix.iter().flatten().all(|value| value.is_finite());
    finite.then_some((matrix, first.degrees_of_freedom))
}

/// The responses together, worked out once for all points.
struct Together {
    correlation: Option<Vec<Vec<f64>>>,
    joint: Option<JointT>,
}

fn together(criteria: &[Criterion<'_>]) -> Together {
    let found = correlation(criteria);
    let joint = found.as_ref().and_then(|(matrix, df)| JointT::new(matrix, *df));
    let correlation = joint.as_ref().and(found).map(|(matrix, _)| matrix);
    Together { correlation, joint }
}

/// Probability that one more run at `point` meets all criteria.
///
/// Each response: Student's t around the surface, with scale
/// `sqrt(s^2 + x' Cov x)`. Surfaces of the same runs and model are joined with
/// the correlation of their residuals, to about 0.0005; others are taken as
/// independent, which a note states.
///
/// # Errors
/// No criterion, a criterion without limits or with limits in the wrong order,
/// a point of another number of factors.
pub fn probability_of_success(
    criteria: &[Criterion<'_>],
    point: &[f64],
) -> Result<Success, CannotSay> {
    let together = together(criteria);
    let (probability, each) = at_point(criteria, point, &together)?;
    let if_independent = each.iter().product();
    let mut notes = Vec::new();
    if criteria.len() > 1 && together.joint.is_none() {
        notes.push(Note::new(
            "responses-taken-as-independent",
            "The surfaces do not rest on the same runs and model, so the residuals of the \
             responses were taken as independent.",
            "If they move together, the joint probability differs; measure all responses in the \
             same runs.",
        ));
    }
    let fewest_runs = criteria.iter().map(|c| c.surface.fit.n).min().unwrap_or(0);
    let correlation = together.correlation;
    Ok(Success { probability, each, if_independent, correlation, fewest_runs, notes })
}

/// Probability of all criteria at a point, and of each.
fn at_point(
    criteria: &[Criterion<'_>],
    point: &[f64],
    together: &Together,
) -> Result<(f64, Vec<f64>), CannotSay> {
    cannot_say::at_least("criteria", 1, criteria.len())?;
    let mut each = Vec::with_capacity(criteria.len());
    let mut ends = Vec::with_capacity(criteria.len());
    for criterion in criteria {
        let (low, high) = (criterion.lower, criterion.upper);
        let limits = usize::from(low.is_some()) + usize::from(high.is_some());
        cannot_say::at_least("limits of a criterion", 1, limits)?;
        if let (Some(a), Some(b)) = (low, high) {
            cannot_say::positive("the distance of the limits", b - a)?;
        }
        let fit = &criterion.surface.fit;
        let centre = criterion.surface.value(point)?;
        let row = model_row(point);
        let mut variance = fit.residual_sd * fit.residual_sd;
        for (i, xi) in row.iter().enumerate() {
            for (j, xj) in row.iter().enumerate() {
                variance += xi * xj * fit.covariance[i][j];
            }
        }
        if !(variance > 0.0) {
            return Err(CannotSay::NoSpread { what: "the residuals of a response".into() });
        }
        let scale = cannot_say::computed("the predictive scale", variance.sqrt())?;
        let df = fit.degrees_of_freedom;
        let far = |limit: f64| (limit - centre) / scale;
        let p = high.map_or(1.0, |limit| student_t::cumulative(far(limit), df))
            - low.map_or(0.0, |limit| student_t::cumulative(far(limit), df));
        each.push(p.clamp(0.0, 1.0));
        ends.push((low.map_or(f64::NEG_INFINITY, far), high.map_or(f64::INFINITY, far)));
    }
    let probability = match &together.joint {
        // The points know each response to 0.0005; no joint probability is
        // larger than the smallest of them.
        Some(joint) => joint.within(&ends).min(each.iter().copied().fold(1.0, f64::min)),
        None => each.iter().product(),
    };
    Ok((probability, each))
}

/// Point and probability of each node of a grid with `steps` intervals per
/// factor over `region`, the best first.
///
/// # Errors
/// As [`probability_of_success`]; no step; more than a million nodes.
pub fn over_region(
    criteria: &[Criterion<'_>],
    region: &[(f64, f64)],
    steps: usize,
) -> Result<Vec<(Vec<f64>, f64)>, CannotSay> {
    cannot_say::at_least("steps", 1, steps)?;
    let mut nodes: Vec<Vec<f64>> = vec![Vec::new()];
    for (low, high) in region {
        cannot_say::finite("an end of the region", *low)?;
        cannot_say::finite("an end of the region", *high)?;
        if nodes.len().saturating_mul(steps + 1) > 1_000_000 {
            return Err(CannotSay::Overflow { what: "the number of grid points".into() });
        }
        nodes = nodes
            .iter()
            .flat_map(|node| {
                (0..=steps).map(move |i| {
                    let mut next = node.clone();
                    next.push(low + (high - low) * i as f64 / steps as f64);
                    next
                })
            })
            .collect();
    }
    let together = together(criteria);
    let mut list = Vec::with_capacity(nodes.len());
    for node in nodes {
        let p = at_point(criteria, &node, &together)?.0;
        list.push((node, p));
    }
    list.sort_by(|a, b| b.1.total_cmp(&a.1));
    Ok(list)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::experiments::designs::central_composite;
    use crate::experiments::response_surface::response_surface;

    #[test]
    fn the_edge_of_the_mean_surface_succeeds_half_the_time() {
        let design = central_composite(2, 1.4, 5).unwrap();
        let results: Vec<f64> = design
            .iter()
            .enumerate()
            .map(|(i, p)| 10.0 + p[0] + 0.3 * digits::RandomStream::new(8, i as u64).normal())
            .collect();
        let surface = response_surface(&design, &results, None).unwrap();
        let edge = surface.value(&[0.5, 0.0]).unwrap();
        let criterion = Criterion { surface: &surface, lower: Some(edge), upper: None };
        let p = probability_of_success(std::slice::from_ref(&criterion), &[0.5, 0.0]).unwrap();
        assert!((p.probability - 0.5).abs() < 1e-12);
        let grid = over_region(&[criterion], &[(-1.0, 1.0), (-1.0, 1.0)], 4).unwrap();
        assert!(grid[0].1 > 0.5 && grid.len() == 25);
        assert!(probability_of_success(&[], &[0.0, 0.0]).is_err());
    }

    /// Two responses of 60 runs whose scatter is correlated by `r`.
    fn pair(r: f64) -> (Surface, Surface) {
        let design = central_composite(2, 1.4, 52).unwrap();
        let (mut first, mut second) = (Vec::new(), Vec::new());
        for (i, p) in design.iter().enumerate() {
            let mut stream = digits::RandomStream::new(77, i as u64);
            let (a, b) = (stream.normal(), stream.normal());
            first.push(10.0 + p[0] + a);
            second.push(5.0 - p[1] + r * a + (1.0 - r * r).sqrt() * b);
        }
        let fit = |results: &[f64]| response_surface(&design, results, None).unwrap();
        (fit(&first), fit(&second))
    }

    /// Against fresh draws from the fitted model, and positive control: the
    /// product misses it where responses move together.
    #[test]
    fn responses_that_move_together_are_not_multiplied() {
        for r in [-0.9, 0.9] {
            let (a, b) = pair(r);
            let upper = |surface: &Surface| surface.value(&[0.0, 0.0]).unwrap() + 0.5;
            let criteria = [
                Criterion { surface: &a, lower: None, upper: Some(upper(&a)) },
                Criterion { surface: &b, lower: None, upper: Some(upper(&b)) },
            ];
            let found = probability_of_success(&criteria, &[0.0, 0.0]).unwrap();
            let own = found.largest_correlation().unwrap();
            assert!((own - r).abs() < 0.1, "{own}");
            // The same by drawing: normals over one root of chi-squared.
            let row = model_row(&[0.0, 0.0]);
            let scale = |fit: &crate::regression::least_squares::LinearFit| {
                let mut v = fit.residual_sd * fit.residual_sd;
                for i in 0..row.len() {
                    for j in 0..row.len() {
                        v += row[i] * row[j] * fit.covariance[i][j];
                    }
                }
                v.sqrt()
            };
            let df = a.fit.degrees_of_freedom as usize;
            let mut met = 0_u32;
            let draws = 100_000;
            for draw in 0..draws {
                let mut stream = digits::RandomStream::new(5, draw);
                let chi: f64 = (0..df).map(|_| stream.normal()).map(|z| z * z).sum();
                let s = (chi / df as f64).sqrt();
                let (u, v) = (stream.normal(), stream.normal());
                let w = own * u + (1.0 - own * own).sqrt() * v;
                met += u32::from(u * scale(&a.fit) <= 0.5 * s && w * scale(&b.fit) <= 0.5 * s);
            }
            let drawn = f64::from(met) / draws as f64;
            assert!((found.probability - drawn).abs() < 0.006, "{} {drawn}", found.probability);
            assert!((found.if_independent - drawn).abs() > 0.08, "{}", found.if_independent);
            let grid = over_region(&criteria, &[(0.0, 0.0), (0.0, 0.0)], 1).unwrap();
            assert!((grid[0].1 - found.probability).abs() < 1e-12);
        }
    }

    #[test]
    fn other_runs_are_taken_as_independent_and_said_so() {
        let (a, _) = pair(0.5);
        let design = central_composite(2, 1.4, 20).unwrap();
        let results: Vec<f64> =
            (0..design.len()).map(|i| digits::RandomStream::new(3, i as u64).normal()).collect();
        let other = response_surface(&design, &results, None).unwrap();
        let criteria = [
            Criterion { surface: &a, lower: None, upper: Some(11.0) },
            Criterion { surface: &other, lower: Some(-1.0), upper: None },
        ];
        let found = probability_of_success(&criteria, &[0.0, 0.0]).unwrap();
        assert!(found.correlation.is_none() && found.probability == found.if_independent);
        assert!(found.notes.iter().any(|note| note.code == "responses-taken-as-independent"));
    }
}
