//! Gauge study and nested levels drawn: the readings, and what they consist of.

use report::figure::{Axis, Figure, Ink, Layer, Shape};

use super::Precision;
use super::components::Component;
use super::gauge::Study;
use super::nested::Levels;
use crate::commands::assess::drawing::{group_style, line, points, stretch};
use report::figure::Dash;

/// Readings of a gauge study by part, and the components.
pub fn gauge(command: &Precision, study: &Study, components: &[Component]) -> Vec<Figure> {
    let name = command.reading.clone().unwrap_or_default();
    let all = study.cells.iter().flatten().flatten().copied();
    let mut figure = Figure::new(
        "gauge",
        "Readings of each part by operator",
        Axis::named(command.part.clone().unwrap_or_default(), study.parts.clone()),
        Axis::holding(name, "", all),
    );
    let n = study.operators.len() as f64;
    for (column, operator) in study.operators.iter().enumerate() {
        let (mut x, mut y, mut middle) = (Vec::new(), Vec::new(), Vec::new());
        for (row, cells) in study.cells.iter().enumerate() {
            let at = row as f64 + 0.5 + 0.5 * ((column as f64 + 0.5) / n - 0.5);
            middle.push((at, digits::sums::mean(&cells[column]).unwrap_or(f64::NAN)));
            for value in &cells[column] {
                x.push(at);
                y.push(*value);
            }
        }
        let (marker, ink) = group_style(column);
        let dash = [Dash::Solid, Dash::Dashed, Dash::DashDot, Dash::Dotted][column % 4];
        let (mx, my): (Vec<f64>, Vec<f64>) = middle.into_iter().unzip();
        figure =
            figure.with(line("", &mx, &my, ink, dash)).with(points(operator, &x, &y, marker, ink));
    }
    let figure = figure.described(
        "Lines join the means of one operator. Parallel lines: operators order the parts alike; a \
         shift between them is reproducibility; the spread of equal markers is repeatability.",
        "Readings by part and operator.",
    );
    vec![figure, bars(components)]
}

/// Readings of nested groups, and the components.
pub fn nested(command: &Precision, levels: &Levels, components: &[Component]) -> Vec<Figure> {
    let all = levels.iter().flat_map(|(_, inner)| inner.iter().flat_map(|(_, v)| v)).copied();
    let n = levels.len() as f64;
    let mut figure = Figure::new(
        "nested",
        "Readings group by group",
        Axis::named(
            command.nested.first().or(command.operator.as_ref()).cloned().unwrap_or_default(),
            levels.iter().map(|(name, _)| name.clone()).collect(),
        ),
        Axis::holding(command.reading.clone().unwrap_or_default(), "", all),
    );
    for (index, (_, inner)) in levels.iter().enumerate() {
        let from = index as f64;
        if n <= 40.0 {
            figure = figure.with(stretch("", from, from + 1.0));
        }
        let groups = inner.len() as f64;
        for (place, (_, values)) in inner.iter().enumerate() {
            let at = from + (place as f64 + 0.5) / groups;
            let x = vec![at; values.len()];
            let (marker, ink) = group_style(place);
            figure = figure.with(points("", &x, values, marker, ink));
        }
        let values: Vec<f64> = inner.iter().flat_map(|(_, v)| v).copied().collect();
        if let Some(mean) = digits::sums::mean(&values) {
            let x = [from + 0.1, from + 0.9];
            figure = figure.with(line("", &x, &[mean, mean], Ink::Black, Dash::Solid));
        }
    }
    let figure = figure.described(
        "Short lines: means of the outer groups. Markers of one kind in one group belong to one \
         inner group.",
        "Readings by nested group.",
    );
    vec![figure, bars(components)]
}

/// Standard deviations of the components.
pub fn bars(components: &[Component]) -> Figure {
    let names: Vec<String> = components.iter().map(|c| c.name.clone()).collect();
    let heights: Vec<f64> = components.iter().map(|c| c.variance.max(0.0).sqrt()).collect();
    let mut figure = Figure::new(
        "components",
        "Standard deviation by source",
        Axis::named("", names),
        Axis::holding("standard deviation", "", heights.iter().copied().chain([0.0])),
    );
    for (index, height) in heights.iter().enumerate() {
        let at = index as f64 + 0.5;
        let shape = Shape::Bars {
            edges: vec![at - 0.22, at + 0.22],
            heights: vec![*height],
            ink: Ink::Slate,
        };
        figure = figure.with(Layer::new("", shape));
    }
    figure.height_pt = 170.0;
    figure.described(
        "Standard deviations do not add; their squares do. A negative estimate is drawn as zero.",
        "Components of variance.",
    )
}
