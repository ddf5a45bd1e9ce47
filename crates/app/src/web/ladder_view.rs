//! The ladder beside a page: the drawing of the report, and under it every
//! mark in words that lead to their evidence.

use maud::{Markup, PreEscaped, html};
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
                (PreEscaped(report::ladder_figure::ladder_svg(ladder, "ladder", HEIGHT_PT)))
            }
            (marks(ladder, id))
            p.quiet.state { "Axis: " (shown(&ladder.reference_state)) "; sccm at " (ladder.sccm_reference) "." }
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
