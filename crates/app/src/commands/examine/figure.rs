//! The rise of a run with the causes that make it, and what they leave.

use std::path::Path;

use intake::trace_file::ImportedTrace;
use report::figure::{Axis, Dash, Figure, Ink, Layer, Marker, Pen, Shape};
use study::forensics::{Findings, Residuals};

use super::examined::Examined;

/// Inks of the bands, in the order of the terms.
const INKS: [Ink; 5] = [Ink::Rust, Ink::Slate, Ink::Teal, Ink::Plum, Ink::Grey];

/// Two panels for a run whose rise was explained: the fitted points with the
/// terms stacked on the pressure at isolation, and the residuals below.
/// `number` keeps the names of panels apart.
pub fn panels(path: &Path, trace: &ImportedTrace, run: &Examined, number: usize) -> Vec<Figure> {
    let Some(Ok(findings)) = &run.findings else { return Vec::new() };
    let file = path.file_name().map(|name| name.to_string_lossy().into_owned()).unwrap_or_default();
    let name = [file.as_str(), trace.run.as_str(), trace.name.as_str()]
        .iter()
        .filter(|part| !part.is_empty())
        .copied()
        .collect::<Vec<_>>()
        .join(", ");
    panels_of(&name, findings, number)
}

/// The two panels of findings; none where nothing was fitted.
pub fn panels_of(name: &str, findings: &Findings, number: usize) -> Vec<Figure> {
    let Some(residuals) = &findings.residuals else { return Vec::new() };
    let (Some(&first), Some(&last)) = (residuals.times_s.first(), residuals.times_s.last()) else {
        return Vec::new();
    };
    if !(first < last) {
        return Vec::new();
    }
    vec![
        rise(name, findings, residuals, number, (first, last)),
        left(name, residuals, number, (first, last)),
    ]
}

fn rise(
    name: &str,
    findings: &Findings,
    residuals: &Residuals,
    number: usize,
    (first, last): (f64, f64),
) -> Figure {
    let points: Vec<f64> = residuals
        .fitted_pa
        .iter()
        .zip(&residuals.values_pa)
        .map(|(fit, left)| fit + left)
        .collect();
    let start = residuals.fitted_pa.first().copied().unwrap_or(0.0);
    let mut floor = vec![start; residuals.times_s.len()];
    let mut layers = Vec::new();
    let mut extremes = points.clone();
    for (index, term) in findings.terms.iter().enumerate() {
        let top: Vec<f64> =
            floor.iter().zip(&term.curve_pa).map(|(base, adds)| base + adds).collect();
        let side = |pick: fn(f64, f64) -> f64| -> Vec<f64> {
            floor.iter().zip(&top).map(|(a, b)| pick(*a, *b)).collect()
        };
        layers.push(Layer {
            label: term.cause.word().to_owned(),
            shape: Shape::Band {
                x: residuals.times_s.clone(),
                low: side(f64::min),
                high: side(f64::max),
                ink: INKS[index % INKS.len()],
            },
        });
        extremes.extend(&top);
        floor = top;
    }
    let (low, high) = ends(&extremes);
    let mut figure = Figure::new(
        format!("rise-{number}"),
        format!("Rise and its causes: {name}"),
        Axis::linear("time from isolation", "s", first, last),
        Axis::linear("pressure", "Pa", low, high),
    );
    for layer in layers {
        figure = figure.with(layer);
    }
    figure
        .with(Layer {
            label: "record, averaged".to_owned(),
            shape: Shape::Points {
                x: residuals.times_s.clone(),
                y: points,
                marker: Marker::Disc,
                ink: Ink::Black,
            },
        })
        .with(Layer {
            label: "fitted sum".to_owned(),
            shape: Shape::Line {
                x: residuals.times_s.clone(),
                y: residuals.fitted_pa.clone(),
                pen: Pen::new(Ink::Black, Dash::Solid),
            },
        })
        .described(
            format!(
                "{} The bands stack what each cause adds since isolation; a band that goes down \
                 takes away.",
                findings.sentence
            ),
            format!(
                "Pressure against time with the causes of its rise; {}",
                findings.verdict.words()
            ),
        )
}

fn left(name: &str, residuals: &Residuals, number: usize, (first, last): (f64, f64)) -> Figure {
    let most = residuals.values_pa.iter().fold(0.0_f64, |most, value| most.max(value.abs()));
    let most = if most > 0.0 { 1.15 * most } else { 1.0 };
    let mut figure = Figure::new(
        format!("residuals-{number}"),
        format!("What the causes leave: {name}"),
        Axis::linear("time from isolation", "s", first, last),
        Axis::linear("residual", "Pa", -most, most),
    );
    figure.height_pt = 150.0;
    let says = if residuals.look_random {
        "What is left looks like chance."
    } else {
        "What is left is not chance: something else was at work."
    };
    figure
        .with(Layer {
            label: String::new(),
            shape: Shape::HorizontalRule { at: 0.0, pen: Pen::new(Ink::Grey, Dash::Dashed) },
        })
        .with(Layer {
            label: "residual".to_owned(),
            shape: Shape::Points {
                x: residuals.times_s.clone(),
                y: residuals.values_pa.clone(),
                marker: Marker::Disc,
                ink: Ink::Slate,
            },
        })
        .described(says, "Residuals of the fitted sum against time.")
}

/// Lowest and highest, with a little room.
fn ends(values: &[f64]) -> (f64, f64) {
    let low = values.iter().copied().fold(f64::INFINITY, f64::min);
    let high = values.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    let room = 0.04 * (high - low).max(1.0e-9 * high.abs()).max(f64::MIN_POSITIVE);
    (low - room, high + room)
}
