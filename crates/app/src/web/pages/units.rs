//! Units of a case: receipt, custody, conditioning, and the rule for a retest,
//! which is written before it is needed.

use benchbook::{Action, UnitRecord, UnitRecordKind};
use maud::{Markup, html};
use serde_json::json;
use study::{Case, Step};

use super::without_traces;
use crate::clock;
use crate::commands::records::unit;
use crate::web::address;
use crate::web::form::Form;
use crate::web::form_view::{self, Field};
use crate::web::frame::{self, CasePage};
use crate::web::refusals::Trouble;
use crate::web::reply::{Answer, Reply};
use crate::web::sheet::headings_row;
use crate::web::wording::shown;
use crate::web::workbench::Workbench;

const UNIT: Field<'_> =
    Field::needed("unit", "Unit", "Its number, or * for all units of the case.");
const ABOUT: Field<'_> = Field::needed("about", "What it is about", "");
const TEXT: Field<'_> = Field::needed("text", "Record", "");
const REASON: Field<'_> = Field::optional(
    "reason",
    "Reason",
    "Needed where the case is signed, and for a retest rule that comes after runs.",
);
const DONE: [(&str, &str); 1] = [("recorded", "It was recorded.")];

const ABOUTS: [(&str, &str); 4] = [
    ("receipt", "receipt: when it came in, from whom, in which state"),
    ("custody", "custody: who has it, and where"),
    ("conditioning", "conditioning: how it was brought to the conditions of the test"),
    ("retest-rule", "retest rule: when and how it is tested again"),
];

/// The page, or its twin.
pub async fn reply(
    workbench: &Workbench,
    id: &str,
    is_json: bool,
    query: &[(String, String)],
) -> Answer {
    let (case, records) = read(workbench, id).await?;
    if is_json {
        return Ok(Reply::Json(json!({ "case": id, "units": unit::as_json(&records) })));
    }
    let form = Form::of(&[("unit", "*")]);
    let done = address::value(query, "done");
    Ok(Reply::Page(page(workbench, &case, &records, &form, None, done)))
}

async fn read(workbench: &Workbench, id: &str) -> Result<(Case, Vec<UnitRecord>), Reply> {
    let records = workbench.benchbook.unit_records(id).await;
    let records = records.map_err(|error| Reply::failed(&error))?;
    Ok((without_traces(workbench, id).await?, records))
}

fn page(
    workbench: &Workbench,
    case: &Case,
    records: &[UnitRecord],
    form: &Form,
    trouble: Option<&Trouble>,
    done: Option<&str>,
) -> Markup {
    let this = CasePage { case, step: Step::Runs, has_plots: false, ladder_beside: false };
    let id = &case.input.id;
    let content = html! {
        (form_view::done(done, &DONE))
        (form_view::trouble(trouble))
        section aria-labelledby="units" {
            h2 #units { "Records of the units" }
            @if records.is_empty() {
                p {
                    "Nothing is recorded yet. Write down here when the units came in, who has \
                     them, how they were conditioned, and, before the first run, when one is \
                     tested again."
                }
            } @else { (table(records)) }
        }
        @if workbench.may(Action::AddRuns) {
            section aria-labelledby="record" {
                h2 #record { "Record something" }
                (form_view::form(workbench, &address::of_case(id, "units"), "Record it", html! {
                    (UNIT.line("unit", form))
                    (ABOUT.choice("unit", form, &ABOUTS))
                    (TEXT.lines("unit", form))
                    (REASON.line("unit", form))
                }))
            }
        }
    };
    frame::case_page(workbench, &this, content)
}

fn table(records: &[UnitRecord]) -> Markup {
    form_view::wide_table(
        "Every record, oldest first",
        html! {
            (headings_row(&["#Event", "Unit", "About", "Record"]))
            tbody {
                @for one in records {
                    tr {
                        th.num scope="row" { (one.event) }
                        td { @if one.unit == "*" { "all" } @else { (shown(&one.unit)) } }
                        td.nowrap { (one.kind.word().replace('-', " ")) }
                        td.words { (shown(&one.text)) }
                    }
                }
            }
        },
    )
}

/// Records something of a unit.
pub async fn post(workbench: &Workbench, id: &str, form: &Form) -> Answer {
    let kind = UnitRecordKind::from_word(form.raw("about")).unwrap_or(UnitRecordKind::Receipt);
    let book = workbench.benchbook.because(&form.text("reason"));
    let (unit, text) = (form.text("unit"), form.text("text"));
    match book.record_unit(id, &unit, kind, &text, &clock::moment()).await {
        Ok(()) => Ok(Reply::Elsewhere(format!("{}?done=recorded", address::of_case(id, "units")))),
        Err(error) => {
            let trouble = Trouble::from(error);
            let (case, records) = read(workbench, id).await?;
            Err(Reply::PageWith {
                page: page(workbench, &case, &records, form, Some(&trouble), None),
                status: trouble.status,
                error: trouble.what,
                hint: trouble.next_step,
            })
        }
    }
}
