//! The mark of each kind: every kind has its own shape.

use study::ladder::{LadderMark, MarkKind};

use super::layout::Layout;
use crate::figure::{Dash, Ink, Marker, Pen, SvgWriter, identifier, marker_path, pen_style};

/// Slanted lines for what is out of reach.
pub(super) fn define_hatch(writer: &mut SvgWriter, id: &str) {
    let id = identifier(id);
    writer.raw(&format!(
        "<defs><pattern id=\"{id}-hatch\" width=\"4\" height=\"4\" patternUnits=\"userSpaceOnUse\" \
         patternTransform=\"rotate(45)\"><line x1=\"0\" y1=\"0\" x2=\"0\" y2=\"4\" stroke=\"{}\" \
         stroke-width=\"1\"/></pattern></defs>",
        Ink::Rust.hex()
    ));
}

/// Draws one mark in its column.
pub(super) fn draw(writer: &mut SvgWriter, id: &str, mark: &LadderMark, layout: &Layout) {
    let x = layout.x(mark);
    let (low, high) = (layout.y(mark.low), layout.y(mark.high));
    let value = layout.middle(mark);
    match mark.kind {
        MarkKind::Needed => draw_needed(writer, mark, layout),
        MarkKind::ForecastWindow => {
            let style = format!(
                "fill=\"{0}\" fill-opacity=\"0.2\" stroke=\"{0}\" stroke-width=\"1\"",
                Ink::Slate.hex()
            );
            writer.rectangle(x - 6.0, high, 12.0, low - high, &style);
        }
        MarkKind::HeadspaceLimit => {
            let style = format!(
                "fill=\"url(#{}-hatch)\" stroke=\"{}\" stroke-width=\"0.9\"",
                identifier(id),
                Ink::Rust.hex()
            );
            writer.rectangle(x - 6.0, high, 12.0, low - high, &style);
        }
        MarkKind::PositiveControl => {
            writer.line(x, low, x, high, &pen_style(Pen::new(Ink::Rust, Dash::Solid).wide(0.9)));
            for end in [low, high] {
                point(writer, Marker::OpenTriangle, Ink::Rust, x, end, 3.4);
            }
        }
        MarkKind::FlowDetectionLimit => {
            interval(writer, Ink::Teal, Dash::Solid, x, low, high);
            point(writer, Marker::Ring, Ink::Teal, x, value, 4.0);
        }
        MarkKind::Proven => {
            interval(writer, Ink::Black, Dash::Solid, x, low, high);
            point(writer, Marker::Disc, Ink::Black, x, value, 4.2);
        }
        MarkKind::Claim => {
            interval(writer, Ink::Black, Dash::Solid, x, low, high);
            point(writer, Marker::Diamond, Ink::Black, x, value, 4.2);
        }
        MarkKind::Storage => {
            point(writer, Marker::OpenSquare, Ink::Rust, x, value, 3.6);
        }
        MarkKind::Microbial => {
            interval(writer, Ink::Plum, Dash::Dotted, x, low, high);
            point(writer, Marker::Cross, Ink::Plum, x, value, 3.6);
        }
    }
}

/// What is needed: a line across the whole ladder on the air axis, a short
/// line within its strip elsewhere.
fn draw_needed(writer: &mut SvgWriter, mark: &LadderMark, layout: &Layout) {
    let y = layout.middle(mark);
    let gas = mark.track == study::ladder::Track::GasSide;
    let strip = layout.strips.iter().find(|(track, _, _)| *track == mark.track);
    let (left, right) = match strip {
        Some((_, left, right)) if !gas => (*left, *right),
        _ => (layout.left, layout.right),
    };
    if mark.high > mark.low {
        let (top, bottom) = (layout.y(mark.high), layout.y(mark.low));
        let style = format!("fill=\"{}\" fill-opacity=\"0.12\"", Ink::Plum.hex());
        writer.rectangle(left, top, right - left, bottom - top, &style);
    }
    writer.line(left, y, right, y, &pen_style(Pen::new(Ink::Plum, Dash::Dashed).wide(1.6)));
}

fn interval(writer: &mut SvgWriter, ink: Ink, dash: Dash, x: f64, low: f64, high: f64) {
    if low - high > 0.5 {
        writer.line(x, low, x, high, &pen_style(Pen::new(ink, dash).wide(1.4)));
        for end in [low, high] {
            writer.line(x - 4.0, end, x + 4.0, end, &pen_style(Pen::new(ink, Dash::Solid)));
        }
    }
}

fn point(writer: &mut SvgWriter, marker: Marker, ink: Ink, x: f64, y: f64, radius: f64) {
    let (path, style) = marker_path(marker, ink, x, y, radius);
    writer.path(&path, &style);
}
