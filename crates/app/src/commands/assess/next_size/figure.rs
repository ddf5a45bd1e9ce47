//! What is known so far, and where the next unit lies.

use report::figure::{Axis, Dash, Figure, Ink, Marker};
use report::number::{percent, significant};
use statistics::proportions::clopper_pearson;

use super::{Found, NextSizeCommand};
use crate::commands::assess::drawing::{intervals, line, log_places, upright, values};

/// The panel.
pub fn panel(command: &NextSizeCommand, found: &Found) -> Figure {
    let sizes = command.available.iter().copied().chain(found.results.iter().map(|row| row.size));
    let all: Vec<f64> = sizes.chain([command.critical]).collect();
    let low = all.iter().copied().fold(f64::INFINITY, f64::min) * 0.8;
    let high = all.iter().copied().fold(0.0, f64::max) * 1.25;
    let mut figure = Figure::new(
        "next",
        "The study so far and the next size",
        Axis::logarithmic("size", "", low, high),
        Axis::linear("share found", "", 0.0, 1.0),
    );
    if let Some(fit) = found.fit.as_ref().filter(|fit| fit.deviance.is_some()) {
        let x = log_places(low, high);
        let y = values(&x, |at| fit.probability(at).unwrap_or(f64::NAN));
        figure = figure.with(line("curve so far", &x, &y, Ink::Slate, Dash::Solid));
    }
    let (mut x, mut y, mut ends) = (Vec::new(), Vec::new(), Vec::new());
    for row in found.results.iter().filter(|row| row.of > 0) {
        if let Ok(bounds) = clopper_pearson(row.hits, row.of, command.confidence) {
            x.push(row.size);
            y.push(row.hits as f64 / row.of as f64);
            ends.push((bounds.lower, bounds.upper));
        }
    }
    if !x.is_empty() {
        let label = "share found, exact interval";
        figure = figure.with(intervals(label, &x, &y, &ends, Marker::Disc, Ink::Black));
    }
    let mark = |name: &str, at: f64| format!("{name} {}", significant(at, 3));
    figure = figure
        .with(upright(&mark("next", found.next.size), found.next.size, Ink::Rust, Dash::Dashed))
        .with(upright(
            &mark("critical", command.critical),
            command.critical,
            Ink::Plum,
            Dash::Solid,
        ));
    if let Some(bound) = found.bound.filter(|bound| (low..=high).contains(bound)) {
        figure = figure.with(upright(&mark("bound", bound), bound, Ink::Slate, Dash::DashDot));
    }
    figure.described(
        format!(
            "{} units. The bound is that of the size found with {}, at {} confidence. {}",
            found.units,
            percent(command.probability, 0),
            percent(command.confidence, 0),
            found.next.reason
        ),
        format!("Next size {}.", significant(found.next.size, 3)),
    )
}
