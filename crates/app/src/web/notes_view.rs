//! Notes with their next steps.

use maud::{Markup, html};
use study::{Note, Weight};

use super::wording::shown;

/// A list of notes; nothing where there are none.
pub fn notes(heading: &str, notes: &[Note]) -> Markup {
    html! {
        @if !notes.is_empty() {
            section.notes aria-label=(heading) {
                h2 { (heading) }
                ul {
                    @for note in notes {
                        li.note.{ "note-" (class(note.weight)) } {
                            p {
                                strong.weight { (note.weight.word()) }
                                " " (shown(note.text.trim_end_matches('.'))) "."
                            }
                            @if !note.next_step.is_empty() {
                                p.next { span { "Next" } " " (shown(&note.next_step)) }
                            }
                        }
                    }
                }
            }
        }
    }
}

const fn class(weight: Weight) -> &'static str {
    match weight {
        Weight::Remark => "remark",
        Weight::Caution => "caution",
        Weight::Refusal => "refusal",
    }
}
