//! The printer for paper and pages: one figure as SVG, text as text.

use super::frame::{LABEL_SIZE, TICK_SIZE};
use super::svg_writer::{Anchor, Lettering, SvgWriter, coordinate, identifier};
use super::{Figure, FigureError, Frame, Scale, key, svg_layers};

const AXIS: &str = "stroke=\"#1a1a1a\" stroke-width=\"0.7\"";
const TICK: &str = "stroke=\"#1a1a1a\" stroke-width=\"0.6\"";
const MINOR_TICK: &str = "stroke=\"#1a1a1a\" stroke-width=\"0.35\"";
const GRID: &str = "stroke=\"#dcdbd6\" stroke-width=\"0.4\"";

/// Draws a figure.
///
/// The caption is not part of the drawing; document and page set it as text.
///
/// # Errors
/// [`FigureError`] where the figure's axes or columns do not allow it.
pub fn svg(figure: &Figure) -> Result<String, FigureError> {
    figure.check()?;
    let frame = Frame::of(figure);
    let mut writer =
        SvgWriter::begin(&figure.id, figure.width_pt, figure.height_pt, &figure.title, &figure.alt);
    key::draw(&mut writer, figure, &frame);
    svg_layers::draw_ground(&mut writer, figure, &frame);
    draw_grid(&mut writer, figure, &frame);
    open_clip(&mut writer, figure, &frame);
    for (index, layer) in figure.layers.iter().enumerate() {
        writer.raw(&format!("<g data-layer=\"{index}\">"));
        svg_layers::draw_layer(&mut writer, figure, &frame, &layer.shape);
        writer.raw("</g>");
    }
    writer.raw("</g>");
    draw_axes(&mut writer, figure, &frame);
    draw_second_scales(&mut writer, figure, &frame);
    svg_layers::draw_labels(&mut writer, figure, &frame);
    Ok(writer.finish())
}

/// Data is cut at the frame, with room for half a marker at its edge.
fn open_clip(writer: &mut SvgWriter, figure: &Figure, frame: &Frame) {
    let id = identifier(&figure.id);
    let [left, top, width, height] =
        [frame.left - 3.0, frame.top - 3.0, frame.width + 6.0, frame.height + 6.0].map(coordinate);
    writer.raw(&format!(
        "<clipPath id=\"{id}-clip\"><rect x=\"{left}\" y=\"{top}\" width=\"{width}\" \
         height=\"{height}\"/></clipPath>"
    ));
    writer.raw(&format!("<g clip-path=\"url(#{id}-clip)\">"));
}

/// Faint lines at labelled ticks, vertical direction only on log axes.
fn draw_grid(writer: &mut SvgWriter, figure: &Figure, frame: &Frame) {
    for tick in figure.y.ticks(6).iter().filter(|tick| !tick.label.is_empty()) {
        if let Some(y) = frame.y(&figure.y, tick.at) {
            writer.line(frame.left, y, frame.right(), y, GRID);
        }
    }
    if figure.x.scale == Scale::Logarithmic {
        for tick in figure.x.ticks(8).iter().filter(|tick| !tick.label.is_empty()) {
            if let Some(x) = frame.x(&figure.x, tick.at) {
                writer.line(x, frame.top, x, frame.bottom(), GRID);
            }
        }
    }
}

fn draw_axes(writer: &mut SvgWriter, figure: &Figure, frame: &Frame) {
    writer.line(frame.left, frame.bottom(), frame.right(), frame.bottom(), AXIS);
    writer.line(frame.left, frame.top, frame.left, frame.bottom(), AXIS);
    let lettering = Lettering::plain(TICK_SIZE);
    let bottom = frame.bottom();
    for tick in figure.x.ticks(8) {
        let Some(x) = frame.x(&figure.x, tick.at) else { continue };
        if tick.label.is_empty() {
            writer.line(x, bottom, x, bottom + 2.0, MINOR_TICK);
        } else {
            writer.line(x, bottom, x, bottom + 4.0, TICK);
            writer.text(x, bottom + 13.0, Anchor::Middle, lettering, &tick.label);
        }
    }
    for tick in figure.y.ticks(6) {
        let Some(y) = frame.y(&figure.y, tick.at) else { continue };
        if tick.label.is_empty() {
            writer.line(frame.left - 2.0, y, frame.left, y, MINOR_TICK);
        } else {
            writer.line(frame.left - 4.0, y, frame.left, y, TICK);
            writer.text(frame.left - 6.5, y + 2.9, Anchor::End, lettering, &tick.label);
        }
    }
    let label = Lettering::plain(LABEL_SIZE);
    let centre = frame.left + frame.width / 2.0;
    writer.text(centre, bottom + 28.0, Anchor::Middle, label, &figure.x.text());
    let middle = frame.top + frame.height / 2.0;
    writer.upward_text(11.0, middle, label, &figure.y.text());
}

fn draw_second_scales(writer: &mut SvgWriter, figure: &Figure, frame: &Frame) {
    let lettering = Lettering::plain(TICK_SIZE);
    let label = Lettering::plain(LABEL_SIZE);
    if let Some(scale) = &figure.top {
        writer.line(frame.left, frame.top, frame.right(), frame.top, AXIS);
        for tick in &scale.ticks {
            if let Some(x) = frame
                .x(&figure.x, tick.at)
                .filter(|x| *x >= frame.left - 0.1 && *x <= frame.right() + 0.1)
            {
                writer.line(x, frame.top - 4.0, x, frame.top, TICK);
                writer.text(x, frame.top - 6.5, Anchor::Middle, lettering, &tick.label);
            }
        }
        writer.text(
            frame.left + frame.width / 2.0,
            frame.top - 18.5,
            Anchor::Middle,
            label,
            &scale.label,
        );
    }
    if let Some(scale) = &figure.right {
        writer.line(frame.right(), frame.top, frame.right(), frame.bottom(), AXIS);
        for tick in &scale.ticks {
            if let Some(y) = frame
                .y(&figure.y, tick.at)
                .filter(|y| *y >= frame.top - 0.1 && *y <= frame.bottom() + 0.1)
            {
                writer.line(frame.right(), y, frame.right() + 4.0, y, TICK);
                writer.text(frame.right() + 6.5, y + 2.9, Anchor::Start, lettering, &tick.label);
            }
        }
        writer.upward_text(
            figure.width_pt - 5.0,
            frame.top + frame.height / 2.0,
            label,
            &scale.label,
        );
    }
}
