//! Register: positive controls and flow standards with their certificates,
//! checks and uses, and the rigs of the cases.

use std::sync::Arc;

use benchbook::{Action, Certificate, CheckKind, HistoryEvent, ItemKind, ItemState, RegisterItem};
use maud::{Markup, html};
use serde_json::{Value, json};
use study::Case;

use crate::clock;
use crate::commands::records::register;
use crate::web::address;
use crate::web::collision::{self, Both};
use crate::web::event_view;
use crate::web::form::Form;
use crate::web::form_view::{self, Field};
use crate::web::frame::{self, Page};
use crate::web::refusals::Trouble;
use crate::web::reply::{Answer, Reply};
use crate::web::sheet::headings_row;
use crate::web::wording::{counted, moment, shown, three};
use crate::web::workbench::Workbench;

const ID: Field<'_> =
    Field::needed("id", "Name", "As it is called in the laboratory, such as FS-1.");
const KIND: Field<'_> = Field::needed("kind", "What it is", "");
const DESCRIPTION: Field<'_> =
    Field::needed("description", "Description", "Container, place and kind of the leak.");
const NUMBER: Field<'_> = Field::optional("certificate", "Number of the certificate", "");
const ISSUED_BY: Field<'_> = Field::optional("issued_by", "Issued by", "");
const VALID_UNTIL: Field<'_> = Field::optional("valid_until", "Holds until", "Its last day.");
const VALUE: Field<'_> = Field::optional(
    "value",
    "Certified value",
    "With unit and reference state, such as 2.0e-3 std cm3/s@0C.",
);
const UNCERTAINTY: Field<'_> =
    Field::optional("uncertainty", "Expanded uncertainty", "With its coverage factor: 5 %, k = 2.");
const FILE: Field<'_> =
    Field::optional("file", "File of the certificate", "Kept byte for byte, up to 1 MiB.");
const DCC: Field<'_> = Field::optional(
    "dcc",
    "Digital calibration certificate (XML)",
    "Read and kept; then only its last day is needed above.",
);
const READING: Field<'_> = Field::needed("reading", "What was read", "With its unit.");
const OUTCOME: Field<'_> =
    Field::needed("passed", "Outcome", "Passed: it is what its certificate says.");
const TIMES: Field<'_> = Field::needed("times", "How often", "");
const REASON: Field<'_> = Field::needed("reason", "Reason", "It stands in the audit trail.");

const KINDS: [(&str, &str); 2] =
    [("flow_standard", "flow standard"), ("positive_control", "positive control")];
const DONE: [(&str, &str); 5] = [
    ("added", "The item was registered. Its arrival check comes next."),
    ("check", "The check was recorded."),
    ("use", "The uses were counted."),
    ("withdraw", "The item was withdrawn."),
    ("renew", "The certificate was renewed."),
];

const fn kind_words(kind: ItemKind) -> &'static str {
    match kind {
        ItemKind::PositiveControl => "positive control",
        ItemKind::FlowStandard => "flow standard",
    }
}

fn link(id: &str) -> String {
    format!("/register/{}", address::encoded(id))
}

/// The register or one of its items, or the twin.
pub async fn reply(
    workbench: &Workbench,
    is_json: bool,
    id: Option<&str>,
    query: &[(String, String)],
) -> Answer {
    let items = items(workbench).await?;
    let done = address::value(query, "done");
    let now = clock::moment().utc;
    let Some(id) = id else {
        return Ok(match is_json {
            true => Reply::Json(json!({ "items": register::as_json(&items, &now) })),
            false => {
                let rigs = rigs(workbench).await?;
                Reply::Page(list_page(workbench, &items, &rigs, &Form::default(), None, done))
            }
        });
    };
    let item = found(&items, id)?;
    let events = events(workbench, id).await?;
    if is_json {
        let mut value = register::as_json(std::slice::from_ref(item), &now)[0].take();
        value["events"] = events.iter().map(super::history::event_json).collect();
        return Ok(Reply::Json(value));
    }
    Ok(Reply::Page(item_page(workbench, item, &events, &Form::default(), None, done)))
}

async fn items(workbench: &Workbench) -> Result<Vec<RegisterItem>, Reply> {
    workbench.benchbook.register().await.map_err(|error| Reply::failed(&error))
}

