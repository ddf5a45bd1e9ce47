//! Design: cycles that find the leak that matters, quick against fine. One of
//! them is taken into the case, with a reason.

use benchbook::Action;
use intake::case_file::write_case;
use maud::{Markup, html};
use serde_json::json;
use study::design::{Candidate, Design, DesignSettings};
use study::{Case, Step};

use super::report::apart;
use super::without_traces;
use super::work::{self, whole};
use crate::commands::design;
use crate::web::form::Form;
use crate::web::form_view::{self, Field};
use crate::web::frame::{self, CasePage};
use crate::web::notes_view::notes;
use crate::web::refusals::Trouble;
use crate::web::reply::{Answer, Reply};
use crate::web::sheet::headings_row;
use crate::web::wording::{shown, three, three_or};
use crate::web::workbench::Workbench;
use crate::web::{address, collision};

const UP_TO: Field<'_> = Field::needed(
    "up_to_um",
    "Largest leak that must be found (µm)",
    "Flow-equivalent; without a gap up to there.",
);
const LONGEST: Field<'_> = Field::needed("longest_s", "Longest cycle worth considering (s)", "");
const SHARE: Field<'_> = Field::needed(
    "share_percent",
    "Share of the draws in which it must work (%)",
    "Over everything that is uncertain.",
);
const SEED: Field<'_> = Field::needed("seed", "Seed", "");
const REASON: Field<'_> = Field::needed("reason", "Reason for the change", "");

/// The page, or its twin: nothing has been searched yet.
pub async fn reply(workbench: &Workbench, id: &str, is_json: bool) -> Answer {
    let case = without_traces(workbench, id).await?;
    if is_json {
        return Ok(Reply::Json(json!({ "case": id, "methods": [], "chosen": null })));
    }
    Ok(Reply::Page(page(workbench, &case, &usual(), None, None)))
}

fn usual() -> Form {
    Form::of(&[("up_to_um", "500"), ("longest_s", "120"), ("share_percent", "95"), ("seed", "1")])
}

fn page(
    workbench: &Workbench,
    case: &Case,
    form: &Form,
    trouble: Option<&Trouble>,
    found: Option<&Design>,
) -> Markup {
    let this = CasePage { case, step: Step::Method, has_plots: false, ladder_beside: false };
    let here = address::of_case(&case.input.id, "design");
    let content = html! {
        (form_view::trouble(trouble))
        @if let Some(found) = found { (front(workbench, case, found)) }
        section.work aria-labelledby="search" {
            h2 #search { "Search for a cycle" @if found.is_some() { " again" } }
            p {
                "Vacuum, settling and measuring times are tried against each other. What is shown \
                 is quick against fine: none of the others is both quicker and finer. It may take \
                 a minute, and nothing is recorded."
            }
            (form_view::form(workbench, &here, "Search", html! {
                (UP_TO.whole("design", form, 1, 5000))
                (LONGEST.whole("design", form, 6, 3600))
                (SHARE.whole("design", form, 1, 100))
                (SEED.whole("design", form, 1, u32::MAX))
            }))
        }
    };
    frame::case_page(workbench, &this, content)
}

fn front(workbench: &Workbench, case: &Case, found: &Design) -> Markup {
    html! {
        section.answer aria-label="What the search found" {
            p.label { (found.n_considered) " cycles considered" }
            p.big {
                @match found.chosen_candidate() {
                    Some(one) => {
                        (three(one.tight_time_s)) " s, from "
                        (three_or(one.smallest_um, "no size")) " µm"
                    }
                    None => { "none fits" }
                }
            }
        }
        (form_view::wide_table("Quick against fine", html! {
            (headings_row(&["Cycle: to, evacuate+settle+measure", "#Time of a tight unit (s)", "#Smallest (µm)", "#Up to (µm)", "#Works in (%)", "Take it"]))
            tbody {
                @for (index, one) in found.front.iter().enumerate() {
                    tr {
                        th scope="row" {
                            (shown(&design::in_words(&one.cycle)))
                            @if found.chosen == Some(index) { " " span.tag { "chosen" } }
                        }
                        td.num { (three(one.tight_time_s)) }
                        td.num { (three_or(one.smallest_um, "none")) }
                        td.num { @if one.largest_beyond { "over " } (three_or(one.largest_um, "")) }
                        td.num { (one.share_of_draws.map(|share| three(share * 100.0)).unwrap_or_default()) }
                        td { (take(workbench, case, one, index)) }
                    }
                }
            }
        }))
        (notes("Notes of the search", &found.notes))
    }
}

/// The form that takes a cycle into the case: the same as a change by hand.
fn take(workbench: &Workbench, case: &Case, one: &Candidate, index: usize) -> Markup {
    let mut designed = case.input.clone();
    designed.cycle = one.cycle.clone();
    let group = format!("take-{index}");
    html! {
        @if workbench.may(Action::Work) {
            details {
                summary { "Take" span.visually-hidden { " cycle " (index + 1) } }
                (form_view::form(workbench, &address::of_case(&case.input.id, "edit"), "Take this cycle", html! {
                    (form_view::hidden(collision::MADE_FROM, &collision::mark(&write_case(&case.input))))
                    (form_view::hidden("text", &write_case(&designed)))
                    (REASON.line(&group, &Form::default()))
                }))
            }
        }
    }
}

/// Searches.
pub async fn post(workbench: &Workbench, id: &str, form: &Form) -> Answer {
    if !workbench.may(Action::Work) {
        return Err(work::not_allowed(form));
    }
    let case = without_traces(workbench, id).await?;
    let refused = |trouble: Trouble| Reply::PageWith {
        page: page(workbench, &case, form, Some(&trouble), None),
        status: trouble.status,
        error: trouble.what,
        hint: trouble.next_step,
    };
    let settings = settings(form).map_err(refused)?;
    let found = {
        let input = case.input.clone();
        let _turn = workbench.server.long_work.acquire().await;
        apart(move || study::design(&input, &settings, &|_, _| {})).await?
    };
    let found = found.map_err(|error| {
        let next = "check the rig, the headspace and the numbers of the search";
        refused(Trouble::of_form(error.to_string(), next))
    })?;
    Ok(Reply::PageAndTwin {
        page: page(workbench, &case, form, None, Some(&found)),
        twin: design::json_of(&case.input, &found),
    })
}

fn settings(form: &Form) -> Result<DesignSettings, Trouble> {
    Ok(DesignSettings {
        up_to_um: f64::from(whole(form, &UP_TO, 1, 5000)?),
        longest_s: f64::from(whole(form, &LONGEST, 6, 3600)?),
        required_share: f64::from(whole(form, &SHARE, 1, 100)?) / 100.0,
        seed: u64::from(whole(form, &SEED, 1, u32::MAX)?),
        ..DesignSettings::default()
    })
}
