//! Method: the cycle, with a reason for every number.

use benchbook::Action;
use maud::{Markup, html};
use serde_json::{Value, json};
use study::{Case, Method, Step};

use super::work;
use crate::answer::{notes_json, number, optional};
use crate::web::frame::{self, CasePage};
use crate::web::wording::{plain, shown, three_or};
use crate::web::workbench::Workbench;
use crate::web::{address, notes_view};

/// The page.
pub fn page(workbench: &Workbench, case: &Case, head: Markup) -> Markup {
    let this = CasePage { case, step: Step::Method, has_plots: false, ladder_beside: true };
    let content = match &case.method {
        None => frame::not_yet(
            "No method yet",
            "The method is drawn up from the forecast: it sets the limits that the cycle leaves \
             open, and gives a reason for every number.",
            None,
        ),
        Some(method) => content(case, method),
    };
    let id = &case.input.id;
    let content = html! {
        (head)
        (content)
        @if workbench.may(Action::Work) {
            p.bar {
                a href={ (address::of_case(id, "edit")) "#cycle.sample_interval" } { "Change the cycle" }
                a href=(address::of_case(id, "design")) { "Search for a cycle" }
            }
        }
        (work::form_of_step(workbench, case, Step::Method))
    };
    frame::case_page(workbench, &this, content)
}

fn content(case: &Case, method: &Method) -> Markup {
    let longest = method.cycle.longest().s();
    html! {
        p.lead {
            "Version " (method.version) ". One cycle takes at most " strong { (plain(longest)) " s" }
            " and reads the pressure every " (plain(method.cycle.sample_interval.s()))
            " s, from a room at " (plain(method.cycle.ambient.pa())) " Pa."
        }
        (cycle(method))
        section {
            h2 { "Every number and its reason" }
            div.scroll tabindex="0" role="region" aria-label="Parameters" {
                table.list.reasons {
                    caption { "Parameters of method version " (method.version) }
                    thead { tr {
                        th scope="col" { "Parameter" }
                        th scope="col" { "Value" }
                        th scope="col" { "Reason" }
                    } }
                    tbody {
                        @for reason in &method.reasons {
                            tr {
                                th scope="row" { (shown(&reason.parameter)) }
                                td.value { (shown(&reason.value)) }
                                td { (shown(&reason.reason)) }
                            }
                        }
                    }
                }
            }
        }
        (notes_view::notes("Notes", &method.notes))
        p { a href=(address::of_case(&case.input.id, "design")) {
            "Search a quicker or finer cycle"
        } ": time against smallest leak, and the settings that still work." }
        p.next {
            span { "Next" } " "
            a href=(address::of_case(&case.input.id, "runs")) { "see the runs" }
        }
    }
}

/// The stages of each tier side by side.
fn cycle(method: &Method) -> Markup {
    html! {
        section {
            h2 { "Cycle" }
            @for (index, purposed) in method.cycle.tiers.iter().enumerate() {
                @let tier = &purposed.tier;
                div.tier {
                    h3 { "Tier " (index + 1) ": " (shown(&purposed.purpose)) }
                    ol.stages {
                        li {
                            span.stage { "evacuate" }
                            span.value { "to " (plain(tier.evacuate_to.pa())) " Pa" }
                            span.quiet { "at most " (plain(tier.evacuate_limit.s())) " s" }
                            span.limit {
                                "reach limit " (three_or(tier.reach_limit.map(|limit| limit.pa()), "not set"))
                                @if tier.reach_limit.is_some() { " Pa" }
                            }
                        }
                        li {
                            span.stage { "settle" }
                            span.value { (plain(tier.settle.s())) " s" }
                            span.quiet { "pump shut off" }
                        }
                        li {
                            span.stage { "measure" }
                            span.value { (plain(tier.measure.s())) " s" }
                            span.quiet { "the rise counts" }
                            span.limit {
                                "rise limit " (three_or(tier.rise_limit.map(|limit| limit.pa()), "not set"))
                                @if tier.rise_limit.is_some() { " Pa" }
                            }
                        }
                        li { span.stage { "vent" } span.quiet { "to the room" } }
                    }
                }
            }
        }
    }
}

/// Its twin.
pub fn twin(case: &Case) -> Value {
    let Some(method) = &case.method else {
        return json!({ "case": case.input.id, "version": null });
    };
    json!({
        "case": case.input.id,
        "version": method.version,
        "longest_s": number(method.cycle.longest().s()),
        "sample_interval_s": number(method.cycle.sample_interval.s()),
        "ambient_pa": number(method.cycle.ambient.pa()),
        "tiers": method.cycle.tiers.iter().map(|purposed| json!({
            "purpose": purposed.purpose,
            "evacuate_to_pa": number(purposed.tier.evacuate_to.pa()),
            "evacuate_limit_s": number(purposed.tier.evacuate_limit.s()),
            "reach_limit_pa": optional(purposed.tier.reach_limit.map(|limit| limit.pa())),
            "settle_s": number(purposed.tier.settle.s()),
            "measure_s": number(purposed.tier.measure.s()),
            "rise_limit_pa": optional(purposed.tier.rise_limit.map(|limit| limit.pa())),
        })).collect::<Value>(),
        "reasons": method.reasons.iter().map(|reason| json!({
            "parameter": reason.parameter, "value": reason.value, "reason": reason.reason,
        })).collect::<Value>(),
        "notes": notes_json(&method.notes),
    })
}
