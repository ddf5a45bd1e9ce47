//! Audit trail: who did what, when, to which case, and why. Readable by a
//! person, filtered, and kept as CSV or JSON.

use benchbook::HistoryEvent;
use intake::run_table::{Grid, GridColumn};
use maud::{Markup, html};
use serde_json::{Value, json};

use crate::web::address;
use crate::web::event_view;
use crate::web::frame::{self, Page};
use crate::web::reply::{Answer, Reply};
use crate::web::sheet::headings_row;
use crate::web::wording::{counted, moment, shown};
use crate::web::workbench::Workbench;

/// Events on one page; older ones are reached by the link below them.
const ON_ONE_PAGE: usize = 200;

/// What somebody wants to see of the audit trail.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
struct Filter {
    case: Option<String>,
    actor: Option<String>,
    what: Option<String>,
    from: Option<String>,
    to: Option<String>,
}

impl Filter {
    fn of(query: &[(String, String)]) -> Self {
        let given = |name: &str| {
            address::value(query, name)
                .map(str::trim)
                .filter(|text| !text.is_empty())
                .map(str::to_owned)
        };
        Self {
            case: given("case"),
            actor: given("actor"),
            what: given("what"),
            from: given("from"),
            to: given("to"),
        }
    }

    fn takes(&self, event: &HistoryEvent) -> bool {
        let day = event.at.get(..10).unwrap_or_default();
        // By the name as it is shown: what is hidden in it does not travel.
        let by = |wanted: &String| {
            *wanted == shown(&event.actor) || event.account.as_ref() == Some(wanted)
        };
        self.case.as_ref().is_none_or(|case| event.case_id.as_ref() == Some(case))
            && self.actor.as_ref().is_none_or(by)
            && self.what.as_ref().is_none_or(|what| *what == shown(&event.what))
            && self.from.as_ref().is_none_or(|from| day >= from.as_str())
            && self.to.as_ref().is_none_or(|to| day <= to.as_str())
    }

    /// The filter as a query, each pair after an `&`.
    fn query(&self) -> String {
        [
            ("case", &self.case),
            ("actor", &self.actor),
            ("what", &self.what),
            ("from", &self.from),
            ("to", &self.to),
        ]
        .into_iter()
        .filter_map(|(name, value)| {
            value.as_ref().map(|value| format!("&{name}={}", address::encoded(value)))
        })
        .collect()
    }

    /// The address of a form of the audit trail under this filter.
    fn address(&self, path: &str) -> String {
        match self.query().strip_prefix('&') {
            Some(query) => format!("{path}?{query}"),
            None => path.to_owned(),
        }
    }
}

/// An event as data.
pub fn event_json(event: &HistoryEvent) -> Value {
    json!({
        "number": event.number,
        "at": event.at,
        "actor": event.actor,
        "account": event.account,
        "what": event.what,
        "case": event.case_id,
        "detail": event.detail,
        "because": event.reason,
        "record": event.record,
        "subject": event.subject,
        "version": event.version,
        "old_sha256": event.old_sha256,
        "new_sha256": event.new_sha256,
    })
}

/// The events under a filter, and every event for the choices.
async fn read(workbench: &Workbench, filter: &Filter) -> Result<Vec<HistoryEvent>, Reply> {
    let case = filter.case.as_deref();
    workbench.benchbook.history(case).await.map_err(|error| match error {
        benchbook::BenchbookError::UnknownCase { .. } => {
            Reply::missing(error.to_string(), "see the audit trail of every case", "/history")
        }
        error => Reply::failed(&error),
    })
}

/// The audit trail as a table to keep.
pub async fn table(workbench: &Workbench, query: &[(String, String)]) -> Answer {
    let filter = Filter::of(query);
    let events: Vec<HistoryEvent> =
        read(workbench, &filter).await?.into_iter().filter(|event| filter.takes(event)).collect();
    let words = |name: &str, of: &dyn Fn(&HistoryEvent) -> Option<String>| {
        GridColumn::words(name, events.iter().map(|event| of(event).unwrap_or_default()).collect())
    };
    // Counts of events stay far below the whole numbers that f64 holds exactly.
    let numbers = events.iter().map(|event| Some(event.number as f64)).collect();
    let grid = Grid {
        name: "audit-trail".to_owned(),
        columns: vec![
            GridColumn::numbers("number", "", numbers),
            words("at", &|event| Some(event.at.clone())),
            words("actor", &|event| Some(event.actor.clone())),
            words("account", &|event| event.account.clone()),
            words("what", &|event| Some(event.what.clone())),
            words("case", &|event| event.case_id.clone()),
            words("detail", &|event| Some(event.detail.clone())),
            words("reason", &|event| event.reason.clone()),
            words("record", &|event| event.record.clone()),
            words("subject", &|event| event.subject.clone()),
            words("version", &|event| event.version.map(|version| version.to_string())),
            words("old_sha256", &|event| event.old_sha256.clone()),
            words("new_sha256", &|event| event.new_sha256.clone()),
        ],
    };
    Ok(Reply::Download {
        name: "audit-trail.csv".to_owned(),
        kind: "text/csv; charset=utf-8",
        bytes: grid.to_csv().into_bytes(),
    })
}

