//! History: who did what, when, to which case. Readable by a person.

use maud::{Markup, html};
use serde_json::json;

use crate::web::address;
use crate::web::frame::{self, Page};
use crate::web::reply::{Answer, Reply};
use crate::web::wording::{counted, moment, shown};
use crate::web::workbench::Workbench;

/// Events on one page; older ones are reached by the link below them.
const ON_ONE_PAGE: usize = 200;

/// The audit trail, of one case where the query names it.
pub async fn reply(workbench: &Workbench, json: bool, query: &[(String, String)]) -> Answer {
    let case = address::value(query, "case").filter(|id| !id.is_empty());
    let events = workbench.benchbook.history(case).await.map_err(|error| Reply::failed(&error))?;
    if json {
        return Ok(Reply::Json(json!({
            "case": case,
            "events": events.iter().map(|event| json!({
                "number": event.number,
                "at": event.at,
                "actor": event.actor,
                "what": event.what,
                "case": event.case_id,
                "detail": event.detail,
            })).collect::<serde_json::Value>(),
        })));
    }
    let cases = workbench.benchbook.cases().await.map_err(|error| Reply::failed(&error))?;
    let twin = case.map_or_else(
        || "/history.json".to_owned(),
        |id| format!("/history.json?case={}", address::encoded(id)),
    );
    let facts = Page { title: "Audit trail", twin, has_plots: false, open: "Audit trail" };
    let before = address::number(query, "before").unwrap_or(f64::INFINITY);
    let older: Vec<_> =
        events.iter().rev().filter(|event| (event.number as f64) < before).collect();
    let rest = older.get(ON_ONE_PAGE - 1).filter(|_| older.len() > ON_ONE_PAGE);
    let body = html! {
        div.page-head {
            h1 { "Audit trail" }
            p.lead {
                "What was done to this benchbook, newest first. Entries are only ever added; \
                 nothing is altered or taken away."
            }
        }
        (chooser(&cases.iter().map(|case| case.id.clone()).collect::<Vec<_>>(), case))
        @if events.is_empty() {
            div.empty {
                h2 { "Nothing was recorded" }
                p { "No entry for this choice." }
                p.next { span { "Next" } " " a href="/history" { "see the history of every case" } }
            }
        } @else {
            p.quiet { (counted(events.len(), "entry").replace("entrys", "entries")) "." }
            div.scroll tabindex="0" role="region" aria-label="Audit trail" {
                table.list.history {
                    caption { "Audit trail" }
                    thead { tr {
                        th.num scope="col" { "No." }
                        th scope="col" { "When" }
                        th scope="col" { "Who" }
                        th scope="col" { "What" }
                        th scope="col" { "Case" }
                        th scope="col" { "Detail" }
                    } }
                    tbody {
                        @for event in older.iter().take(ON_ONE_PAGE) {
                            tr {
                                th.num scope="row" { (event.number) }
                                td.nowrap { time datetime=(shown(&event.at)) { (moment(&event.at)) } }
                                td { (shown(&event.actor)) }
                                td { (shown(&event.what)) }
                                td { @if let Some(id) = &event.case_id {
                                    a href=(address::of_case(id, "profile")) { (shown(id)) }
                                } }
                                td.detail { (shown(&event.detail)) }
                            }
                        }
                    }
                }
            }
            @if let Some(last) = rest {
                p.next { a href={ "/history?before=" (last.number) @if let Some(id) = case { "&case=" (address::encoded(id)) } } { "Older entries" } }
            }
        }
    };
    Ok(Reply::Page(frame::page(workbench, &facts, body)))
}

fn chooser(ids: &[String], chosen: Option<&str>) -> Markup {
    html! {
        form.filter method="get" action="/history" {
            label for="case" { "Case" }
            select #case name="case" {
                option value="" { "every case" }
                @for id in ids {
                    option value=(id) selected[chosen == Some(id.as_str())] { (shown(id)) }
                }
            }
            button type="submit" { "Show" }
        }
    }
}
