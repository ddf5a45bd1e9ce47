//! Net reading against size, with slopes to compare by eye.

use report::figure::{Axis, Dash, Figure, Ink, Marker};

use super::drawing::{group_style, line, log_places, points, values};
use super::size_exponent::Group;

/// One panel with all groups.
pub fn panels(groups: &[Group]) -> Vec<Figure> {
    let net = |group: &Group| -> Vec<(f64, f64, bool)> {
        group
            .readings
            .iter()
            .map(|row| (row.size, row.mean - group.blank_mean, row.censored))
            .filter(|row| row.0 > 0.0 && row.1 > 0.0)
            .collect()
    };
    let all: Vec<(f64, f64, bool)> = groups.iter().flat_map(net).collect();
    let ends = |pick: fn(&(f64, f64, bool)) -> f64| {
        all.iter().map(pick).fold((f64::INFINITY, 0.0_f64), |(a, b), v| (a.min(v), b.max(v)))
    };
    let ((low, high), (bottom, top)) = (ends(|row| row.0), ends(|row| row.1));
    if !(low < high) {
        return Vec::new();
    }
    let mut figure = Figure::new(
        "exponent",
        "How the reading grows with size",
        Axis::logarithmic("size", "", low * 0.8, high * 1.25),
        Axis::logarithmic("mean reading, net of the blank", "", bottom * 0.6, top * 1.7),
    );
    let x = log_places(low, high);
    for (exponent, dash) in [(1.0, Dash::Dotted), (2.0, Dash::Dashed), (4.0, Dash::DashDot)] {
        let law = |at: f64| {
            let ratio = digits::scalar::ln(at / low) * exponent;
            bottom * digits::scalar::exp(ratio)
        };
        let label = format!("power {exponent}");
        figure = figure.with(line(&label, &x, &values(&x, law), Ink::Grey, dash));
    }
    for (index, group) in groups.iter().enumerate() {
        let (marker, ink) = group_style(index);
        let rows = net(group);
        let (x, y): (Vec<f64>, Vec<f64>) = rows.iter().map(|row| (row.0, row.1)).unzip();
        figure = figure.with(line("", &x, &y, ink, Dash::Solid)).with(points(
            &group.name,
            &x,
            &y,
            marker,
            ink,
        ));
        let cut: Vec<&(f64, f64, bool)> = rows.iter().filter(|row| row.2).collect();
        if !cut.is_empty() {
            let (x, y): (Vec<f64>, Vec<f64>) = cut.iter().map(|row| (row.0, row.1)).unzip();
            figure = figure.with(points("ended by a limit: at least", &x, &y, Marker::Plus, ink));
        }
    }
    vec![figure.described(
        "Grey lines: powers to compare with. 2 is a hole whose flow goes with its area; near 4 a \
         long narrow channel; below 2 a headspace that empties.",
        "Net reading against size on logarithmic axes.",
    )]
}
