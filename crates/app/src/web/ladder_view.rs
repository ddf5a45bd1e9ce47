//! The ladder beside a page: the drawing of the report, and under it every
//! mark in words that lead to their evidence.

use maud::{Markup, PreEscaped, html};
use report::ladder_figure::{WIDTH_PT, mark_places};
use study::Ladder;

use super::address;
use super::wording::shown;

/// Height of the drawing, points; the width is that of the report.
const HEIGHT_PT: f64 = 400.0;

/// The ladder of a case with its marks.
pub fn aside(ladder: &Ladder, id: &str) -> Markup {
    html! {
        aside.ladder aria-label="Ladder of leak sizes" {
            h2 { "Ladder" }
            p.headline { (shown(&ladder.headline)) }
            div.scroll.drawing tabindex="0" role="region" aria-label="Drawing of the ladder" {
                div.ladder-drawing {
                    (PreEscaped(report::ladder_figure::ladder_svg(ladder, "ladder", HEIGHT_PT)))
                    (places(ladder, id))
                }
            }
            p.evidence.needs-script role="status" {
                "Point at a mark, or go to it with the Tab key, to see its evidence."
            }
            (marks(ladder, id))
            p.quiet.state { "Axis: " (shown(&ladder.reference_state)) "; sccm at " (ladder.sccm_reference) "." }
        }
    }
}

/// The places of the marks above the drawing: each tells its evidence and leads
/// to it.
fn places(ladder: &Ladder, id: &str) -> Markup {
    let places = mark_places(ladder, HEIGHT_PT);
    let view = format!("0 0 {WIDTH_PT} {:.1}", places.height);
    html! {
        svg.ladder-marks viewBox=(view) role="group" aria-label="Marks of the ladder" {
            @for (mark, [left, top, width, height]) in ladder.marks.iter().zip(&places.marks) {
                @let evidence = match mark.evidence.as_str() {
                    "" => mark.track.word().to_owned(),
                    evidence => format!("{}; {evidence}", mark.track.word()),
                };
                @let says = format!("{}: {}", shown(&mark.label), shown(&evidence));
                a href=(address::of_case(id, &mark.link)) aria-label=(says) data-evidence=(says) {
                    rect x=(format!("{left:.1}")) y=(format!("{top:.1}")) rx="3"
                        width=(format!("{width:.1}")) height=(format!("{height:.1}")) {}
                    title { (says) }
                }
            }
        }
    }
}

fn marks(ladder: &Ladder, id: &str) -> Markup {
    html! {
        details.marks {
            summary { "Marks and their evidence" }
            ul {
                @for mark in ladder.marks.iter().rev() {
                    li {
                        a href=(address::of_case(id, &mark.link)) { (shown(&mark.label)) }
                        span.quiet { ", " (mark.track.word()) }
                        @if !mark.evidence.is_empty() { br; span.quiet { (shown(&mark.evidence)) } }
                    }
                }
                @for mark in &ladder.off_axis {
                    li { (shown(&mark.label)) " " span.quiet { "off the axis: " (shown(&mark.reason)) } }
                }
            }
        }
    }
}

/// The ladder as data.
pub fn twin(ladder: &Ladder) -> serde_json::Value {
    use crate::answer::{number, optional};
    serde_json::json!({
        "headline": ladder.headline,
        "reference_state": ladder.reference_state,
        "marks": ladder.marks.iter().map(|mark| serde_json::json!({
            "kind": mark.kind.word(),
            "track": mark.track.word(),
            "label": mark.label,
            "evidence": mark.evidence,
            "low_pa_m3_per_s": number(mark.low),
            "value_pa_m3_per_s": optional(mark.value),
            "high_pa_m3_per_s": number(mark.high),
            "step": mark.link,
        })).collect::<serde_json::Value>(),
        "off_axis": ladder.off_axis.iter().map(|mark| serde_json::json!({
            "label": mark.label, "reason": mark.reason,
        })).collect::<serde_json::Value>(),
    })
}