fn found<'i>(items: &'i [RegisterItem], id: &str) -> Result<&'i RegisterItem, Reply> {
    items.iter().find(|item| item.id == id).ok_or_else(|| {
        let what = format!("the register has no `{id}`");
        Reply::missing(what, "look at the list of the register", "/register")
    })
}

/// What happened to an item.
async fn events(workbench: &Workbench, id: &str) -> Result<Vec<HistoryEvent>, Reply> {
    let all = workbench.benchbook.history(None).await.map_err(|error| Reply::failed(&error))?;
    let of_item = |event: &HistoryEvent| {
        event.record.as_deref() == Some("register") && event.subject.as_deref() == Some(id)
    };
    Ok(all.into_iter().filter(of_item).collect())
}

/// The cases, for their rigs.
async fn rigs(workbench: &Workbench) -> Result<Vec<Arc<Case>>, Reply> {
    let mut cases = Vec::new();
    for summary in workbench.benchbook.cases().await.map_err(|error| Reply::failed(&error))? {
        let case = workbench.case_without_traces(&summary.id).await;
        cases.push(case.map_err(|error| Reply::failed(&error))?);
    }
    Ok(cases)
}

fn list_page(
    workbench: &Workbench,
    items: &[RegisterItem],
    rigs: &[Arc<Case>],
    form: &Form,
    trouble: Option<&Trouble>,
    done: Option<&str>,
) -> Markup {
    let facts = Page {
        title: "Register",
        twin: "/register.json".to_owned(),
        has_plots: false,
        open: "Register",
    };
    let body = html! {
        (frame::page_head(
            "Register",
            "Positive controls and flow standards: what each is, what certifies it, and \
             whether it may be used today. Every step of its life stays visible.",
        ))
        (form_view::done(done, &DONE))
        (form_view::trouble(trouble))
        @if items.is_empty() {
            div.empty {
                h2 { "Nothing is registered yet" }
                p {
                    "A leak of certified flow, or a unit with a known leak, is registered when it \
                     comes in, checked on arrival, and counted each time it is used."
                }
            }
        } @else { (list(items)) }
        @if workbench.may(Action::KeepRegister) { (add_form(workbench, form)) }
        (rigs_view(rigs))
    };
    frame::page(workbench, &facts, body)
}

fn list(items: &[RegisterItem]) -> Markup {
    let now = clock::moment().utc;
    form_view::wide_table(
        "Positive controls and flow standards",
        html! {
            (headings_row(&["Name", "What it is", "Certified value", "Holds until", "#Uses", "May be used today"]))
            tbody {
                @for item in items {
                    tr {
                        th scope="row" { a href=(link(&item.id)) { (shown(&item.id)) } }
                        td { (kind_words(item.kind)) ": " (shown(&item.description)) }
                        @match &item.certificate {
                            Some(one) => {
                                td { (certified(one)) }
                                td.nowrap { (shown(&one.valid_until)) }
                            }
                            None => { td.quiet colspan="2" { "no certificate" } }
                        }
                        td.num { (item.uses) }
                        td {
                            @match item.hindrance(&now) {
                                None => { "yes" }
                                Some(why) => { strong { "no" } ": " (shown(&why)) }
                            }
                        }
                    }
                }
            }
        },
    )
}

fn certificate_fields(group: &str, form: &Form) -> Markup {
    html! {
        (NUMBER.line(group, form))
        (ISSUED_BY.line(group, form))
        (VALID_UNTIL.day(group, form))
        (VALUE.line(group, form))
        (UNCERTAINTY.line(group, form))
        (FILE.file(group))
        (DCC.file(group))
    }
}

fn add_form(workbench: &Workbench, form: &Form) -> Markup {
    html! {
        section aria-labelledby="add" {
            h2 #add { "Register an item that came in" }
            (form_view::form_with_files(workbench, "/register", "Register the item", html! {
                (ID.line("add", form))
                (KIND.choice("add", form, &KINDS))
                (DESCRIPTION.line("add", form))
                (certificate_fields("add", form))
            }))
        }
    }
}