/// The audit trail, under the filter of the query.
pub async fn reply(workbench: &Workbench, json: bool, query: &[(String, String)]) -> Answer {
    let filter = Filter::of(query);
    let all = read(workbench, &filter).await?;
    let events: Vec<&HistoryEvent> = all.iter().filter(|event| filter.takes(event)).collect();
    let checkpoint =
        workbench.benchbook.checkpoint().await.map_err(|error| Reply::failed(&error))?;
    if json {
        return Ok(Reply::Json(json!({
            "case": filter.case,
            "checkpoint": { "events": checkpoint.size, "root": checkpoint.root_base64() },
            "events": events.iter().map(|event| event_json(event)).collect::<Value>(),
        })));
    }
    let cases = workbench.benchbook.cases().await.map_err(|error| Reply::failed(&error))?;
    let ids: Vec<String> = cases.into_iter().map(|case| case.id).collect();
    let facts = Page {
        title: "Audit trail",
        twin: filter.address("/history.json"),
        has_plots: false,
        open: "Audit trail",
    };
    let before = address::number(query, "before").unwrap_or(f64::INFINITY);
    let older: Vec<&HistoryEvent> =
        events.iter().rev().copied().filter(|event| (event.number as f64) < before).collect();
    let rest = older.get(ON_ONE_PAGE - 1).filter(|_| older.len() > ON_ONE_PAGE);
    let body = html! {
        (frame::page_head(
            "Audit trail",
            "What was done to this benchbook, newest first. Entries are only ever added; \
             nothing is altered or taken away.",
        ))
        (chooser(&ids, &all, &filter))
        @if events.is_empty() {
            div.empty {
                h2 { "Nothing was recorded" }
                p { "No entry for this choice." }
                p.next { span { "Next" } " " a href="/history" { "see every entry" } }
            }
        } @else {
            p.quiet {
                (counted(events.len(), "entry")) ". Keep them: "
                a href=(filter.address("/history.csv")) { "as CSV" } ", "
                a href=(filter.address("/history.json")) { "as JSON" } "."
            }
            (rows(&older))
            @if let Some(last) = rest {
                p.next { a href={ "/history?before=" (last.number) (filter.query()) } { "Older entries" } }
            }
        }
        section.checkpoint aria-labelledby="checkpoint" {
            h2 #checkpoint { "Checkpoint" }
            p {
                "The log holds " (counted(usize::try_from(checkpoint.size).unwrap_or(usize::MAX), "entry"))
                ", with the root " code { (checkpoint.root_base64()) } ". Kept elsewhere, it shows any \
                 later change of the past:"
            }
            pre tabindex="0" { code { "isobar verify FILE --against CHECKPOINT" } }
        }
    };
    Ok(Reply::Page(frame::page(workbench, &facts, body)))
}

fn rows(events: &[&HistoryEvent]) -> Markup {
    html! {
        div.scroll tabindex="0" role="region" aria-label="Audit trail" {
            table.list.history {
                caption { "Audit trail" }
                (headings_row(&["#No.", "When", "What", "Who", "Case"]))
                tbody {
                    @for event in events.iter().take(ON_ONE_PAGE) {
                        tr {
                            th.num scope="row" { (event.number) }
                            td.when { time datetime=(shown(&event.at)) { (moment(&event.at)) } }
                            td.detail { (event_view::sentence(event)) }
                            td {
                                (shown(&event.actor))
                                @if let Some(account) = &event.account { br; span.quiet { (shown(account)) } }
                            }
                            td { @if let Some(id) = &event.case_id {
                                a href=(address::of_case(id, "profile")) { (shown(id)) }
                            } }
                        }
                    }
                }
            }
        }
    }
}

fn chooser(ids: &[String], all: &[HistoryEvent], filter: &Filter) -> Markup {
    let mut actors: Vec<String> = all
        .iter()
        .map(|event| event.account.clone().unwrap_or_else(|| shown(&event.actor)))
        .collect();
    actors.sort();
    actors.dedup();
    let mut kinds: Vec<String> = all.iter().map(|event| shown(&event.what)).collect();
    kinds.sort();
    kinds.dedup();
    let choice = |name: &str,
                  label: &str,
                  every: &str,
                  options: &[String],
                  chosen: &Option<String>| {
        html! {
            label for=(name) { (label) }
            select id=(name) name=(name) {
                option value="" { (every) }
                @for option in options {
                    option value=(option) selected[chosen.as_ref() == Some(option)] { (shown(option)) }
                }
            }
        }
    };
    let day = |name: &str, label: &str, value: &Option<String>| {
        html! {
            label for=(name) { (label) }
            input type="date" id=(name) name=(name) value=[value.as_ref()];
        }
    };
    html! {
        form.filter method="get" action="/history" {
            (choice("case", "Case", "every case", ids, &filter.case))
            (choice("actor", "Who", "everybody", &actors, &filter.actor))
            (choice("what", "What", "everything", &kinds, &filter.what))
            (day("from", "From", &filter.from))
            (day("to", "to", &filter.to))
            button type="submit" { "Show" }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_filter_reads_what_it_writes_and_takes_what_it_says() {
        let query = address::query(Some("case=a+b&actor=x&what=signed&from=2026-01-01&to="));
        let filter = Filter::of(&query);
        assert_eq!(filter.to, None);
        let again = Filter::of(&address::query(filter.query().strip_prefix('&')));
        assert_eq!(again, filter);
        let event = HistoryEvent {
            number: 1,
            at: "2026-01-01T00:00:00Z".to_owned(),
            actor: "Xenia".to_owned(),
            what: "signed".to_owned(),
            case_id: Some("a b".to_owned()),
            detail: String::new(),
            old_sha256: None,
            new_sha256: None,
            record: None,
            subject: None,
            version: None,
            account: Some("x".to_owned()),
            reason: None,
        };
        assert!(filter.takes(&event));
        assert!(
            !filter.takes(&HistoryEvent { at: "2025-12-31T23:59:59Z".to_owned(), ..event.clone() })
        );
        assert!(!filter.takes(&HistoryEvent { account: None, ..event.clone() }));
        assert!(!filter.takes(&HistoryEvent { what: "run added".to_owned(), ..event.clone() }));
        assert!(!filter.takes(&HistoryEvent { case_id: None, ..event }));
    }
}
