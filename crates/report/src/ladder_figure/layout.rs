//! Where the parts of the ladder stand.

use study::Ladder;
use study::ladder::{LadderMark, MarkKind, Track};

use super::wrap::FOR_WIDER_LETTERS;
use super::{WIDTH_PT, wrapped};
use crate::figure::{Axis, Lettering};

/// Width of one column of marks.
const COLUMN: f64 = 17.0;
/// Lettering of the lines below the axis.
pub(super) const FOOT: Lettering = Lettering::plain(8.0);

/// Places of the parts, points from the upper left corner.
pub(super) struct Layout {
    pub height: f64,
    pub left: f64,
    pub right: f64,
    pub top: f64,
    pub bottom: f64,
    pub axis: Axis,
    /// Track, left edge and right edge of its strip.
    pub strips: Vec<(Track, f64, f64)>,
    /// Where the words begin.
    pub words_left: f64,
    pub foot_lines: Vec<String>,
    columns: Vec<(Track, MarkKind, f64)>,
}

impl Layout {
    pub fn of(ladder: &Ladder, height: f64) -> Self {
        let foot_lines: Vec<String> = ladder
            .off_axis
            .iter()
            .flat_map(|mark| {
                let text = format!("Off the axis: {} ({})", mark.label, mark.reason);
                wrapped(&text, FOR_WIDER_LETTERS * (WIDTH_PT - 8.0), FOOT)
            })
            .collect();
        let foot = if foot_lines.is_empty() { 0.0 } else { 6.0 + 11.0 * foot_lines.len() as f64 };
        let (left, right) = (78.0, WIDTH_PT - 74.0);
        let (strips, columns, words_left) = columns(ladder, left);
        Self {
            height: height + foot,
            left,
            right,
            top: 34.0,
            bottom: height - 8.0,
            axis: Axis::logarithmic(
                "leak size",
                "Pa·m³/s",
                ladder.bottom_pa_m3_per_s,
                ladder.top_pa_m3_per_s,
            ),
            strips,
            words_left,
            foot_lines,
            columns,
        }
    }

    /// Height at which a throughput stands; values beyond the ends stand at
    /// the ends.
    pub fn y(&self, throughput: f64) -> f64 {
        let place = self.axis.place(throughput).unwrap_or(0.0).clamp(0.0, 1.0);
        self.bottom - place * (self.bottom - self.top)
    }

    /// Middle of the column of a mark.
    pub fn x(&self, mark: &LadderMark) -> f64 {
        self.columns
            .iter()
            .find(|(track, kind, _)| *track == mark.track && *kind == column_of(mark.kind))
            .map_or(self.left + COLUMN, |(_, _, x)| *x)
    }

    /// Middle of a mark's extent.
    pub fn middle(&self, mark: &LadderMark) -> f64 {
        match mark.value {
            Some(value) => self.y(value),
            None => f64::midpoint(self.y(mark.low), self.y(mark.high)),
        }
    }
}

/// What the headspace takes away continues the window's column.
const fn column_of(kind: MarkKind) -> MarkKind {
    match kind {
        MarkKind::HeadspaceLimit => MarkKind::ForecastWindow,
        other => other,
    }
}

type Columns = (Vec<(Track, f64, f64)>, Vec<(Track, MarkKind, f64)>, f64);

fn columns(ladder: &Ladder, left: f64) -> Columns {
    let order = [
        MarkKind::Microbial,
        MarkKind::Storage,
        MarkKind::ForecastWindow,
        MarkKind::PositiveControl,
        MarkKind::FlowDetectionLimit,
        MarkKind::Proven,
        MarkKind::Claim,
    ];
    let mut x = left + 5.0;
    let mut strips = Vec::new();
    let mut places = Vec::new();
    for track in [Track::GasSide, Track::LiquidSide, Track::Helium] {
        let on_track = || ladder.marks.iter().filter(|mark| mark.track == track);
        if on_track().next().is_none() && track != Track::GasSide {
            continue;
        }
        let start = x;
        for kind in order {
            if on_track().any(|mark| column_of(mark.kind) == kind) {
                places.push((track, kind, x + COLUMN / 2.0));
                x += COLUMN;
            }
        }
        // A track with nothing but what is needed, and room for its name.
        let longest = track.word().split(' ').map(|word| Lettering::plain(8.5).width(word));
        let least = longest.fold(0.0, f64::max) + 6.0;
        x = x.max(start + least);
        if on_track().any(|mark| mark.kind == MarkKind::Needed) {
            places.push((track, MarkKind::Needed, f64::midpoint(start, x)));
        }
        strips.push((track, start, x));
        x += 6.0;
    }
    (strips, places, x + 8.0)
}