fn rigs_view(cases: &[Arc<Case>]) -> Markup {
    html! {
        section aria-labelledby="rigs" {
            h2 #rigs { "Rigs" }
            p.quiet { "Rigs belong to the profile of their case; this is where each is used." }
            @if !cases.is_empty() {
                (form_view::wide_table("Rigs of the cases", html! {
                    (headings_row(&["Case", "Rig", "#Free volume (mL)", "#Runs"]))
                    tbody {
                        @for case in cases {
                            tr {
                                th scope="row" {
                                    a href=(address::of_case(&case.input.id, "profile")) { (shown(&case.input.id)) }
                                }
                                td { (shown(&case.input.rig.name)) }
                                td.num { (three(case.input.rig.free_volume.value.ml())) }
                                td.num { (case.runs.len()) }
                            }
                        }
                    }
                }))
            }
        }
    }
}

/// The certified value with its uncertainty, as they are printed on the
/// certificate.
fn certified(certificate: &Certificate) -> Markup {
    html! {
        (shown(&certificate.value))
        @if certificate.uncertainty == "not stated" {
            @if certificate.value != "not stated" {
                span.quiet { ", uncertainty not stated" }
            }
        } @else { span.quiet { " ± " (shown(&certificate.uncertainty)) } }
    }
}

/// From which state a form was made.
fn mark(item: &RegisterItem) -> String {
    register::as_json(std::slice::from_ref(item), "").to_string()
}

fn item_page(
    workbench: &Workbench,
    item: &RegisterItem,
    events: &[HistoryEvent],
    form: &Form,
    trouble: Option<&Trouble>,
    done: Option<&str>,
) -> Markup {
    let here = link(&item.id);
    let facts =
        Page { title: &item.id, twin: format!("{here}.json"), has_plots: false, open: "Register" };
    let hindrance = item.hindrance(&clock::moment().utc);
    let body = html! {
        div.page-head {
            p.case-id { a href="/register" { "Register" } }
            h1 { (shown(&item.id)) }
            p.lead { (kind_words(item.kind)) ": " (shown(&item.description)) }
        }
        (form_view::done(done, &DONE))
        (form_view::trouble(trouble))
        section.answer aria-label="May it be used today" {
            p.label { "May it be used today?" }
            p.big { @match &hindrance { None => { "Yes" } Some(why) => { "No: " (shown(why)) } } }
        }
        dl.facts {
            div { dt { "State" } dd { (item.state.words()) ", " (counted(item.uses as usize, "use")) } }
            @if let Some(one) = &item.certificate {
                div { dt { "Certificate" } dd {
                    (shown(&one.number)) ", issued by " (shown(&one.issued_by)) ", holds until "
                    (shown(&one.valid_until))
                } }
                div { dt { "Value" } dd { (certified(one)) } }
            } @else { div { dt { "Certificate" } dd { "none" } } }
            @if let Some(sha256) = &item.file_sha256 {
                div { dt { "File" } dd { a.download href={ (here) "/certificate" } { "Keep the file of the certificate" } br; "SHA-256 " code { (sha256) } } }
            }
            @if let Some(check) = &item.last_check {
                div { dt { "Last check" } dd {
                    @match check.kind { CheckKind::Arrival => { "on arrival" } CheckKind::Reverification => { "re-verification" } }
                    ", " (moment(&check.at)) ", " @if check.passed { "passed" } @else { "failed" }
                    ": " (shown(&check.reading))
                } }
            }
        }
        @if workbench.may(Action::KeepRegister) && item.state != ItemState::Retired {
            (event_forms(workbench, item, form))
        }
        section aria-labelledby="life" {
            h2 #life { "Its life" }
            ol.life {
                @for event in events {
                    li {
                        time.quiet datetime=(shown(&event.at)) { (moment(&event.at)) } " "
                        (event_view::sentence(event)) " " span.quiet { "By " (shown(&event.actor)) ", event " (event.number) "." }
                    }
                }
            }
        }
    };
    frame::page(workbench, &facts, body)
}

