//! Probability that one more run meets all criteria.
//!
//! A mean surface inside the limits says little: half of the runs on its edge
//! fail. The predictive distribution carries the scatter and the error of the
//! fit. Source: J. J. Peterson, J. Qual. Technol. 36 (2004) 139.

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
    /// Runs behind the surface with the fewest.
    pub fewest_runs: usize,
    /// Remarks with next steps.
    pub notes: Vec<Note>,
}

impl Account for Success {
    fn method(&self) -> &str {
        "Student's t about each fitted surface, probabilities multiplied"
    }

    fn counted(&self) -> Counted {
        Counted::of(self.fewest_runs, "runs behind the surface with the fewest")
    }

    fn assumptions(&self) -> Vec<Assumption> {
        vec![
            Assumption::unchecked(
                "residuals of the responses independent of each other",
                "correlation of the residuals",
                "they were taken so",
            ),
            Assumption::unchecked(
                "each surface holds at this point",
                "confirmation runs",
                "a prediction does not test itself",
            ),
        ]
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

/// Probability that one more run at `point` meets all criteria.
///
/// Each response: Student's t around the surface, with scale
/// `sqrt(s^2 + x' Cov x)`. Responses are taken as independent of each other
/// given the factors, which a note states.
///
/// # Errors
/// No criterion, a criterion without limits or with limits in the wrong order,
/// a point of another number of factors.
pub fn probability_of_success(
    criteria: &[Criterion<'_>],
    point: &[f64],
) -> Result<Success, CannotSay> {
    cannot_say::at_least("criteria", 1, criteria.len())?;
    let mut each = Vec::with_capacity(criteria.len());
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
        let below = |limit: f64| student_t::cumulative((limit - centre) / scale, df);
        let p = high.map_or(1.0, below) - low.map_or(0.0, below);
        each.push(p.clamp(0.0, 1.0));
    }
    let mut notes = Vec::new();
    if criteria.len() > 1 {
        notes.push(Note::new(
            "responses-taken-as-independent",
            "The residuals of the responses were taken as independent.",
            "If they move together, the joint probability differs; simulate it.",
        ));
    }
    let fewest_runs = criteria.iter().map(|c| c.surface.fit.n).min().unwrap_or(0);
    Ok(Success { probability: each.iter().product(), each, fewest_runs, notes })
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
    let mut list = Vec::with_capacity(nodes.len());
    for node in nodes {
        let p = probability_of_success(criteria, &node)?.probability;
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
}
