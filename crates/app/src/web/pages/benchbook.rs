//! The benchbook: its cases, where each stands, and what comes next.

use benchbook::{Action, CaseSummary};
use maud::{Markup, html};
use serde_json::json;
use study::Step;

use crate::web::frame::{self, Page};
use crate::web::reply::{Answer, Reply};
use crate::web::wording::{counted, moment, shown};
use crate::web::workbench::Workbench;
use crate::web::{address, path_view};

/// Cases that are read as a whole for the sentence of their ladder; further
/// ones are listed without it, so that the list stays quick.
const WITH_HEADLINE: usize = 50;

/// The list of cases.
pub async fn reply(workbench: &Workbench, json: bool) -> Answer {
    let cases = workbench.benchbook.cases().await.map_err(|error| Reply::failed(&error))?;
    let mut headlines = Vec::new();
    for case in cases.iter().take(WITH_HEADLINE) {
        let case = workbench.case_without_traces(&case.id).await;
        let case = case.map_err(|error| Reply::failed(&error))?;
        headlines.push(study::ladder::headline(&case));
    }
    Ok(if json {
        Reply::Json(twin(workbench, &cases, &headlines))
    } else {
        Reply::Page(page(workbench, &cases, &headlines))
    })
}

fn twin(workbench: &Workbench, cases: &[CaseSummary], headlines: &[String]) -> serde_json::Value {
    json!({
        "benchbook": workbench.shown_name,
        "cases": cases.iter().enumerate().map(|(index, case)| json!({
            "headline": headlines.get(index),
            "id": case.id,
            "title": case.title,
            "invented": case.invented,
            "runs": case.n_runs,
            "next_step": path_view::part(case.next_step),
            "forecast_verdict": case.verdict,
            "changed_at": case.changed_at,
            "page": address::of_case(&case.id, path_view::part(case.next_step)),
        })).collect::<serde_json::Value>(),
    })
}

fn page(workbench: &Workbench, cases: &[CaseSummary], headlines: &[String]) -> Markup {
    let facts = Page {
        title: "Cases",
        twin: "/benchbook.json".to_owned(),
        has_plots: false,
        open: "Cases",
    };
    let invented = cases.iter().filter(|case| case.invented).count();
    let body = html! {
        @if invented > 0 {
            p.invented role="note" {
                strong { "Invented data." }
                " " (counted(invented, "case")) " of this benchbook "
                @if invented == 1 { "was" } @else { "were" }
                " made up to show the method; no figure is of a real product or instrument."
            }
        }
        (frame::page_head(
            "Cases",
            "A case is one container on its way from a question to an answer that can be \
             defended. Open one where it stands, or at any step.",
        ))
        @if workbench.may(Action::Work) && !cases.is_empty() {
            p.bar { a href="/new" { "Begin a new case" } }
        }
        @if cases.is_empty() { (empty()) } @else { (list(cases, headlines)) }
    };
    frame::page(workbench, &facts, body)
}

fn list(cases: &[CaseSummary], headlines: &[String]) -> Markup {
    html! {
        ul.cases {
            @for (index, case) in cases.iter().enumerate() {
                @let next = address::of_case(&case.id, path_view::part(case.next_step));
                li.case-card {
                    div.case-words {
                        p.case-id {
                            (shown(&case.id))
                            @if case.invented { " " span.tag { "invented" } }
                        }
                        h2 { a href=(next) { (shown(&case.title)) } }
                        @if let Some(headline) = headlines.get(index) {
                            p.headline { (shown(headline)) }
                        }
                        p {
                            @match &case.verdict {
                                Some(verdict) => {
                                    "Can vacuum decay see the leak that matters? Forecast: "
                                    strong { (shown(verdict)) } "."
                                }
                                None => { "Nobody has forecast yet what vacuum decay can see." }
                            }
                            " " (counted(usize::try_from(case.n_runs).unwrap_or(usize::MAX), "run")) "."
                        }
                        p.quiet { "Changed " (moment(&case.changed_at)) }
                    }
                    div.case-next {
                        p.next {
                            span { "Next" } " "
                            a href=(next) { (case.next_step.word()) }
                        }
                        p.quiet { (case.next_step.question()) }
                        (steps(case))
                    }
                }
            }
        }
    }
}

/// The seven steps as links, with those that are done marked.
fn steps(case: &CaseSummary) -> Markup {
    html! {
        ol.steps aria-label={ "Steps of " (shown(&case.id)) } {
            @for step in Step::ALL {
                li.done[step < case.next_step].next[step == case.next_step] {
                    a href=(address::of_case(&case.id, path_view::part(step))) { (step.word()) }
                }
            }
        }
    }
}

fn empty() -> Markup {
    html! {
        div.empty {
            h2 { "No case yet" }
            p {
                "A case begins with a question about a sealed container: will a vacuum-decay test \
                 find the leak that would let this product go bad?"
            }
            p.next { span { "Next" } " " a href="/new" { "begin a case from a container" } }
            p.quiet {
                "Or look at a worked case first: the same page adds one, invented and marked so. \
                 Three that are walked to their report are made by the command line:"
            }
            pre tabindex="0" { code { "isobar demo --into demo" } }
        }
    }
}
