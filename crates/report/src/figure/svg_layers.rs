//! Drawing of the layers within the frame.

use super::reduce::{COLUMNS, columns_kept};
use super::svg_writer::{Anchor, Lettering, SvgWriter, coordinate};
use super::{Dash, Figure, Frame, Ink, Marker, Pen, Scale, Shape};

/// Radius of a point, points.
const RADIUS: f64 = 2.7;

/// Attributes of a line drawn with a pen.
pub(crate) fn pen_style(pen: Pen) -> String {
    let dash = pen.dash.pattern();
    let dash = if dash.is_empty() {
        String::new()
    } else {
        let cap = if pen.dash == Dash::Dotted { " stroke-linecap=\"round\"" } else { "" };
        format!(" stroke-dasharray=\"{dash}\"{cap}")
    };
    format!(
        "fill=\"none\" stroke=\"{}\" stroke-width=\"{}\"{dash}",
        pen.ink.hex(),
        coordinate(pen.width_pt)
    )
}

/// Path and attributes of a marker.
pub(crate) fn marker_path(
    marker: Marker,
    ink: Ink,
    x: f64,
    y: f64,
    radius: f64,
) -> (String, String) {
    let at = |dx: f64, dy: f64| {
        format!("{} {}", coordinate(x + dx * radius), coordinate(y + dy * radius))
    };
    let path = match marker {
        Marker::Disc | Marker::Ring => {
            let r = coordinate(radius);
            format!(
                "M{} A{r} {r} 0 1 0 {} A{r} {r} 0 1 0 {}Z",
                at(-1.0, 0.0),
                at(1.0, 0.0),
                at(-1.0, 0.0)
            )
        }
        Marker::Square | Marker::OpenSquare => {
            format!("M{} L{} L{} L{}Z", at(-0.9, -0.9), at(0.9, -0.9), at(0.9, 0.9), at(-0.9, 0.9))
        }
        Marker::Triangle | Marker::OpenTriangle => {
            format!("M{} L{} L{}Z", at(0.0, -1.15), at(1.05, 0.8), at(-1.05, 0.8))
        }
        Marker::Diamond => {
            format!(
                "M{} L{} L{} L{}Z",
                at(0.0, -1.25),
                at(1.05, 0.0),
                at(0.0, 1.25),
                at(-1.05, 0.0)
            )
        }
        Marker::Plus => {
            format!("M{} L{} M{} L{}", at(-1.2, 0.0), at(1.2, 0.0), at(0.0, -1.2), at(0.0, 1.2))
        }
        Marker::Cross => {
            format!("M{} L{} M{} L{}", at(-1.0, -1.0), at(1.0, 1.0), at(-1.0, 1.0), at(1.0, -1.0))
        }
    };
    let colour = ink.hex();
    let style = match marker {
        Marker::Ring | Marker::OpenSquare | Marker::OpenTriangle => {
            format!("fill=\"#fff\" stroke=\"{colour}\" stroke-width=\"1.1\"")
        }
        Marker::Plus | Marker::Cross => {
            format!("fill=\"none\" stroke=\"{colour}\" stroke-width=\"1.1\"")
        }
        _ => format!("fill=\"{colour}\" stroke=\"#fff\" stroke-width=\"0.4\""),
    };
    (path, style)
}

/// Shadings, drawn before everything else.
pub(super) fn draw_ground(writer: &mut SvgWriter, figure: &Figure, frame: &Frame) {
    let mut shaded = false;
    for layer in &figure.layers {
        if let Shape::Stage { from, to } = layer.shape {
            let (Some(left), Some(right)) = (frame.x(&figure.x, from), frame.x(&figure.x, to))
            else {
                continue;
            };
            let (left, right) = (left.max(frame.left), right.min(frame.right()));
            if shaded {
                writer.rectangle(left, frame.top, right - left, frame.height, "fill=\"#f1f0ec\"");
            }
            shaded = !shaded;
            if right < frame.right() - 0.5 {
                writer.line(
                    right,
                    frame.top,
                    right,
                    frame.bottom(),
                    "stroke=\"#8a8a86\" stroke-width=\"0.4\"",
                );
            }
        }
    }
}