fn event_forms(workbench: &Workbench, item: &RegisterItem, form: &Form) -> Markup {
    let here = link(&item.id);
    let doing = form.text("doing");
    let empty = Form::default();
    let filled = |name: &str| if doing == name { form } else { &empty };
    let head = |name: &str| {
        html! {
            (form_view::hidden("doing", name))
            (form_view::hidden(collision::MADE_FROM, &collision::mark(&mark(item))))
        }
    };
    let arrival = item.state == ItemState::Arrived;
    html! {
        section aria-labelledby="record" {
            h2 #record { "Record what happened" }
            details open[doing == "check" || arrival] {
                summary { @if arrival { "Arrival check" } @else { "Re-verification" } }
                (form_view::form(workbench, &here, "Record the check", html! {
                    (head("check"))
                    (READING.line("check", filled("check")))
                    (OUTCOME.choice("check", filled("check"), &[
                        ("yes", "passed"),
                        ("no", "failed: suspected clogged"),
                    ]))
                }))
            }
            @if item.state == ItemState::InUse {
                details open[doing == "use"] {
                    summary { "Uses" }
                    (form_view::form(workbench, &here, "Count the uses", html! {
                        (head("use"))
                        (TIMES.count("use", &if doing == "use" { form.clone() } else { Form::of(&[("times", "1")]) }, 1000))
                    }))
                }
            }
            details open[doing == "withdraw"] {
                summary { "Clogging suspected, or retirement" }
                (form_view::form(workbench, &here, "Withdraw it", html! {
                    (head("withdraw"))
                    (Field::needed("to", "What becomes of it", "").choice("withdraw", filled("withdraw"), &[
                        ("suspected", "suspected clogged: not used before a passed re-verification"),
                        ("retired", "retired: used no more, for ever"),
                    ]))
                    (REASON.line("withdraw", filled("withdraw")))
                }))
            }
            details open[doing == "renew"] {
                summary { "Another certificate" }
                (form_view::form_with_files(workbench, &here, "Renew the certificate", html! {
                    (head("renew"))
                    (certificate_fields("renew", filled("renew")))
                    (REASON.line("renew", filled("renew")))
                }))
            }
        }
    }
}

/// A certificate and the bytes of its file.
type WithFile = (Certificate, Option<Arc<[u8]>>);

/// The certificate of a form and its file, typed or read from a digital one.
fn sent_certificate(form: &Form) -> Result<Option<WithFile>, Trouble> {
    let or_not_stated = |name: &str| form.given(name).unwrap_or_else(|| "not stated".to_owned());
    if let Some(file) = form.file("dcc") {
        let Some(valid_until) = form.given("valid_until") else {
            return Err(Trouble::of_form(
                "a digital certificate needs its last day",
                "fill the field Holds until",
            ));
        };
        let read = intake::calibration_certificate::read(&file.bytes).map_err(|error| {
            Trouble::of_form(format!("`{}`, {error}", file.name), error.next_step)
        })?;
        return Ok(Some((register::from_digital(&read, &valid_until), Some(file.bytes.clone()))));
    }
    let file = form.file("file").map(|file| file.bytes.clone());
    match (form.given("certificate"), form.given("valid_until")) {
        (Some(number), Some(valid_until)) => Ok(Some((
            Certificate {
                number,
                issued_by: or_not_stated("issued_by"),
                valid_until,
                value: or_not_stated("value"),
                uncertainty: or_not_stated("uncertainty"),
            },
            file,
        ))),
        (None, None) if file.is_none() => Ok(None),
        _ => Err(Trouble::of_form(
            "a certificate needs its number and its last day",
            "fill both fields, or neither",
        )),
    }
}

/// Registers an item.
pub async fn add(workbench: &Workbench, form: &Form) -> Answer {
    match added(workbench, form).await {
        Ok(id) => Ok(Reply::Elsewhere(format!("{}?done=added", link(&id)))),
        Err(trouble) => {
            let (items, rigs) = (items(workbench).await?, rigs(workbench).await?);
            Err(Reply::PageWith {
                page: list_page(workbench, &items, &rigs, form, Some(&trouble), None),
                status: trouble.status,
                error: trouble.what,
                hint: trouble.next_step,
            })
        }
    }
}

