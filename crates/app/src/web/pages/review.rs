//! Review of the audit trail of a case: the changes that nobody has looked at
//! yet, and the record that somebody has.

use benchbook::{Action, AuditChange};
use maud::{Markup, html};
use serde_json::json;
use study::{Case, Step};

use super::without_traces;
use crate::commands::records::review;
use crate::web::address;
use crate::web::event_view;
use crate::web::form::Form;
use crate::web::form_view::{self, Field};
use crate::web::frame::{self, CasePage};
use crate::web::refusals::Trouble;
use crate::web::reply::{Answer, Reply};
use crate::web::sheet::headings_row;
use crate::web::wording::{counted, moment, shown};
use crate::web::workbench::Workbench;

const FINDING: Field<'_> = Field::needed(
    "finding",
    "Finding",
    "What you found, in words: that every change has its reason, or what does not.",
);

/// The page, or its twin.
pub async fn reply(workbench: &Workbench, id: &str, is_json: bool) -> Answer {
    let (case, changes) = read(workbench, id).await?;
    if is_json {
        let changes: serde_json::Value = changes.iter().map(review::as_json).collect();
        return Ok(Reply::Json(json!({ "case": id, "changes": changes })));
    }
    Ok(Reply::Page(page(workbench, &case, &changes, &Form::default(), None)))
}

async fn read(workbench: &Workbench, id: &str) -> Result<(Case, Vec<AuditChange>), Reply> {
    let changes = workbench.benchbook.changes_to_review(id).await;
    let changes = changes.map_err(|error| Reply::failed(&error))?;
    Ok((without_traces(workbench, id).await?, changes))
}

/// The page with what was wrong.
pub async fn refused(workbench: &Workbench, id: &str, form: &Form, trouble: Trouble) -> Answer {
    let (case, changes) = read(workbench, id).await?;
    Err(Reply::PageWith {
        page: page(workbench, &case, &changes, form, Some(&trouble)),
        status: trouble.status,
        error: trouble.what,
        hint: trouble.next_step,
    })
}

fn page(
    workbench: &Workbench,
    case: &Case,
    changes: &[AuditChange],
    form: &Form,
    trouble: Option<&Trouble>,
) -> Markup {
    let this = CasePage { case, step: Step::Report, has_plots: false, ladder_beside: false };
    let id = &case.input.id;
    let content = html! {
        (form_view::trouble(trouble))
        section aria-labelledby="changes" {
            h2 #changes { "Changes that nobody has reviewed" }
            p {
                @if changes.is_empty() {
                    "None: every change of this case stands in a recorded review. "
                } @else {
                    (counted(changes.len(), "change")) ". Those that replaced something earlier \
                     are marked: look at them first. "
                }
                a href=(address::of_case(id, "sign")) { "To signing" } ", "
                a href={ "/history?case=" (address::encoded(id)) } { "the whole audit trail of the case" } "."
            }
            @if !changes.is_empty() { (table(changes)) }
        }
        @if let Some(last) = changes.last() {
            @if workbench.may(Action::ReviewAuditTrail) {
                section aria-labelledby="record" {
                    h2 #record { "Record the review" }
                    (form_view::form(workbench, &address::of_case(id, "review"), "Record the review", html! {
                        (form_view::hidden("up_to", &last.event.number.to_string()))
                        (FINDING.lines("review", form))
                    }))
                }
            } @else {
                p.quiet { "A reviewer or an approver other than the author records the review." }
            }
        }
    };
    frame::case_page(workbench, &this, content)
}

fn table(changes: &[AuditChange]) -> Markup {
    form_view::wide_table(
        "Changes",
        html! {
            (headings_row(&["#No.", "When", "Who", "Kind", "Change"]))
            tbody {
                @for change in changes {
                    @let event = &change.event;
                    tr {
                        th.num scope="row" { (event.number) }
                        td.nowrap { time datetime=(shown(&event.at)) { (moment(&event.at)) } }
                        td { (shown(&event.actor)) }
                        td { @if change.changes_earlier_record { strong { "replaced" } } @else { "new" } }
                        td.detail { (event_view::sentence(event)) }
                    }
                }
            }
        },
    )
}