/// One layer, inside the clipped frame. Labels in place are drawn later.
pub(super) fn draw_layer(writer: &mut SvgWriter, figure: &Figure, frame: &Frame, shape: &Shape) {
    match shape {
        Shape::Line { x, y, pen } => {
            let kept = columns_kept(&figure.x, x, y, COLUMNS);
            let points = kept.iter().map(|&index| frame.point(figure, x[index], y[index]));
            writer.path(&polyline(points), &pen_style(*pen));
        }
        Shape::Steps { x, y, pen } => {
            writer.path(&polyline(stepped(figure, frame, x, y).into_iter()), &pen_style(*pen));
        }
        Shape::Points { x, y, marker, ink } => {
            for (&x, &y) in x.iter().zip(y) {
                draw_marker(writer, frame.point(figure, x, y), *marker, *ink);
            }
        }
        Shape::ErrorBars { x, y, low, high, marker, ink } => {
            for index in 0..x.len() {
                draw_interval(writer, figure, frame, x[index], (low[index], high[index]), *ink);
                draw_marker(writer, frame.point(figure, x[index], y[index]), *marker, *ink);
            }
        }
        Shape::Band { x, low, high, ink } => draw_band(writer, figure, frame, (x, low, high), *ink),
        Shape::Bars { edges, heights, ink } => {
            draw_bars(writer, figure, frame, edges, heights, *ink)
        }
        Shape::VerticalRule { at, pen } => {
            if let Some(x) = frame.x(&figure.x, *at) {
                writer.line(x, frame.top, x, frame.bottom(), &pen_style(*pen));
            }
        }
        Shape::HorizontalRule { at, pen } => {
            if let Some(y) = frame.y(&figure.y, *at) {
                writer.line(frame.left, y, frame.right(), y, &pen_style(*pen));
            }
        }
        Shape::Words { .. } | Shape::Stage { .. } => {}
    }
}

/// Path data through points; a missing point breaks the line.
fn polyline(points: impl Iterator<Item = Option<(f64, f64)>>) -> String {
    let mut data = String::new();
    let mut pen_down = false;
    for point in points {
        match point {
            Some((x, y)) => {
                data.push(if pen_down { 'L' } else { 'M' });
                data.push_str(&format!("{} {}", coordinate(x), coordinate(y)));
                pen_down = true;
            }
            None => pen_down = false,
        }
    }
    data
}

fn stepped(figure: &Figure, frame: &Frame, x: &[f64], y: &[f64]) -> Vec<Option<(f64, f64)>> {
    let mut points = Vec::new();
    for index in 0..x.len() {
        if index > 0 {
            points.push(frame.point(figure, x[index], y[index - 1]));
        }
        points.push(frame.point(figure, x[index], y[index]));
    }
    points
}

fn draw_marker(writer: &mut SvgWriter, point: Option<(f64, f64)>, marker: Marker, ink: Ink) {
    if let Some((x, y)) = point {
        let (path, style) = marker_path(marker, ink, x, y, RADIUS);
        writer.path(&path, &style);
    }
}

fn draw_interval(
    writer: &mut SvgWriter,
    figure: &Figure,
    frame: &Frame,
    x: f64,
    (low, high): (f64, f64),
    ink: Ink,
) {
    let place = |value| frame.y(&figure.y, value);
    if let (Some(x), Some(low), Some(high)) = (frame.x(&figure.x, x), place(low), place(high)) {
        let style = pen_style(Pen::new(ink, Dash::Solid).wide(0.9));
        writer.line(x, low, x, high, &style);
        for end in [low, high] {
            writer.line(x - 2.2, end, x + 2.2, end, &style);
        }
    }
}

fn draw_band(
    writer: &mut SvgWriter,
    figure: &Figure,
    frame: &Frame,
    (x, low, high): (&[f64], &[f64], &[f64]),
    ink: Ink,
) {
    let upper = (0..x.len()).filter_map(|index| frame.point(figure, x[index], high[index]));
    let lower = (0..x.len()).rev().filter_map(|index| frame.point(figure, x[index], low[index]));
    let data = polyline(upper.chain(lower).map(Some));
    if !data.is_empty() {
        let style = format!(
            "fill=\"{0}\" fill-opacity=\"0.16\" stroke=\"{0}\" stroke-width=\"0.4\" stroke-opacity=\"0.6\"",
            ink.hex()
        );
        writer.path(&format!("{data}Z"), &style);
    }
}

