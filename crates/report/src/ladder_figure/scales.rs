//! Scales, ground and foot of the ladder.

use study::Ladder;

use super::layout::{FOOT, Layout};
use super::needed;
use crate::figure::{Anchor, Lettering, SvgWriter};
use crate::logarithm::log10;
use crate::number::{power_of_ten, significant};

const TICK_TEXT: Lettering = Lettering::plain(8.5);
const HEAD: Lettering = Lettering::plain(8.5).filled("#4a4945");
const AXIS: &str = "stroke=\"#1a1a1a\" stroke-width=\"0.8\"";
const TICK: &str = "stroke=\"#1a1a1a\" stroke-width=\"0.6\"";
const MINOR: &str = "stroke=\"#1a1a1a\" stroke-width=\"0.35\"";

/// Tint of the sizes that must be found, strips of the tracks, decade lines.
pub(super) fn draw_ground(writer: &mut SvgWriter, ladder: &Ladder, layout: &Layout) {
    if let Some(mark) = needed(ladder) {
        let y = layout.y(mark.low);
        let height = y - layout.top;
        writer.rectangle(
            layout.left,
            layout.top,
            layout.right - layout.left,
            height,
            "fill=\"#f3f1ea\"",
        );
        if height > 22.0 {
            let lettering = Lettering::plain(8.5).slanted().filled("#6b6962");
            writer.text(
                layout.right - 5.0,
                layout.top + 10.5,
                Anchor::End,
                lettering,
                "sizes that must be found",
            );
        }
    }
    for tick in layout.axis.ticks(40).iter().filter(|tick| !tick.label.is_empty()) {
        let y = layout.y(tick.at);
        // The words stay free of lines.
        let grid = "stroke=\"#d3d1ca\" stroke-width=\"0.4\"";
        writer.line(layout.left, y, layout.words_left - 8.0, y, grid);
        writer.line(layout.right - 5.0, y, layout.right, y, grid);
    }
    for (track, left, right) in &layout.strips {
        // One track needs no walls; several are kept apart by them.
        if layout.strips.len() > 1 {
            let style = "stroke=\"#8a8a86\" stroke-width=\"0.5\" stroke-dasharray=\"1 2\"";
            writer.line(right + 3.0, layout.top, right + 3.0, layout.bottom, style);
        }
        // Words above one another, as many as the name has.
        let words: Vec<&str> = track.word().split(' ').collect();
        let middle = f64::midpoint(*left, *right);
        for (index, word) in words.iter().rev().enumerate() {
            let base = layout.top - 5.0 - 9.5 * index as f64;
            writer.text(middle, base, Anchor::Middle, HEAD.slanted(), word);
        }
    }
}

/// Throughput on the left, flow-equivalent diameter and standard flow on the
/// right.
pub(super) fn draw_scales(writer: &mut SvgWriter, ladder: &Ladder, layout: &Layout) {
    let (left, right) = (layout.left, layout.right);
    writer.line(left, layout.top, left, layout.bottom, AXIS);
    writer.line(right, layout.top, right, layout.bottom, AXIS);
    for tick in layout.axis.ticks(40) {
        let y = layout.y(tick.at);
        if tick.label.is_empty() {
            writer.line(left - 2.0, y, left, y, MINOR);
            continue;
        }
        let exponent = log10(tick.at).unwrap_or(0.0).round() as i32;
        writer.line(left - 4.0, y, left, y, TICK);
        writer.text(left - 7.0, y + 2.9, Anchor::End, TICK_TEXT, &power_of_ten(exponent));
        // 1 Pa·m³/s is 10 mbar·L/s.
        writer.text(left - 40.0, y + 2.9, Anchor::End, TICK_TEXT, &power_of_ten(exponent + 1));
    }
    writer.text(left - 7.0, 10.0, Anchor::End, HEAD, "Pa·m³/s");
    writer.text(left - 40.0, 10.0, Anchor::End, HEAD, "mbar·L/s");
    writer.text(right + 7.0, 10.0, Anchor::Start, HEAD, "µm");
    writer.text(right + 7.0, 20.0, Anchor::Start, HEAD, "(flow)");
    writer.text(right + 74.0, 10.0, Anchor::End, HEAD, "sccm");
    for (um, throughput) in on_axis(&ladder.um_ticks, layout) {
        let y = layout.y(throughput);
        writer.line(right, y, right + 4.0, y, TICK);
        writer.text(right + 7.0, y + 2.9, Anchor::Start, TICK_TEXT, &significant(um, 1));
    }
    for (sccm, throughput) in on_axis(&ladder.sccm_ticks, layout) {
        let y = layout.y(throughput);
        writer.line(right + 40.0, y, right + 44.0, y, TICK);
        let exponent = log10(sccm).unwrap_or(0.0).round() as i32;
        let label = if (-2..=3).contains(&exponent) {
            significant(sccm, 1)
        } else {
            power_of_ten(exponent)
        };
        writer.text(right + 47.0, y + 2.9, Anchor::Start, TICK_TEXT, &label);
    }
    writer.line(
        right + 40.0,
        layout.top,
        right + 40.0,
        layout.bottom,
        "stroke=\"#1a1a1a\" stroke-width=\"0.5\"",
    );
}

fn on_axis<'a>(
    ticks: &'a [(f64, f64)],
    layout: &'a Layout,
) -> impl Iterator<Item = (f64, f64)> + 'a {
    let inside = |throughput: f64| {
        layout.axis.place(throughput).is_some_and(|place| (-1e-9..=1.0 + 1e-9).contains(&place))
    };
    ticks.iter().copied().filter(move |(_, throughput)| inside(*throughput))
}

/// What has no place on the axis.
pub(super) fn draw_foot(writer: &mut SvgWriter, _ladder: &Ladder, layout: &Layout) {
    let mut base = layout.bottom + 18.0;
    for line in &layout.foot_lines {
        writer.text(4.0, base, Anchor::Start, FOOT, line);
        base += 11.0;
    }
}
