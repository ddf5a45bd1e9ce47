//! The case as a form: profile, rig and cycle, each number with its unit and
//! where it came from. A change makes a version, with its reason.

use benchbook::Action;
use intake::case_file::{read_case, write_case};
use maud::{Markup, html};
use serde_json::{Map, Value, json};
use study::{Case, CaseInput, Step};

use super::without_traces;
use crate::clock;
use crate::web::address;
use crate::web::case_fields::{
    self, FieldFault, GROUPS, Item, Kind, MOST_TIERS, SOURCED, TIER, name_of, tier_table,
};
use crate::web::collision::{self, Both};
use crate::web::form::Form;
use crate::web::form_view::{self, Field};
use crate::web::frame::{self, CasePage};
use crate::web::refusals::Trouble;
use crate::web::reply::{Answer, Reply};
use crate::web::wording::{counted, shown};
use crate::web::workbench::Workbench;

const REASON: Field<'_> =
    Field::needed("reason", "Reason for the change", "It stands in the audit trail.");
const TEXT: Field<'_> = Field::needed(
    "text",
    "Case file (TOML)",
    "The same words as the command line reads. The name of the case stays.",
);
const DONE: [(&str, &str); 1] = [(
    "begun",
    "The case was begun. Working values are marked as assumed: replace them by yours, with where \
     they came from.",
)];

fn link(id: &str) -> String {
    address::of_case(id, "edit")
}

/// The page, or its twin.
pub async fn reply(
    workbench: &Workbench,
    id: &str,
    is_json: bool,
    query: &[(String, String)],
) -> Answer {
    let case = without_traces(workbench, id).await?;
    if is_json {
        let fields: Map<String, Value> = case_fields::values(&case.input)
            .into_iter()
            .map(|(name, value)| (name, Value::String(value)))
            .collect();
        return Ok(Reply::Json(json!({
            "case": id, "fields": fields, "case_toml": write_case(&case.input),
        })));
    }
    let is_text = address::value(query, "as") == Some("text");
    let form = filled(&case.input, is_text);
    let done = address::value(query, "done");
    Ok(Reply::Page(page(workbench, &case, &form, is_text, &[], None, done)))
}

/// The case file, to keep or to give to the command line.
pub async fn case_file(workbench: &Workbench, id: &str) -> Answer {
    let case = without_traces(workbench, id).await?;
    Ok(Reply::Download {
        name: format!("{id}.toml"),
        kind: "application/toml",
        bytes: write_case(&case.input).into_bytes(),
    })
}

/// The form as the case stands.
fn filled(input: &CaseInput, is_text: bool) -> Form {
    let text = write_case(input);
    let mut fields = vec![(collision::MADE_FROM.to_owned(), collision::mark(&text))];
    if is_text {
        fields.push(("text".to_owned(), text));
    } else {
        fields.extend(case_fields::values(input));
    }
    let borrowed: Vec<(&str, &str)> =
        fields.iter().map(|(name, value)| (name.as_str(), value.as_str())).collect();
    Form::of(&borrowed)
}

fn page(
    workbench: &Workbench,
    case: &Case,
    form: &Form,
    is_text: bool,
    faults: &[FieldFault],
    trouble: Option<&Trouble>,
    done: Option<&str>,
) -> Markup {
    let this = CasePage { case, step: Step::Profile, has_plots: false, ladder_beside: false };
    let id = &case.input.id;
    let content = html! {
        (form_view::done(done, &DONE))
        (form_view::trouble(trouble))
        (faults_view(faults))
        p.bar {
            @if is_text { a href=(link(id)) { "As fields" } }
            @else { a href={ (link(id)) "?as=text" } { "As a text" } }
            a href=(address::of_case(id, "case.toml")) { "Keep the case file" }
            a href=(address::of_case(id, "profile")) { "Back without a change" }
        }
        @if !workbench.may(Action::Work) {
            p { "Cases are changed by an analyst; your account is none." }
        } @else {
            (edit_form(workbench, id, form, is_text, faults))
        }
    };
    frame::case_page(workbench, &this, content)
}