fn draw_bars(
    writer: &mut SvgWriter,
    figure: &Figure,
    frame: &Frame,
    edges: &[f64],
    heights: &[f64],
    ink: Ink,
) {
    let ground = if figure.y.scale == Scale::Linear { 0.0 } else { figure.y.low };
    for (index, &height) in heights.iter().enumerate() {
        let corner = frame.point(figure, edges[index], height);
        let base = frame.point(figure, edges[index + 1], ground);
        if let (Some((left, top)), Some((right, bottom))) = (corner, base) {
            let style = format!(
                "fill=\"{0}\" fill-opacity=\"0.3\" stroke=\"{0}\" stroke-width=\"0.7\"",
                ink.hex()
            );
            writer.rectangle(left, top, right - left, bottom - top, &style);
        }
    }
}

/// Labels that stand at the thing they name.
pub(super) fn draw_labels(writer: &mut SvgWriter, figure: &Figure, frame: &Frame) {
    let lettering = Lettering::plain(8.5).haloed();
    draw_level_labels(writer, figure, frame);
    // At the foot, where curves that rise leave room.
    let mut rule_base = frame.bottom() - 6.0;
    for layer in figure.layers.iter().filter(|layer| !layer.label.is_empty()) {
        match layer.shape {
            Shape::Stage { from, to } => {
                draw_stage_label(writer, figure, frame, &layer.label, (from, to))
            }
            Shape::VerticalRule { at, .. } => {
                if let Some(x) = frame.x(&figure.x, at) {
                    let fits = x + 4.0 + lettering.width(&layer.label) < frame.right();
                    let (x, anchor) =
                        if fits { (x + 4.0, Anchor::Start) } else { (x - 4.0, Anchor::End) };
                    writer.text(x, rule_base, anchor, lettering, &layer.label);
                    // The next rule's label goes one line higher, in case the
                    // rules stand close together.
                    rule_base -= 11.0;
                }
            }
            Shape::Words { x, y } => {
                if let Some((x, y)) = frame.point(figure, x, y) {
                    let fits = x + 4.0 + lettering.width(&layer.label) < frame.right();
                    let (x, anchor) =
                        if fits { (x + 4.0, Anchor::Start) } else { (x - 4.0, Anchor::End) };
                    writer.text(x, (y - 4.0).max(frame.top + 9.0), anchor, lettering, &layer.label);
                }
            }
            _ => {}
        }
    }
}

/// Labels of horizontal lines at the right end, above their line where there
/// is room, moved apart where lines stand close together.
fn draw_level_labels(writer: &mut SvgWriter, figure: &Figure, frame: &Frame) {
    let lettering = Lettering::plain(8.5).haloed();
    let levels: Vec<(f64, &str)> = figure
        .layers
        .iter()
        .filter(|layer| !layer.label.is_empty())
        .filter_map(|layer| match layer.shape {
            Shape::HorizontalRule { at, .. } => {
                let y = frame.y(&figure.y, at)?;
                (y >= frame.top - 0.5 && y <= frame.bottom() + 0.5)
                    .then_some((y, layer.label.as_str()))
            }
            _ => None,
        })
        .collect();
    let wanted: Vec<f64> =
        levels.iter().map(|(y, _)| if y - frame.top > 14.0 { y - 6.5 } else { y + 7.5 }).collect();
    let heights = vec![10.0; levels.len()];
    // The names of stages stand along the top.
    let staged = figure.layers.iter().any(|layer| matches!(layer.shape, Shape::Stage { .. }));
    let top = frame.top + if staged { 14.0 } else { 1.0 };
    let places = super::spread(&wanted, &heights, 0.5, top, frame.bottom() - 1.0);
    for ((_, label), place) in levels.iter().zip(places) {
        writer.text(frame.right() - 4.0, place + 3.0, Anchor::End, lettering, label);
    }
}

fn draw_stage_label(
    writer: &mut SvgWriter,
    figure: &Figure,
    frame: &Frame,
    label: &str,
    (from, to): (f64, f64),
) {
    let (Some(left), Some(right)) = (frame.x(&figure.x, from), frame.x(&figure.x, to)) else {
        return;
    };
    let (left, right) = (left.max(frame.left), right.min(frame.right()));
    let lettering = Lettering::plain(8.5).slanted().haloed();
    let width = lettering.width(label);
    let centre = f64::midpoint(left, right);
    if width + 4.0 <= right - left {
        writer.text(centre, frame.top + 10.5, Anchor::Middle, lettering, label);
    } else if right - left > 9.0 {
        writer.upward_text(centre + 3.0, frame.top + 6.0 + width / 2.0, lettering, label);
    }
}
