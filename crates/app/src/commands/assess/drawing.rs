//! Short words for the layers of figures.

use report::figure::{Dash, Ink, Layer, Marker, Pen, Shape};

/// Number of places at which a curve is drawn.
const PLACES: usize = 160;

/// Points.
pub fn points(label: &str, x: &[f64], y: &[f64], marker: Marker, ink: Ink) -> Layer {
    Layer::new(label, Shape::Points { x: x.to_vec(), y: y.to_vec(), marker, ink })
}

/// Points with intervals `(low, high)`.
pub fn intervals(
    label: &str,
    x: &[f64],
    y: &[f64],
    ends: &[(f64, f64)],
    marker: Marker,
    ink: Ink,
) -> Layer {
    let (low, high) = ends.iter().copied().unzip();
    Layer::new(label, Shape::ErrorBars { x: x.to_vec(), y: y.to_vec(), low, high, marker, ink })
}

/// A line.
pub fn line(label: &str, x: &[f64], y: &[f64], ink: Ink, dash: Dash) -> Layer {
    Layer::new(label, Shape::Line { x: x.to_vec(), y: y.to_vec(), pen: Pen::new(ink, dash) })
}

/// A shaded band between `(low, high)`.
pub fn band(label: &str, x: &[f64], ends: &[(f64, f64)], ink: Ink) -> Layer {
    let (low, high) = ends.iter().copied().unzip();
    Layer::new(label, Shape::Band { x: x.to_vec(), low, high, ink })
}

/// A horizontal line across, labelled at its end.
pub fn level(label: &str, at: f64, ink: Ink, dash: Dash) -> Layer {
    Layer::new(label, Shape::HorizontalRule { at, pen: Pen::new(ink, dash) })
}

/// A vertical line across, labelled at its foot.
pub fn upright(label: &str, at: f64, ink: Ink, dash: Dash) -> Layer {
    Layer::new(label, Shape::VerticalRule { at, pen: Pen::new(ink, dash) })
}

/// Words beside a place.
pub fn words(label: &str, x: f64, y: f64) -> Layer {
    Layer::new(label, Shape::Words { x, y })
}

/// A stretch of the horizontal axis with its name at the top.
pub fn stretch(label: &str, from: f64, to: f64) -> Layer {
    Layer::new(label, Shape::Stage { from, to })
}

/// Bars over the names of an axis, with a gap between them.
pub fn bars(heights: &[f64], ink: Ink) -> Layer {
    let (mut edges, mut all) = (vec![0.0], Vec::new());
    for (i, height) in heights.iter().enumerate() {
        edges.extend([i as f64 + 0.2, i as f64 + 0.8]);
        all.extend([0.0, *height]);
    }
    edges.push(heights.len() as f64);
    all.push(0.0);
    Layer::new("", Shape::Bars { edges, heights: all, ink })
}

/// Places from low to high in equal steps.
pub fn places(low: f64, high: f64) -> Vec<f64> {
    (0..=PLACES).map(|i| low + (high - low) * i as f64 / PLACES as f64).collect()
}

/// Places from low to high in equal ratios; both above zero.
pub fn log_places(low: f64, high: f64) -> Vec<f64> {
    let (from, to) = (digits::scalar::ln(low), digits::scalar::ln(high));
    places(from, to).into_iter().map(digits::scalar::exp).collect()
}

/// Values at places.
pub fn values(places: &[f64], value: impl Fn(f64) -> f64) -> Vec<f64> {
    places.iter().map(|place| value(*place)).collect()
}

/// Markers and inks in turn for groups side by side: each pair differs in
/// shape as well as in lightness.
pub fn group_style(index: usize) -> (Marker, Ink) {
    const STYLES: [(Marker, Ink); 6] = [
        (Marker::Disc, Ink::Slate),
        (Marker::OpenSquare, Ink::Rust),
        (Marker::Triangle, Ink::Teal),
        (Marker::Ring, Ink::Plum),
        (Marker::Cross, Ink::Black),
        (Marker::Diamond, Ink::Grey),
    ];
    STYLES[index % STYLES.len()]
}