fn edit_form(
    workbench: &Workbench,
    id: &str,
    form: &Form,
    is_text: bool,
    faults: &[FieldFault],
) -> Markup {
    form_view::form(
        workbench,
        &link(id),
        "Record the change",
        html! {
            (form_view::hidden(collision::MADE_FROM, form.raw(collision::MADE_FROM)))
            @if is_text {
                (TEXT.lines("edit", form))
            } @else {
                @for group in GROUPS {
                    @let hint = group.optional.then_some("May stay empty as a whole.");
                    (form_view::group(group.heading, hint, html! {
                        @for item in group.items { (entry(group.table, item, form, faults)) }
                    }))
                }
                @for index in 0..tiers_shown(form) {
                    @let hint = (index > 0).then_some("Emptied as a whole, it is left out.");
                    (form_view::group(&format!("Tier {}", index + 1), hint, html! {
                        @for item in TIER { (entry(&tier_table(index), item, form, faults)) }
                    }))
                }
            }
            (REASON.line("edit", form))
        },
    )
}

/// The tiers that are there, and one to add.
fn tiers_shown(form: &Form) -> usize {
    let is_there = |index: &usize| {
        TIER.iter().any(|item| form.given(&name_of(&tier_table(*index), item.key)).is_some())
    };
    let last = (0..MOST_TIERS).filter(is_there).max().map_or(0, |last| last + 1);
    (last + 1).min(MOST_TIERS)
}

fn entry(table: &str, item: &Item, form: &Form, faults: &[FieldFault]) -> Markup {
    let name = name_of(table, item.key);
    if !item.kind.is_sourced() {
        return input(&name, item.label, item.hint, item.kind, form, faults);
    }
    html! {
        div.sourced role="group" aria-label=(item.label) {
            p.sourced-label { (item.label) }
            @for part in SOURCED {
                @let (label, hint, kind) = match part {
                    "value" => ("Value", item.hint, Kind::Text),
                    "uncertainty" => ("Standard uncertainty", "With its unit.", Kind::Text),
                    "source" => ("Known how", "", Kind::Word(case_fields::sources)),
                    "from" => ("From what", "", Kind::Text),
                    "by" => ("By whom", "", Kind::Text),
                    _ => ("On which day", "", Kind::Text),
                };
                (input(&format!("{name}.{part}"), label, hint, kind, form, faults))
            }
        }
    }
}

fn input(
    name: &str,
    label: &str,
    hint: &str,
    kind: Kind,
    form: &Form,
    faults: &[FieldFault],
) -> Markup {
    let of_field: Vec<&FieldFault> = faults.iter().filter(|fault| fault.field == name).collect();
    let is_wrong = !of_field.is_empty();
    let described = match (hint.is_empty(), is_wrong) {
        (true, false) => None,
        (false, false) => Some(format!("{name}-hint")),
        (_, true) => Some(format!("{name}-hint {name}-fault")),
    };
    let wrong = is_wrong.then_some("true");
    let text = form.text(name);
    html! {
        div.field.wrong[is_wrong] {
            @if kind.is_truth() {
                label {
                    input type="checkbox" name=(name) id=(name) value="yes" checked[!text.is_empty()]
                        aria-describedby=[described];
                    " " (label)
                }
                @if !hint.is_empty() { p.quiet.hint id={ (name) "-hint" } { (hint) } }
            } @else {
                label for=(name) { (label) }
                @if !hint.is_empty() { p.quiet.hint id={ (name) "-hint" } { (hint) } }
                @match kind {
                    Kind::Word(words) => {
                        select id=(name) name=(name) aria-describedby=[described] aria-invalid=[wrong] {
                            option value="" selected[text.is_empty()] { "not said" }
                            @for word in words() {
                                option value=(word) selected[text == word] { (word) }
                            }
                        }
                    }
                    Kind::Lines => {
                        textarea rows="2" id=(name) name=(name) aria-describedby=[described]
                            aria-invalid=[wrong] { (text) }
                    }
                    _ => {
                        input type="text" id=(name) name=(name) value=(text) autocomplete="off"
                            autocapitalize="none" spellcheck="false" aria-describedby=[described]
                            aria-invalid=[wrong];
                    }
                }
            }
            @for (index, fault) in of_field.iter().enumerate() {
                p.fault id=[(index == 0).then(|| format!("{name}-fault"))] { (shown(&fault.says)) }
            }
        }
    }
}

/// Every fault with a link to its field.
fn faults_view(faults: &[FieldFault]) -> Markup {
    html! {
        @if !faults.is_empty() {
            div.trouble role="alert" {
                p { strong { "Not done: " } (counted(faults.len(), "thing")) " must be mended. Nothing was recorded." }
                ul {
                    @for fault in faults {
                        li {
                            @if fault.field.is_empty() { (shown(&fault.says)) }
                            @else {
                                a href={ "#" (fault.field) } { (shown(&case_fields::label_of(&fault.field))) }
                                ": " (shown(&fault.says))
                            }
                        }
                    }
                }
            }
        }
    }
}

