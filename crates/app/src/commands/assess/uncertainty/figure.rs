//! Where the uncertainty comes from, and the intervals side by side.

use report::figure::{Axis, Dash, Figure, Ink, Marker};

use super::Found;
use super::answer::shares;
use crate::commands::assess::drawing::{bars, intervals, level};

/// Most inputs shown.
const SHOWN: usize = 12;

/// Both panels.
pub fn panels(found: &Found) -> Vec<Figure> {
    vec![contributions(found), side_by_side(found)]
}

fn contributions(found: &Found) -> Figure {
    let mut parts: Vec<(f64, String)> = shares(found)
        .into_iter()
        .zip(&found.file.inputs)
        .map(|(share, input)| (100.0 * share, input.name.clone()))
        .collect();
    parts.sort_by(|a, b| b.0.total_cmp(&a.0));
    parts.truncate(SHOWN);
    let (heights, names): (Vec<f64>, Vec<String>) = parts.into_iter().unzip();
    let top = heights.first().copied().unwrap_or(1.0);
    Figure::new(
        "contributions",
        "Where the uncertainty comes from",
        Axis::named("", names),
        Axis::holding("share of the variance", "%", [0.0, top]),
    )
    .with(bars(&heights, Ink::Slate))
    .described(
        format!("Model: {}. Shares without correlations.", found.file.model_text),
        "Shares of the variance by input.",
    )
}

fn side_by_side(found: &Found) -> Figure {
    let first = &found.first_order;
    let mut rows = vec![(
        "law of propagation".to_owned(),
        first.value,
        (first.value - found.expanded, first.value + found.expanded),
    )];
    if let Some(simulated) = &found.simulated {
        rows.push(("simulated, equal tails".to_owned(), simulated.mean, simulated.symmetric));
        rows.push(("simulated, shortest".to_owned(), simulated.mean, simulated.shortest));
    }
    let x: Vec<f64> = (0..rows.len()).map(|i| i as f64 + 0.5).collect();
    let y: Vec<f64> = rows.iter().map(|row| row.1).collect();
    let ends: Vec<(f64, f64)> = rows.iter().map(|row| row.2).collect();
    let heights = ends.iter().flat_map(|e| [e.0, e.1]);
    Figure::new(
        "intervals",
        "Intervals side by side",
        Axis::named("", rows.into_iter().map(|row| row.0).collect()),
        Axis::holding(found.file.quantity.clone(), found.file.unit.clone(), heights),
    )
    .with(level("", first.value, Ink::Grey, Dash::Dotted))
    .with(intervals("", &x, &y, &ends, Marker::Disc, Ink::Black))
    .described(
        format!("Coverage {}.", report::number::percent(found.coverage, 0)),
        "Intervals by method.",
    )
}
