//! Probability of detection: fitted curve with its bound, shares by size.

use study::Case;
use study::results::Detection;

use super::forecast_figures::with_mall;
use crate::figure::{Axis, Dash, Figure, Ink, Layer, Marker, Pen, Shape};
use crate::number::quantity;

pub(super) fn figure(case: &Case, detection: &Detection) -> Option<Figure> {
    let sizes = || {
        let curve = detection.curve.iter().map(|point| point.0);
        curve.chain(detection.by_size.iter().map(|row| row.nominal_um)).chain(detection.a90_95_um)
    };
    let low = sizes().fold(f64::INFINITY, f64::min);
    let high = sizes().fold(0.0, f64::max);
    if !(low > 0.0 && low.is_finite()) {
        return None;
    }
    let mut figure = Figure::new(
        "detection",
        "Probability of detection against size",
        Axis::logarithmic("Flow-equivalent diameter", "µm", low * 0.9, high * 1.1),
        Axis::linear("Probability of detection", "", 0.0, 1.0),
    )
    .described(
        "Points: share found at each label size, with the exact one-sided lower bound. Lines: \
         fitted curve and its lower bound, where the data define one.",
        "Shares of positive controls found against size, with a rising fitted curve and its lower \
         bound.",
    );
    let x: Vec<f64> = detection.curve.iter().map(|point| point.0).collect();
    if !x.is_empty() {
        let fitted = detection.curve.iter().map(|point| point.1).collect();
        let bound = detection.curve.iter().map(|point| point.2.unwrap_or(f64::NAN)).collect();
        figure = figure
            .with(Layer::new(
                "fitted curve",
                Shape::Line {
                    x: x.clone(),
                    y: fitted,
                    pen: Pen::new(Ink::Black, Dash::Solid).wide(1.4),
                },
            ))
            .with(Layer::new(
                "lower bound",
                Shape::Line { x, y: bound, pen: Pen::new(Ink::Slate, Dash::Dashed) },
            ));
    }
    let rows = &detection.by_size;
    let share: Vec<f64> = rows.iter().map(|row| row.hits as f64 / row.of.max(1) as f64).collect();
    figure = figure.with(Layer::new(
        "share found, exact lower bound",
        Shape::ErrorBars {
            x: rows.iter().map(|row| row.nominal_um).collect(),
            low: rows.iter().map(|row| row.lower).collect(),
            high: share.clone(),
            y: share,
            marker: Marker::OpenTriangle,
            ink: Ink::Rust,
        },
    ));
    figure = figure.with(Layer::new(
        "0.9",
        Shape::HorizontalRule { at: 0.9, pen: Pen::new(Ink::Grey, Dash::Long).wide(0.7) },
    ));
    if let Some(um) = detection.a90_95_um {
        let name = case.results.as_ref().map_or_else(String::new, study::Results::bound_name);
        let label = format!("{name} {}", quantity(um, 3, "µm"));
        figure = figure.with(Layer::new(
            label,
            Shape::VerticalRule { at: um, pen: Pen::new(Ink::Black, Dash::Dotted).wide(1.3) },
        ));
    }
    Some(with_mall(figure, case))
}