/// Records a change of the case.
pub async fn post(workbench: &Workbench, id: &str, form: &Form) -> Answer {
    let _change = workbench.server.one_change.lock().await;
    let case = without_traces(workbench, id).await?;
    let is_text = form.given("text").is_some();
    let refused = |faults: &[FieldFault], trouble: Option<Trouble>| {
        let first = faults.first().map(|fault| fault.says.clone());
        let (status, what, next) = match &trouble {
            Some(one) => (one.status, one.what.clone(), one.next_step.clone()),
            None => (
                axum::http::StatusCode::UNPROCESSABLE_ENTITY,
                first.unwrap_or_default(),
                "mend the fields that are named".to_owned(),
            ),
        };
        let page = page(workbench, &case, form, is_text, faults, trouble.as_ref(), None);
        Reply::PageWith { status, page, error: what, hint: next }
    };
    let read =
        if is_text { of_text(form, &case.input) } else { case_fields::read(form, &case.input) };
    let input = read.map_err(|faults| refused(&faults, None))?;
    let stands = write_case(&case.input);
    if collision::has_changed(form, &stands) {
        return Err(collided(workbench, &case.input, &input, form));
    }
    if input == case.input {
        let same =
            Trouble::of_form("nothing is different from the case as it stands", "change a field");
        return Err(refused(&[], Some(same)));
    }
    let Some(reason) = form.given("reason") else {
        let open =
            Trouble::of_form("a change of a case has a reason", "say why in the field Reason");
        return Err(refused(&[], Some(open)));
    };
    let book = workbench.benchbook.because(&reason);
    match book.record_input(&input, &clock::moment()).await {
        Ok(()) => Ok(Reply::Elsewhere(format!("{}?done=changed", address::of_case(id, "profile")))),
        Err(error) => Err(refused(&[], Some(Trouble::from(error)))),
    }
}

/// The case of a text; its name stays.
fn of_text(form: &Form, stands: &CaseInput) -> Result<CaseInput, Vec<FieldFault>> {
    let fault = |says: String| vec![FieldFault { field: String::new(), says }];
    let file = read_case(form.raw("text")).map_err(|refusal| {
        let all = refusal.messages().iter().filter(|message| message.is_refusal());
        all.map(|message| FieldFault { field: String::new(), says: message.to_string() })
            .collect::<Vec<_>>()
    })?;
    if file.input.id != stands.id {
        return Err(fault(format!(
            "the text names the case `{}`, and a case keeps its name, `{}`",
            file.input.id, stands.id
        )));
    }
    Ok(file.input)
}

/// Somebody else has changed the case: both stand side by side.
fn collided(workbench: &Workbench, now: &CaseInput, yours: &CaseInput, form: &Form) -> Reply {
    let (of_now, of_yours) = (case_fields::values(now), case_fields::values(yours));
    let text = |fields: &[(String, String)], name: &str| {
        fields.iter().find(|(known, _)| known == name).map(|(_, text)| text.clone())
    };
    let mut names: Vec<&String> = of_now.iter().map(|(name, _)| name).collect();
    names
        .extend(of_yours.iter().map(|(name, _)| name).filter(|name| text(&of_now, name).is_none()));
    let differ: Vec<Both> = names
        .into_iter()
        .filter_map(|name| {
            let (now, yours) = (text(&of_now, name), text(&of_yours, name));
            let both = (now.unwrap_or_default(), yours.unwrap_or_default());
            (both.0 != both.1).then(|| Both {
                what: case_fields::label_of(name),
                now: both.0,
                yours: both.1,
            })
        })
        .collect();
    let mut again = vec![
        (collision::MADE_FROM.to_owned(), collision::mark(&write_case(now))),
        ("reason".to_owned(), form.text("reason")),
        ("text".to_owned(), write_case(yours)),
    ];
    again.retain(|(_, text)| !text.is_empty());
    let borrowed: Vec<(&str, &str)> =
        again.iter().map(|(name, value)| (name.as_str(), value.as_str())).collect();
    let again = edit_form(workbench, &now.id, &Form::of(&borrowed), true, &[]);
    collision::reply(workbench, &format!("the case `{}`", now.id), &differ, again)
}
