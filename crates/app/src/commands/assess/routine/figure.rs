//! The control chart drawn, with its companion.

use report::figure::{Axis, Dash, Figure, Ink, Marker};
use report::number::significant;
use statistics::control_charts::change_point::ChangePoint;

use super::chart::{Chart, SpreadChart, Sums};
use super::{Kind, Routine};
use crate::commands::assess::drawing::{level, line, points, stretch, upright};

/// The panels of the answer.
pub fn panels(command: &Routine, chart: &Chart, step: Option<&ChangePoint>) -> Vec<Figure> {
    let mut panels = vec![values(command, chart, step)];
    if let Some(sums) = &chart.sums {
        panels.push(summed(command, chart, sums));
    }
    if let Some(spread) = &chart.spread {
        panels.push(scatter(command, chart, spread));
    }
    panels
}

fn places(n: usize, from: usize) -> Vec<f64> {
    (0..n).map(|i| (i + from + 1) as f64).collect()
}

fn horizontal(command: &Routine, chart: &Chart) -> Axis {
    let label = match &command.sample {
        Some(name) => format!("{name}, in order"),
        None => "reading, in order".to_owned(),
    };
    Axis::linear(label, "", 0.0, chart.plotted.len() as f64 + 1.0)
}

/// Heights with some room at the top for the names of stretches.
fn with_room(heights: Vec<f64>) -> Vec<f64> {
    let high = heights.iter().copied().fold(f64::MIN, f64::max);
    let low = heights.iter().copied().fold(f64::MAX, f64::min);
    heights.into_iter().chain([high + 0.14 * (high - low)]).collect()
}

fn named(what: &str, value: f64) -> String {
    format!("{what} {}", significant(value, 4))
}

fn values(command: &Routine, chart: &Chart, step: Option<&ChangePoint>) -> Figure {
    let x = places(chart.plotted.len(), 0);
    let mut heights: Vec<f64> = chart.plotted.iter().copied().chain([chart.center]).collect();
    if chart.sums.is_none() {
        heights.extend([chart.lower, chart.upper]);
    }
    let smoothed = chart.by_value.is_some();
    if smoothed {
        heights.extend(&chart.values);
    }
    let mut figure = Figure::new(
        "chart",
        match command.chart {
            Kind::Individuals => "Individuals chart",
            Kind::Means => "Chart of means",
            Kind::Ewma => "Exponentially weighted moving average",
            Kind::Cusum => "Readings behind the sums",
        },
        horizontal(command, chart),
        Axis::holding(command.column.clone(), "", with_room(heights)),
    );
    let n = chart.plotted.len();
    if chart.first > 0 && chart.first < n {
        let border = chart.first as f64 + 0.5;
        figure = figure.with(stretch("first phase", 0.0, border)).with(stretch(
            "judged",
            border,
            n as f64 + 1.0,
        ));
    }
    if smoothed {
        figure = figure.with(points("single readings", &x, &chart.values, Marker::Ring, Ink::Grey));
    }
    figure =
        figure.with(level(&named("centre", chart.center), chart.center, Ink::Grey, Dash::Dotted));
    if let Some(limits) = &chart.by_value {
        let (low, high): (Vec<f64>, Vec<f64>) = limits.iter().copied().unzip();
        figure = figure
            .with(line(&named("lower", chart.lower), &x, &low, Ink::Plum, Dash::Solid))
            .with(line(&named("upper", chart.upper), &x, &high, Ink::Plum, Dash::Solid));
    } else if chart.sums.is_none() {
        figure = figure
            .with(level(&named("lower", chart.lower), chart.lower, Ink::Plum, Dash::Solid))
            .with(level(&named("upper", chart.upper), chart.upper, Ink::Plum, Dash::Solid));
    }
    let what = if smoothed { "moving average" } else { "" };
    figure = figure.with(line(what, &x, &chart.plotted, Ink::Slate, Dash::Solid));
    if !smoothed {
        figure = figure.with(points("", &x, &chart.plotted, Marker::Disc, Ink::Slate));
    }
    let mut at: Vec<usize> = chart.signals.iter().map(|signal| signal.position).collect();
    at.dedup();
    if !at.is_empty() {
        let (sx, sy): (Vec<f64>, Vec<f64>) = at.iter().map(|i| (x[*i], chart.plotted[*i])).unzip();
        figure = figure.with(points("signal", &sx, &sy, Marker::OpenSquare, Ink::Rust));
    }
    if let Some(step) = step.filter(|step| step.p_value < 0.05) {
        let place = step.position as f64 + 0.5;
        let label = format!("step, p = {}", significant(step.p_value, 1));
        figure = figure.with(upright(&label, place, Ink::Teal, Dash::Dashed));
    }
    figure.described(
        format!("Method: {}.", chart.method),
        format!("{n} values, {} signals.", chart.signals.len()),
    )
}

fn summed(command: &Routine, chart: &Chart, sums: &Sums) -> Figure {
    let x = places(sums.high.len(), 0);
    let low: Vec<f64> = sums.low.iter().map(|v| -v).collect();
    let heights = sums.high.iter().chain(&low).copied().chain([chart.lower, chart.upper]);
    Figure::new(
        "sums",
        "Cumulative sums",
        horizontal(command, chart),
        Axis::holding("sum of departures", "", heights),
    )
    .with(level("", 0.0, Ink::Grey, Dash::Dotted))
    .with(level(&named("decision", chart.upper), chart.upper, Ink::Plum, Dash::Solid))
    .with(level(&named("decision", chart.lower), chart.lower, Ink::Plum, Dash::Solid))
    .with(line("upward sum", &x, &sums.high, Ink::Slate, Dash::Solid))
    .with(line("downward sum", &x, &low, Ink::Teal, Dash::Dashed))
    .described("A sum beyond the decision interval is a signal.", "Two sums with their limits.")
}

fn scatter(command: &Routine, chart: &Chart, spread: &SpreadChart) -> Figure {
    let x = places(spread.values.len(), spread.from);
    let heights = spread.values.iter().copied().chain([0.0, spread.upper]);
    let mut figure = Figure::new(
        "scatter",
        "Scatter beside it",
        horizontal(command, chart),
        Axis::holding(spread.name, "", heights),
    )
    .with(level(&named("centre", spread.center), spread.center, Ink::Grey, Dash::Dotted))
    .with(level(&named("upper", spread.upper), spread.upper, Ink::Plum, Dash::Solid));
    if spread.lower > 0.0 {
        figure =
            figure.with(level(&named("lower", spread.lower), spread.lower, Ink::Plum, Dash::Solid));
    }
    figure = figure.with(line("", &x, &spread.values, Ink::Slate, Dash::Solid)).with(points(
        "",
        &x,
        &spread.values,
        Marker::Disc,
        Ink::Slate,
    ));
    if !spread.signals.is_empty() {
        let (sx, sy): (Vec<f64>, Vec<f64>) = spread
            .signals
            .iter()
            .map(|at| ((at + 1) as f64, spread.values[at - spread.from]))
            .unzip();
        figure = figure.with(points("signal", &sx, &sy, Marker::OpenSquare, Ink::Rust));
    }
    figure.described(format!("Here: {}.", spread.name), "Scatter in order.")
}
