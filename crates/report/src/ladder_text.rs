//! The ladder for a terminal: the same marks in letters, no colour needed.

use study::Ladder;
use study::ladder::{LadderMark, MarkKind, Track};

use crate::figure::Axis;
use crate::logarithm::log10;
use crate::number::power_of_ten;
use crate::visible::visible;

/// Rows of the axis, about.
const ROWS: f64 = 26.0;
/// Width of the left scale.
const LEFT: usize = 7;
/// Width of the right scale.
const RIGHT: usize = 9;

/// The ladder in lines of at most `columns` characters (60 to 120; other
/// widths are taken to the nearer of these).
///
/// Every mark has its own sign, which stands again before its words.
#[must_use]
pub fn ladder_text(ladder: &Ladder, columns: usize) -> String {
    let columns = columns.clamp(60, 120);
    let rows = Rows::of(ladder);
    let mut grid = Grid::new(ladder, &rows, columns);
    grid.draw_scales(ladder, &rows);
    for mark in ladder.marks.iter().filter(|mark| mark.kind == MarkKind::Needed) {
        grid.draw_mark(mark, &rows);
    }
    for mark in ladder.marks.iter().filter(|mark| mark.kind != MarkKind::Needed) {
        grid.draw_mark(mark, &rows);
    }
    grid.draw_words(ladder, &rows);
    let mut lines = folded(&visible(&ladder.headline), columns, "");
    lines.push(String::new());
    lines.push(grid.heading());
    lines
        .extend(grid.cells.iter().map(|row| row.iter().collect::<String>().trim_end().to_string()));
    let axis = format!("Axis: {}.", ladder.reference_state);
    lines.push(String::new());
    lines.extend(folded(&visible(&axis), columns, "  "));
    for mark in &ladder.off_axis {
        lines.extend(folded(
            &visible(&format!("Off the axis: {} ({})", mark.label, mark.reason)),
            columns,
            "  ",
        ));
    }
    lines.push(String::new());
    lines.join("\n")
}

/// Sign of a kind of mark.
const fn sign(kind: MarkKind) -> char {
    match kind {
        MarkKind::Needed => '═',
        MarkKind::ForecastWindow => '▒',
        MarkKind::FlowDetectionLimit => '○',
        MarkKind::Proven => '●',
        MarkKind::PositiveControl => '△',
        MarkKind::HeadspaceLimit => '/',
        MarkKind::Claim => '◆',
        MarkKind::Microbial => '×',
        MarkKind::Storage => '□',
    }
}

/// Rows of the axis, from the top.
struct Rows {
    axis: Axis,
    count: usize,
}

impl Rows {
    fn of(ladder: &Ladder) -> Self {
        let axis = Axis::logarithmic("", "", ladder.bottom_pa_m3_per_s, ladder.top_pa_m3_per_s);
        let decades = log10(axis.high).unwrap_or(0.0) - log10(axis.low).unwrap_or(-3.0);
        let per_decade = (ROWS / decades.max(1.0)).floor().clamp(2.0, 8.0);
        Self { axis, count: (per_decade * decades).round().max(4.0) as usize + 1 }
    }

    fn row(&self, throughput: f64) -> usize {
        let place = self.axis.place(throughput).unwrap_or(0.0).clamp(0.0, 1.0);
        ((1.0 - place) * (self.count - 1) as f64).round() as usize
    }

    fn middle(&self, mark: &LadderMark) -> usize {
        match mark.value {
            Some(value) => self.row(value),
            None => usize::midpoint(self.row(mark.low), self.row(mark.high)),
        }
    }
}

struct Grid {
    cells: Vec<Vec<char>>,
    columns: usize,
    words_left: usize,
    places: Vec<(Track, MarkKind, usize)>,
    strips: Vec<(Track, usize, usize)>,
}

impl Grid {
    fn new(ladder: &Ladder, rows: &Rows, columns: usize) -> Self {
        let mut grid = Self {
            cells: vec![vec![' '; columns]; rows.count],
            columns,
            words_left: 0,
            places: Vec::new(),
            strips: Vec::new(),
        };
        let mut column = LEFT + 2;
        for track in [Track::GasSide, Track::LiquidSide, Track::Helium] {
            let mut kinds: Vec<MarkKind> = ladder
                .marks
                .iter()
                .filter(|mark| mark.track == track)
                .map(|mark| column_of(mark.kind))
                .collect();
            if kinds.is_empty() {
                continue;
            }
            kinds.sort_by_key(|kind| *kind as u8);
            kinds.dedup();
            let start = column;
            for kind in kinds.into_iter().filter(|kind| *kind != MarkKind::Needed) {
                grid.places.push((track, kind, column + 1));
                column += 2;
            }
            column = column.max(start + track_name(track).chars().count() + 1);
            grid.strips.push((track, start, column));
            column += 1;
        }
        grid.words_left = column + 1;
        grid
    }

    fn heading(&self) -> String {
        let mut line = vec![' '; self.columns];
        write(&mut line, 0, "Pa·m³/s");
        for (track, start, _) in &self.strips {
            write(&mut line, *start, track_name(*track));
        }
        write(&mut line, self.columns - RIGHT + 2, "µm");
        line.iter().collect::<String>().trim_end().to_string()
    }

