//! Deviation over averaging time, and the record with its line.

use report::figure::{Axis, Dash, Figure, Ink, Marker};
use report::number::significant;

use super::{Found, Stability};
use crate::commands::assess::drawing::{line, points, upright};

/// Both panels.
pub fn panels(command: &Stability, found: &Found) -> Vec<Figure> {
    let mut panels = vec![record(command, found)];
    panels.extend(deviations(command, found));
    panels
}

fn record(command: &Stability, found: &Found) -> Figure {
    let slope = &found.slope;
    let ends = [found.times[0], found.times[found.times.len() - 1]];
    let at = ends.map(|t| slope.intercept + slope.slope * t);
    Figure::new(
        "record",
        "The record and its slope",
        Axis::holding("time", "s", ends),
        Axis::holding(command.column.clone(), "", found.readings.iter().copied()),
    )
    .with(line("readings", &found.times, &found.readings, Ink::Grey, Dash::Solid))
    .with(line(
        &format!("slope {} per second", significant(slope.slope, 3)),
        &ends,
        &at,
        Ink::Rust,
        Dash::Solid,
    ))
    .described(
        format!(
            "Standard error of the slope {}; as if neighbours were independent {}.",
            significant(slope.standard_error, 2),
            significant(slope.naive_standard_error, 2)
        ),
        "Readings in time with their line.",
    )
}

fn deviations(command: &Stability, found: &Found) -> Option<Figure> {
    let (x, y): (Vec<f64>, Vec<f64>) = found
        .deviations
        .iter()
        .filter(|row| row.1 > 0.0)
        .map(|row| (found.interval_s * row.0 as f64, row.1))
        .unzip();
    if x.len() < 2 {
        return None;
    }
    let white: Vec<f64> = x.iter().map(|at| y[0] * (x[0] / at).sqrt()).collect();
    let low = y.iter().chain(&white).copied().fold(f64::INFINITY, f64::min);
    let high = y.iter().copied().fold(0.0, f64::max);
    let mut figure = Figure::new(
        "deviations",
        "How long averaging helps",
        Axis::logarithmic("averaging time", "s", x[0] * 0.8, x[x.len() - 1] * 1.25),
        Axis::logarithmic("Allan deviation", "", low * 0.8, high * 1.25),
    )
    .with(line("if noise were white", &x, &white, Ink::Grey, Dash::Dashed))
    .with(line("", &x, &y, Ink::Slate, Dash::Solid))
    .with(points(command.kind.word(), &x, &y, Marker::Disc, Ink::Slate));
    if let Some((span, _)) = found.best {
        let at = found.interval_s * span as f64;
        let label = format!("smallest at {} s", significant(at, 2));
        figure = figure.with(upright(&label, at, Ink::Plum, Dash::Dashed));
    }
    Some(figure.described(
        "Where the line leaves the dashed one, longer averages stop helping.",
        "Deviation against averaging time.",
    ))
}
