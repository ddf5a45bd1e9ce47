//! Chance that one more run meets all criteria, over the region.

use statistics::experiments::Surface;
use statistics::experiments::success::{Criterion, over_region, probability_of_success};
use study::Note;

use super::factor::Factor;
use crate::answer::from_statistics;
use crate::fault::Fault;

/// A criterion as written.
#[derive(Debug, Clone)]
pub struct Written {
    /// The result it speaks of.
    pub response: String,
    /// Lower limit.
    pub lower: Option<f64>,
    /// Upper limit.
    pub upper: Option<f64>,
}

/// Chance of success over the region.
pub struct Success {
    /// The same with its account.
    pub at_centre: statistics::experiments::success::Success,
    /// At the centre.
    pub centre: f64,
    /// Largest, and the levels where.
    pub best: (f64, Vec<f64>),
    /// Smallest, and the levels where.
    pub worst: (f64, Vec<f64>),
    /// Share of the region with at least 0.95.
    pub share: f64,
    /// Points looked at.
    pub points: usize,
}

/// Most points of the grid.
const MOST: f64 = 4000.0;

/// Reads criteria; both limits of one result become one criterion.
pub fn read(written: &[String], responses: &[String]) -> Result<Vec<Written>, Fault> {
    let mut list: Vec<Written> = Vec::new();
    for text in written {
        let wrong = || {
            Fault::users(
                format!("`{text}` is not a criterion"),
                format!(
                    "write RESULT <= LIMIT or RESULT >= LIMIT in double quotes; results are: {}",
                    responses.join(", ")
                ),
            )
        };
        let above = text.contains(">=");
        let (name, limit) = text.split_once(if above { ">=" } else { "<=" }).ok_or_else(wrong)?;
        let limit: f64 = limit.trim().parse().map_err(|_| wrong())?;
        let name = name.trim();
        if !limit.is_finite() || !responses.iter().any(|response| response == name) {
            return Err(wrong());
        }
        let place = match list.iter().position(|criterion| criterion.response == name) {
            Some(place) => place,
            None => {
                list.push(Written { response: name.to_owned(), lower: None, upper: None });
                list.len() - 1
            }
        };
        let side = if above { &mut list[place].lower } else { &mut list[place].upper };
        *side = Some(limit);
    }
    Ok(list)
}

/// Chance over the region between low and high of each factor.
pub fn over(
    factors: &[Factor],
    surfaces: &[(String, Surface)],
    criteria: &[Written],
    notes: &mut Vec<Note>,
) -> Result<Success, Fault> {
    let list: Vec<Criterion<'_>> = criteria
        .iter()
        .filter_map(|criterion| {
            let (_, surface) = surfaces.iter().find(|(name, _)| *name == criterion.response)?;
            Some(Criterion { surface, lower: criterion.lower, upper: criterion.upper })
        })
        .collect();
    let k = factors.len();
    let steps = (digits::scalar::pow(MOST, 1.0 / k as f64) as usize).clamp(2, 41) - 1;
    // An even number of steps puts a point at the centre.
    let steps = (steps / 2 * 2).max(2);
    let grid = over_region(&list, &vec![(-1.0, 1.0); k], steps)?;
    let centre = probability_of_success(&list, &vec![0.0; k])?;
    notes.extend(from_statistics(centre.notes.clone()));
    let levels = |point: &[f64]| -> Vec<f64> {
        point.iter().zip(factors).map(|(coded, factor)| factor.level(*coded)).collect()
    };
    let (Some(best), Some(worst)) = (grid.first(), grid.last()) else {
        return Err(Fault::users("the region is empty", "name at least one factor"));
    };
    let good = grid.iter().filter(|point| point.1 >= 0.95).count();
    if worst.1 < 0.95 {
        notes.push(Note::caution(
            "not-robust-everywhere",
            format!(
                "at some settings within the region one more run meets the criteria with a chance \
                 of {:.2} only",
                worst.1
            ),
            "narrow the range of the factor that moves it most, or move the set point",
        ));
    }
    Ok(Success {
        centre: centre.probability,
        at_centre: centre,
        best: (best.1, levels(&best.0)),
        worst: (worst.1, levels(&worst.0)),
        share: good as f64 / grid.len() as f64,
        points: grid.len(),
    })
}