    fn draw_scales(&mut self, ladder: &Ladder, rows: &Rows) {
        for row in &mut self.cells {
            row[LEFT] = '│';
            row[self.columns - RIGHT] = '│';
        }
        for tick in rows.axis.ticks(40).iter().filter(|tick| !tick.label.is_empty()) {
            let row = &mut self.cells[rows.row(tick.at)];
            let exponent = log10(tick.at).unwrap_or(0.0).round() as i32;
            let label = power_of_ten(exponent);
            write(row, LEFT - 1 - label.chars().count().min(LEFT - 1), &label);
            row[LEFT] = '┤';
        }
        for (um, throughput) in &ladder.um_ticks {
            let row = &mut self.cells[rows.row(*throughput)];
            row[self.columns - RIGHT] = '├';
            write(row, self.columns - RIGHT + 2, &crate::number::significant(*um, 1));
        }
    }

    fn draw_mark(&mut self, mark: &LadderMark, rows: &Rows) {
        let (top, bottom) = (rows.row(mark.high), rows.row(mark.low));
        if mark.kind == MarkKind::Needed {
            let strip = self.strips.iter().find(|(track, _, _)| *track == mark.track);
            let (start, end) = match strip {
                Some((track, start, end)) if *track != Track::GasSide => (*start, *end),
                _ => (LEFT + 1, self.columns - RIGHT),
            };
            self.cells[rows.middle(mark)][start..end].fill('═');
            return;
        }
        let place = self
            .places
            .iter()
            .find(|(track, kind, _)| *track == mark.track && *kind == column_of(mark.kind));
        let Some(&(_, _, column)) = place else { return };
        let solid = matches!(mark.kind, MarkKind::ForecastWindow | MarkKind::HeadspaceLimit);
        for row in top..=bottom {
            self.cells[row][column] = if solid { sign(mark.kind) } else { '│' };
        }
        match mark.value {
            Some(_) => self.cells[rows.middle(mark)][column] = sign(mark.kind),
            None if !solid => {
                self.cells[top][column] = sign(mark.kind);
                self.cells[bottom][column] = sign(mark.kind);
            }
            None => {}
        }
    }

    /// Words go to the row of their mark, or to the nearest free one.
    fn draw_words(&mut self, ladder: &Ladder, rows: &Rows) {
        let mut taken = vec![false; rows.count];
        let mut marks: Vec<&LadderMark> = ladder.marks.iter().collect();
        // What is needed stands on its line; the others make room for it.
        marks.sort_by_key(|mark| (mark.kind != MarkKind::Needed, rows.middle(mark)));
        for mark in marks {
            let wanted = rows.middle(mark);
            let free =
                (0..rows.count).filter(|row| !taken[*row]).min_by_key(|row| row.abs_diff(wanted));
            let Some(row) = free else { continue };
            taken[row] = true;
            let width = self.columns - RIGHT - 1 - self.words_left;
            let mut words = format!("{} {}", sign(mark.kind), visible(&mark.label));
            let with_evidence = format!("{words}: {}", visible(&mark.evidence));
            if !mark.evidence.is_empty() && with_evidence.chars().count() <= width {
                words = with_evidence;
            }
            if words.chars().count() > width {
                words = words.chars().take(width - 1).chain(['…']).collect();
            }
            words = words.replace('\n', " ");
            let line = &mut self.cells[row];
            // A gap on both sides where the words stand on the line.
            if line[self.words_left] == '═' {
                words.push(' ');
            }
            write(line, self.words_left, &words);
        }
    }
}

const fn column_of(kind: MarkKind) -> MarkKind {
    match kind {
        MarkKind::HeadspaceLimit => MarkKind::ForecastWindow,
        other => other,
    }
}

const fn track_name(track: Track) -> &'static str {
    match track {
        Track::GasSide => "gas",
        Track::LiquidSide => "liquid",
        Track::Helium => "helium",
    }
}

fn write(row: &mut [char], start: usize, text: &str) {
    for (cell, character) in row.iter_mut().skip(start).zip(text.chars()) {
        *cell = character;
    }
}

/// Words folded to a width, further lines indented.
fn folded(text: &str, width: usize, indent: &str) -> Vec<String> {
    let mut lines = Vec::new();
    let mut line = String::new();
    for word in text.split_whitespace() {
        if !line.trim().is_empty() && line.chars().count() + 1 + word.chars().count() > width {
            lines.push(std::mem::replace(&mut line, indent.to_string()));
        }
        if !line.trim().is_empty() {
            line.push(' ');
        }
        line.push_str(word);
    }
    lines.push(line);
    lines
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::ladder_figure::every_kind;

    #[test]
    fn no_line_is_wider_than_asked() {
        let ladder = every_kind();
        for columns in [10, 60, 72, 80, 100, 120, 500] {
            let text = ladder_text(&ladder, columns);
            let widest = text.lines().map(|line| line.chars().count()).max();
            assert!(widest <= Some(columns.clamp(60, 120)), "{columns}: {widest:?}\n{text}");
        }
    }

    #[test]
    fn every_mark_is_named_with_its_sign() {
        let ladder = every_kind();
        let text = ladder_text(&ladder, 100);
        for mark in &ladder.marks {
            let beginning: String = mark.label.chars().take(12).collect();
            assert!(
                text.contains(&format!("{} {beginning}", sign(mark.kind))),
                "{}\n{text}",
                mark.label
            );
        }
        assert!(text.contains("Off the axis"));
        assert!(text.starts_with("What is proven"));
    }

    #[test]
    fn what_is_proven_stands_below_what_is_needed() {
        let ladder = every_kind();
        let text = ladder_text(&ladder, 80);
        let line_of =
            |wanted: &str| text.lines().position(|line| line.contains(wanted)).expect(wanted);
        assert!(line_of("● proven") > line_of("═ needed"));
    }
}
