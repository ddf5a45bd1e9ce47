//! The calibration drawn: line with its bands, and what is left over.

use report::figure::{Axis, Dash, Figure, Ink, Marker};
use report::number::significant;

use super::Flow;
use super::fit::Fitted;
use super::limits::{Inverse, Limits};
use crate::commands::assess::drawing::{band, level, line, places, points, upright, values, words};

/// The panels of the answer.
pub fn panels(
    command: &Flow,
    (flows, readings): (&[f64], &[f64]),
    fitted: &Fitted,
    limits: &Limits,
    inverse: Option<Inverse>,
) -> Vec<Figure> {
    vec![
        calibration(command, (flows, readings), fitted, limits, inverse),
        residuals(command, (flows, readings), fitted),
    ]
}

fn calibration(
    command: &Flow,
    (flows, readings): (&[f64], &[f64]),
    fitted: &Fitted,
    limits: &Limits,
    inverse: Option<Inverse>,
) -> Figure {
    let (intercept, slope) = fitted.line();
    let (axis, x) = horizontal(command, flows);
    let confidence = command.confidence;
    let prediction: Vec<(f64, f64)> = x
        .iter()
        .map(|x| {
            fitted
                .plain
                .reading_at(*x, command.readings_per_result, confidence)
                .map_or((f64::NAN, f64::NAN), |p| (p.lower, p.upper))
        })
        .collect();
    let mean: Vec<(f64, f64)> = x
        .iter()
        .map(|x| {
            fitted
                .plain
                .mean_at(*x, confidence)
                .map_or((f64::NAN, f64::NAN), |p| (p.lower, p.upper))
        })
        .collect();
    let plain = fitted.other.is_none();
    let heights = readings
        .iter()
        .copied()
        .chain(prediction.iter().filter(|_| plain).flat_map(|ends| [ends.0, ends.1]))
        .chain(command.invert);
    let y_axis = Axis::holding(command.reading.clone(), "", heights);
    let head = y_axis.high;
    let mut figure = Figure::new("flow", "Reading against known flow", axis, y_axis);
    if plain {
        figure = figure.with(band("one more result", &x, &prediction, Ink::Grey)).with(band(
            "the line itself",
            &x,
            &mean,
            Ink::Slate,
        ));
    }
    let fit = values(&x, |x| intercept + slope * x);
    figure = figure.with(line("line", &x, &fit, Ink::Slate, Dash::Solid)).with(points(
        "challenges",
        flows,
        readings,
        Marker::Ring,
        Ink::Black,
    ));
    if let Some(limit) = &limits.detection {
        let at = limit.minimum_detectable_value;
        let label = format!("minimum detectable {}", significant(at, 3));
        figure = figure.with(upright("", at, Ink::Plum, Dash::Dashed)).with(words(
            &label,
            at,
            head * 0.97,
        ));
    }
    if let (Some(reading), Some(inverse)) = (command.invert, inverse) {
        let label = format!("reading {}", significant(reading, 3));
        figure = figure.with(level(&label, reading, Ink::Rust, Dash::Dotted));
        let label = format!("flow {}", significant(inverse.estimate, 3));
        figure = figure.with(upright(&label, inverse.estimate, Ink::Rust, Dash::Solid));
        for end in [inverse.lower, inverse.upper].into_iter().filter(|end| end.is_finite()) {
            figure = figure.with(upright("", end, Ink::Rust, Dash::Dotted));
        }
    }
    let bands = if plain {
        format!(
            " Bands: {} confidence, for the line and for one more result.",
            report::number::percent(confidence, 0)
        )
    } else {
        String::new()
    };
    figure.described(
        format!("Method: {}.{bands}", fitted.method()),
        format!("Slope {}, intercept {}.", significant(slope, 4), significant(intercept, 4)),
    )
}

fn residuals(command: &Flow, (flows, readings): (&[f64], &[f64]), fitted: &Fitted) -> Figure {
    let (intercept, slope) = fitted.line();
    let rest: Vec<f64> =
        flows.iter().zip(readings).map(|(x, y)| y - intercept - slope * x).collect();
    let (axis, _) = horizontal(command, flows);
    let sd = fitted.plain.residual_sd;
    let mut figure = Figure::new(
        "residuals",
        "What the line leaves over",
        axis,
        Axis::holding("residual", "", rest.iter().copied().chain([-2.2 * sd, 2.2 * sd])),
    )
    .with(level("", 0.0, Ink::Black, Dash::Solid))
    .with(level("2 s", 2.0 * sd, Ink::Grey, Dash::Dotted))
    .with(level("", -2.0 * sd, Ink::Grey, Dash::Dotted))
    .with(points("", flows, &rest, Marker::Ring, Ink::Black));
    figure.height_pt = 150.0;
    figure.described(
        "A bow speaks against the straight line, a fan against constant scatter.",
        "Residuals along the flow.",
    )
}

fn horizontal(command: &Flow, flows: &[f64]) -> (Axis, Vec<f64>) {
    let axis = Axis::holding(command.flow.clone(), "", flows.iter().copied());
    let x = places(axis.low, axis.high);
    (axis, x)
}
