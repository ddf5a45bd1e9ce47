//! The words beside the marks, with a thin line to each.

use study::Ladder;
use study::ladder::LadderMark;

use super::layout::Layout;
use super::wrap::FOR_WIDER_LETTERS;
use super::{needed, wrapped};
use crate::figure::{Anchor, Lettering, SvgWriter, spread};

const NAME: Lettering = Lettering::bold(8.6);
const EVIDENCE: Lettering = Lettering::plain(7.8).filled("#4a4945");
const NAME_LEADING: f64 = 10.5;
const EVIDENCE_LEADING: f64 = 9.5;

struct Label<'a> {
    mark: &'a LadderMark,
    names: Vec<String>,
    evidence: Vec<String>,
}

impl Label<'_> {
    fn height(&self) -> f64 {
        self.names.len() as f64 * NAME_LEADING + self.evidence.len() as f64 * EVIDENCE_LEADING
    }
}

fn label(mark: &LadderMark, width: f64, with_evidence: bool) -> Label<'_> {
    let evidence = if with_evidence { mark.evidence.as_str() } else { "" };
    Label {
        mark,
        names: wrapped(&mark.label, width, NAME),
        evidence: wrapped(evidence, FOR_WIDER_LETTERS * width, EVIDENCE),
    }
}

/// Draws words and leaders; nothing overlaps as long as there is room.
pub(super) fn draw(writer: &mut SvgWriter, ladder: &Ladder, layout: &Layout) {
    let width = layout.right - layout.words_left - 6.0;
    let detailed = |mark| label(mark, width, true);
    // Where all words do not fit, the evidence goes: it stands in the table of
    // numbers as well, the names must be read here.
    let needed_height: f64 = ladder.marks.iter().map(|mark| detailed(mark).height() + 6.0).sum();
    let with_evidence = needed_height < layout.bottom - layout.top - 24.0;
    let label = |mark| label(mark, width, with_evidence);
    let across = needed(ladder).map(label);
    let others: Vec<Label> = ladder
        .marks
        .iter()
        .filter(|mark| across.as_ref().is_none_or(|label| !std::ptr::eq(label.mark, *mark)))
        .map(label)
        .collect();
    match &across {
        None => draw_group(
            writer,
            layout,
            &others.iter().collect::<Vec<_>>(),
            layout.top + 2.0,
            layout.bottom - 2.0,
        ),
        Some(line) => {
            // Its words stand right above the line, unless there is no room.
            let y = layout.middle(line.mark);
            let height = line.height();
            let above = y - 4.0 - height >= layout.top;
            let first = if above { y - 4.0 - height } else { y + 4.0 };
            draw_words(writer, layout, line, first);
            let (ceiling, floor) =
                if above { (first - 5.0, y + 4.0) } else { (y - 4.0, first + height + 5.0) };
            let (upper, lower): (Vec<&Label>, Vec<&Label>) =
                others.iter().partition(|label| layout.middle(label.mark) < y);
            let (upper, lower) = balanced(layout, upper, lower, (ceiling, floor));
            draw_group(writer, layout, &upper, layout.top + 15.0, ceiling);
            draw_group(writer, layout, &lower, floor, layout.bottom - 1.0);
        }
    }
}

/// Moves words across the line where one side has no room for all of them.
fn balanced<'a, 'b>(
    layout: &Layout,
    mut upper: Vec<&'a Label<'b>>,
    mut lower: Vec<&'a Label<'b>>,
    (ceiling, floor): (f64, f64),
) -> (Vec<&'a Label<'b>>, Vec<&'a Label<'b>>) {
    let needs = |group: &[&Label]| group.iter().map(|label| label.height() + 4.0).sum::<f64>();
    let by_height =
        |a: &&Label, b: &&Label| layout.middle(a.mark).total_cmp(&layout.middle(b.mark));
    upper.sort_by(by_height);
    lower.sort_by(by_height);
    while !upper.is_empty()
        && needs(&upper) > ceiling - layout.top - 15.0
        && needs(&lower) < layout.bottom - floor
    {
        if let Some(label) = upper.pop() {
            lower.insert(0, label);
        }
    }
    while !lower.is_empty()
        && needs(&lower) > layout.bottom - floor
        && needs(&upper) < ceiling - layout.top - 15.0
    {
        upper.push(lower.remove(0));
    }
    (upper, lower)
}

fn draw_group(writer: &mut SvgWriter, layout: &Layout, labels: &[&Label], low: f64, high: f64) {
    let wanted: Vec<f64> = labels.iter().map(|label| layout.middle(label.mark)).collect();
    let heights: Vec<f64> = labels.iter().map(|label| label.height()).collect();
    for (label, centre) in labels.iter().zip(spread(&wanted, &heights, 4.0, low, high)) {
        let first = centre - label.height() / 2.0;
        let start = layout.x(label.mark) + 7.0;
        let from = layout.middle(label.mark);
        let knee = layout.words_left - 10.0;
        let end = first + NAME_LEADING / 2.0;
        let leader = "fill=\"none\" stroke=\"#7a7974\" stroke-width=\"0.45\"";
        writer.line(start, from, knee, from, leader);
        writer.line(knee, from, layout.words_left - 2.5, end, leader);
        draw_words(writer, layout, label, first);
    }
}

fn draw_words(writer: &mut SvgWriter, layout: &Layout, label: &Label, first: f64) {
    let x = layout.words_left;
    let mut base = first;
    for line in &label.names {
        base += NAME_LEADING;
        writer.text(x, base - 2.2, Anchor::Start, NAME, line);
    }
    for line in &label.evidence {
        base += EVIDENCE_LEADING;
        writer.text(x, base - 2.0, Anchor::Start, EVIDENCE, line);
    }
}
