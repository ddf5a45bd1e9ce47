//! The ladder as a drawing: one vertical logarithmic axis of leak size, what
//! is needed as a line across it, every other mark in its own column with its
//! words beside it.
//!
//! Shape, word and position carry the meaning; colour only helps. Marks and
//! scales come from [`study::Ladder`]; nothing is decided here.

mod glyphs;
mod labels;
mod layout;
mod scales;
mod wrap;

use study::Ladder;
use study::ladder::{LadderMark, MarkKind};

pub use wrap::wrapped;

use crate::document::{Column, DataTable, FigureBlock};
use crate::figure::SvgWriter;
use crate::number::{interval, significant};
use layout::Layout;

/// Width of the drawing, points.
pub const WIDTH_PT: f64 = 455.0;

/// The ladder as a figure of a document.
#[must_use]
pub fn ladder_figure(ladder: &Ladder, id: &str, height_pt: f64) -> FigureBlock {
    FigureBlock {
        id: id.to_string(),
        title: ladder.headline.trim_end_matches('.').to_string(),
        caption: format!(
            "The ladder of leak sizes. The dashed line is the leak that must be found; what is \
             proven has to stand at or below it. Bars show intervals. Axis: {}; sccm at {}.",
            ladder.reference_state, ladder.sccm_reference
        ),
        alt: alt_text(ladder),
        svg: ladder_svg(ladder, id, height_pt),
        width_pt: WIDTH_PT,
        source: Some(source_table(ladder, id)),
    }
}

/// The ladder as SVG.
#[must_use]
pub fn ladder_svg(ladder: &Ladder, id: &str, height_pt: f64) -> String {
    let layout = Layout::of(ladder, height_pt);
    let mut writer =
        SvgWriter::begin(id, WIDTH_PT, layout.height, &ladder.headline, &alt_text(ladder));
    glyphs::define_hatch(&mut writer, id);
    scales::draw_ground(&mut writer, ladder, &layout);
    scales::draw_scales(&mut writer, ladder, &layout);
    labels::draw(&mut writer, ladder, &layout);
    for mark in &ladder.marks {
        glyphs::draw(&mut writer, id, mark, &layout);
    }
    scales::draw_foot(&mut writer, ladder, &layout);
    writer.finish()
}

/// Where the marks stand in the drawing, points from its upper left corner.
#[derive(Debug, Clone, PartialEq)]
pub struct MarkPlaces {
    /// Height of the whole drawing; its width is [`WIDTH_PT`].
    pub height: f64,
    /// Left, top, width and height of each mark, in the order of the ladder.
    pub marks: Vec<[f64; 4]>,
}

/// Places of the marks, for a page that lets them be pointed at.
#[must_use]
pub fn mark_places(ladder: &Ladder, height_pt: f64) -> MarkPlaces {
    let layout = Layout::of(ladder, height_pt);
    let place = |mark: &LadderMark| {
        let (low, high) = (layout.y(mark.low), layout.y(mark.high));
        let middle = layout.middle(mark);
        let (top, bottom) = (high.min(middle) - 9.0, low.max(middle) + 9.0);
        [layout.x(mark) - 8.5, top, 17.0, bottom - top]
    };
    MarkPlaces { height: layout.height, marks: ladder.marks.iter().map(place).collect() }
}

/// What the ladder says, in sentences.
#[must_use]
pub fn alt_text(ladder: &Ladder) -> String {
    let mut text = format!("{} Axis: {}.", ladder.headline, ladder.reference_state);
    for mark in ladder.marks.iter().rev() {
        let place = if mark.low < mark.high {
            interval(mark.low, mark.high, 2, "Pa·m³/s")
        } else {
            format!("{} Pa·m³/s", significant(mark.high, 2))
        };
        text.push_str(&format!(
            " {} ({}, {}): {place}.",
            mark.label,
            mark.kind.word(),
            mark.track.word()
        ));
    }
    for mark in &ladder.off_axis {
        text.push_str(&format!(" Off the axis: {}, {}.", mark.label, mark.reason));
    }
    text
}

/// The numbers behind the ladder.
fn source_table(ladder: &Ladder, id: &str) -> DataTable {
    let columns = vec![
        Column::words("Mark", 2.0),
        Column::short("Kind"),
        Column::short("Track"),
        Column::number("Low (Pa·m³/s)"),
        Column::number("Value (Pa·m³/s)"),
        Column::number("High (Pa·m³/s)"),
    ];
    let mut table = DataTable::new(format!("{id}-numbers"), "Marks of the ladder", columns);
    for mark in &ladder.marks {
        table.push([
            mark.label.clone(),
            mark.kind.word().to_string(),
            mark.track.word().to_string(),
            significant(mark.low, 4),
            mark.value.map_or(String::new(), |value| significant(value, 4)),
            significant(mark.high, 4),
        ]);
    }
    table
}

/// The line across the ladder: what is needed on the air axis.
pub(crate) fn needed(ladder: &Ladder) -> Option<&LadderMark> {
    ladder
        .marks
        .iter()
        .find(|mark| mark.kind == MarkKind::Needed && mark.track == study::ladder::Track::GasSide)
}

#[cfg(test)]
mod tests;
#[cfg(test)]
pub(crate) use tests::every_kind;
