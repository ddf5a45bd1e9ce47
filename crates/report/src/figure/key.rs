//! The key above a figure: a sample of each line or marker with its words.

use super::frame::{LABEL_SIZE, in_key};
use super::svg_layers::{marker_path, pen_style};
use super::svg_writer::{Anchor, Lettering, SvgWriter};
use super::{Dash, Figure, Frame, Layer, Pen, Shape};

const ROW_HEIGHT: f64 = 13.0;
const SAMPLE_WIDTH: f64 = 22.0;
const GAP: f64 = 14.0;

/// Room the key needs, points.
pub(super) fn height(figure: &Figure, width: f64) -> f64 {
    let rows = rows(figure, width).len();
    if rows == 0 { 0.0 } else { rows as f64 * ROW_HEIGHT + 5.0 }
}

fn rows(figure: &Figure, width: f64) -> Vec<Vec<(&Layer, f64)>> {
    let lettering = Lettering::plain(LABEL_SIZE);
    let mut rows: Vec<Vec<(&Layer, f64)>> = Vec::new();
    let mut used = f64::INFINITY;
    for layer in
        figure.layers.iter().filter(|layer| !layer.label.is_empty() && in_key(&layer.shape))
    {
        let needed = SAMPLE_WIDTH + 5.0 + lettering.width(&layer.label);
        if used + GAP + needed > width {
            rows.push(Vec::new());
            used = -GAP;
        }
        used += GAP + needed;
        if let Some(row) = rows.last_mut() {
            row.push((layer, needed));
        }
    }
    rows
}

/// Draws the key above the frame.
pub(super) fn draw(writer: &mut SvgWriter, figure: &Figure, frame: &Frame) {
    let mut base = 4.0 + ROW_HEIGHT / 2.0;
    for row in rows(figure, frame.width) {
        let mut x = frame.left;
        for (layer, width) in row {
            draw_sample(writer, &layer.shape, x, base);
            writer.text(
                x + SAMPLE_WIDTH + 5.0,
                base + 3.0,
                Anchor::Start,
                Lettering::plain(LABEL_SIZE),
                &layer.label,
            );
            x += width + GAP;
        }
        base += ROW_HEIGHT;
    }
}

fn draw_sample(writer: &mut SvgWriter, shape: &Shape, x: f64, y: f64) {
    let centre = x + SAMPLE_WIDTH / 2.0;
    match shape {
        Shape::Line { pen, .. } | Shape::Steps { pen, .. } => {
            writer.line(x, y, x + SAMPLE_WIDTH, y, &pen_style(*pen));
        }
        Shape::Points { marker, ink, .. } => {
            let (path, style) = marker_path(*marker, *ink, centre, y, 3.0);
            writer.path(&path, &style);
        }
        Shape::ErrorBars { marker, ink, .. } => {
            writer.line(centre, y - 5.5, centre, y + 5.5, &pen_style(Pen::new(*ink, Dash::Solid)));
            let (path, style) = marker_path(*marker, *ink, centre, y, 3.0);
            writer.path(&path, &style);
        }
        Shape::Band { ink, .. } | Shape::Bars { ink, .. } => {
            let style = format!(
                "fill=\"{0}\" fill-opacity=\"0.22\" stroke=\"{0}\" stroke-width=\"0.6\"",
                ink.hex()
            );
            writer.rectangle(x, y - 3.5, SAMPLE_WIDTH, 7.0, &style);
        }
        Shape::VerticalRule { .. }
        | Shape::HorizontalRule { .. }
        | Shape::Words { .. }
        | Shape::Stage { .. } => {}
    }
}
