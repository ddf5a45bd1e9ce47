//! Readings against size, and the detection that follows.

use report::figure::{Axis, Dash, Figure, Ink, Marker};
use report::number::significant;
use statistics::detection::signal_response::Signal;

use super::figure::horizontal;
use super::signal::Found;
use super::{Detection, Scale};
use crate::commands::assess::drawing::{band, level, line, points, upright, values};

/// Readings with their line, and the curve of detection.
pub fn panels(command: &Detection, found: &Found) -> Vec<Figure> {
    vec![readings(command, found), curve(command, found)]
}

fn sizes(command: &Detection, found: &Found) -> Vec<f64> {
    let back = |x: &f64| if command.scale == Scale::Log { digits::scalar::exp(*x) } else { *x };
    found.readings.x.iter().map(back).collect()
}

fn readings(command: &Detection, found: &Found) -> Figure {
    let sizes = sizes(command, found);
    let (axis, x, _) = horizontal(command, &sizes, found.a90_95);
    let log = command.reading_scale == Scale::Log;
    let back = |y: f64| if log { digits::scalar::exp(y) } else { y };
    let on_axis = |size: f64| {
        if command.scale == Scale::Log { digits::scalar::ln(size) } else { size }
    };
    let fit = &found.fit;
    let height = |size: f64| fit.intercept + fit.slope * on_axis(size);
    let spread =
        |size: f64| 1.644_853_626_951_472_2 * fit.deviation_at(on_axis(size)).unwrap_or(0.0);
    let ends: Vec<(f64, f64)> = x
        .iter()
        .map(|size| {
            let (middle, width) = (height(*size), spread(*size));
            (back(middle - width), back(middle + width))
        })
        .collect();
    let of = |wanted: fn(&Signal) -> bool| -> (Vec<f64>, Vec<f64>) {
        let rows = sizes.iter().zip(&found.readings.signals).filter(|(_, s)| wanted(s));
        rows.map(|(size, signal)| {
            let (Signal::Read(y) | Signal::Below(y) | Signal::Above(y)) = signal;
            (*size, back(*y))
        })
        .unzip()
    };
    let threshold = back(found.readings.threshold);
    let all: Vec<f64> = found
        .readings
        .signals
        .iter()
        .map(|signal| {
            let (Signal::Read(y) | Signal::Below(y) | Signal::Above(y)) = signal;
            back(*y)
        })
        .chain([threshold])
        .collect();
    let name = command.reading.clone().unwrap_or_default();
    let name = if command.blank.is_some() { format!("{name}, less the blank") } else { name };
    let y_axis = if log {
        let low = all.iter().copied().fold(f64::INFINITY, f64::min);
        let high = all.iter().copied().fold(0.0, f64::max);
        Axis::logarithmic(name, "", low * 0.7, high * 1.4)
    } else {
        Axis::holding(name, "", all)
    };
    let mut figure = Figure::new("readings", "Readings against size", axis, y_axis)
        .with(band("nine readings in ten", &x, &ends, Ink::Slate))
        .with(line("line", &x, &values(&x, |at| back(height(at))), Ink::Slate, Dash::Solid));
    for (label, marker, wanted) in [
        ("read", Marker::Disc, (|s| matches!(s, Signal::Read(_))) as fn(&Signal) -> bool),
        ("known to lie below", Marker::OpenTriangle, |s| matches!(s, Signal::Below(_))),
        ("known to lie above", Marker::OpenSquare, |s| matches!(s, Signal::Above(_))),
    ] {
        let (x, y) = of(wanted);
        if !x.is_empty() {
            figure = figure.with(points(label, &x, &y, marker, Ink::Black));
        }
    }
    let label = format!("threshold {}", significant(threshold, 3));
    figure.with(level(&label, threshold, Ink::Plum, Dash::Dashed)).described(
        "Censored readings take part as what they are: below or above a value.",
        "Readings against size with the threshold.",
    )
}

fn curve(command: &Detection, found: &Found) -> Figure {
    let sizes = sizes(command, found);
    let (axis, x, _) = horizontal(command, &sizes, found.a90_95);
    let height = |size: f64| {
        let at = if command.scale == Scale::Log { digits::scalar::ln(size) } else { size };
        found.fit.probability_above(at, found.readings.threshold).unwrap_or(f64::NAN)
    };
    let mut figure = Figure::new(
        "detection",
        "Probability of a reading above the threshold",
        axis,
        Axis::linear("probability of detection", "", 0.0, 1.0),
    )
    .with(line("", &x, &values(&x, height), Ink::Slate, Dash::Solid))
    .with(level("", 0.9, Ink::Grey, Dash::Dotted));
    let mark = |name: &str, at: f64| format!("{name} {}", significant(at, 3));
    if let Some(a90) = found.a90 {
        figure = figure.with(upright(&mark("a90", a90), a90, Ink::Black, Dash::Dashed));
    }
    if let Some(bound) = found.a90_95 {
        figure = figure.with(upright(&mark("a90/95", bound), bound, Ink::Plum, Dash::Solid));
    }
    figure.height_pt = 190.0;
    figure.described(
        format!(
            "a90/95: with {} confidence nine in ten units of this size read above the threshold.",
            report::number::percent(command.confidence, 0)
        ),
        "Probability of detection against size.",
    )
}