async fn added(workbench: &Workbench, form: &Form) -> Result<String, Trouble> {
    let kind = match form.raw("kind") {
        "positive_control" => ItemKind::PositiveControl,
        _ => ItemKind::FlowStandard,
    };
    let description = form.given("description").ok_or_else(|| {
        Trouble::of_form(
            "the description is missing",
            "say what it is: container, place and kind of the leak",
        )
    })?;
    let certificate = sent_certificate(form)?;
    let with_file = certificate.as_ref().map(|(one, file)| (one, file.as_deref()));
    let at = clock::moment();
    let item = workbench
        .benchbook
        .register_item(&form.text("id"), kind, &description, with_file, &at)
        .await?;
    Ok(item.id)
}

/// Records an event of an item.
pub async fn record(workbench: &Workbench, id: &str, form: &Form) -> Answer {
    let _alone = workbench.server.one_change.lock().await;
    let all = items(workbench).await?;
    let item = found(&all, id)?;
    let doing = form.text("doing");
    if collision::has_changed(form, &mark(item)) {
        return Err(collided(workbench, item, form));
    }
    match recorded(workbench, id, &doing, form).await {
        Ok(()) => Ok(Reply::Elsewhere(format!("{}?done={}", link(id), address::encoded(&doing)))),
        Err(trouble) => {
            let events = events(workbench, id).await?;
            Err(Reply::PageWith {
                page: item_page(workbench, item, &events, form, Some(&trouble), None),
                status: trouble.status,
                error: trouble.what,
                hint: trouble.next_step,
            })
        }
    }
}

async fn recorded(
    workbench: &Workbench,
    id: &str,
    doing: &str,
    form: &Form,
) -> Result<(), Trouble> {
    let book = workbench.benchbook.because(&form.text("reason"));
    let at = clock::moment();
    match doing {
        "check" => {
            let items = book.register().await?;
            let arrived = items.iter().any(|one| one.id == id && one.state == ItemState::Arrived);
            let kind = if arrived { CheckKind::Arrival } else { CheckKind::Reverification };
            let passed = form.raw("passed") == "yes";
            book.check_item(id, kind, passed, &form.text("reading"), &at).await?;
        }
        "use" => {
            let times = form.text("times").parse().ok().filter(|&times: &u32| times > 0);
            let times = times.ok_or_else(|| {
                Trouble::of_form("how often it was used is no whole number", "give one such as 3")
            })?;
            book.use_item(id, times, &at).await?;
        }
        "withdraw" => {
            let state = match form.raw("to") {
                "retired" => ItemState::Retired,
                _ => ItemState::SuspectedClogged,
            };
            book.withdraw_item(id, state, &at).await?;
        }
        "renew" => {
            let Some((certificate, file)) = sent_certificate(form)? else {
                return Err(Trouble::of_form("the certificate is missing", "fill its fields"));
            };
            book.renew_certificate(id, &certificate, file.as_deref(), &at).await?;
        }
        _ => return Err(Trouble::of_form("what happened is missing", "choose one of the forms")),
    }
    Ok(())
}

fn collided(workbench: &Workbench, item: &RegisterItem, form: &Form) -> Reply {
    let now = register::as_json(std::slice::from_ref(item), &clock::moment().utc);
    let text = |value: &Value| value.as_str().map_or_else(|| value.to_string(), str::to_owned);
    let mut both = vec![Both {
        what: "State and uses".to_owned(),
        now: format!("{}, {} uses", text(&now[0]["state"]), item.uses),
        yours: String::new(),
    }];
    both.extend(
        form.typed()
            .into_iter()
            .filter(|(name, _)| name != collision::MADE_FROM)
            .map(|(name, yours)| Both { what: name.replace('_', " "), now: String::new(), yours }),
    );
    let what = format!("Item {}", item.id);
    collision::reply(workbench, &what, &both, event_forms(workbench, item, form))
}

/// The file of a certificate.
pub async fn certificate(workbench: &Workbench, id: &str) -> Answer {
    let all = items(workbench).await?;
    let item = found(&all, id)?;
    let stored = match &item.file_sha256 {
        Some(sha256) => {
            workbench.benchbook.stored_file(sha256).await.map_err(|error| Reply::failed(&error))?
        }
        None => None,
    };
    match stored {
        Some(bytes) => Ok(Reply::Download {
            name: format!("{id}-certificate"),
            kind: "application/octet-stream",
            bytes,
        }),
        None => Err(Reply::missing(format!("`{id}` has no file"), "look at the item", link(id))),
    }
}
