//! The path of a case as its navigation: seven steps, each with its question.

use maud::{Markup, html};
use study::Step;

use super::address;

/// Last part of the address of a step.
pub const fn part(step: Step) -> &'static str {
    match step {
        Step::Profile => "profile",
        Step::Forecast => "forecast",
        Step::Method => "method",
        Step::Runs => "runs",
        Step::Results => "results",
        Step::Report => "report",
        Step::Upkeep => "upkeep",
    }
}

/// The step of a part of an address.
pub fn step_of(part_of_address: &str) -> Option<Step> {
    Step::ALL.into_iter().find(|&step| part(step) == part_of_address)
}

/// The path of a case, with the step that is open and the one that is next.
pub fn path(id: &str, open: Step, next: Step) -> Markup {
    html! {
        nav.path aria-label="Path of the case" {
            ol {
                @for (index, step) in Step::ALL.into_iter().enumerate() {
                    li.done[step < next].next[step == next] {
                        a href=(address::of_case(id, part(step)))
                            aria-current=[(step == open).then_some("page")] {
                            span.number aria-hidden="true" { (index + 1) }
                            span.word { (step.word()) }
                            span.state { (state(step, next)) }
                            span.question { (step.question()) }
                        }
                    }
                }
            }
        }
    }
}

fn state(step: Step, next: Step) -> &'static str {
    if step == Step::Upkeep {
        "not built yet"
    } else if step < next {
        "done"
    } else if step == next {
        "next"
    } else {
        "to come"
    }
}
