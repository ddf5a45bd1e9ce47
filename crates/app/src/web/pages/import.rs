//! Import: files are sent, looked at, put right, and stored as a whole or not
//! at all.

use std::sync::Arc;

use axum::extract::Request;
use axum::http::StatusCode;
use benchbook::Action;
use maud::{Markup, html};
use study::{Case, Step};

use super::{known_case, without_traces};
use crate::commands::examine::reading::Reading;
use crate::commands::import::preview::{Column, Role};
use crate::commands::import::store;
use crate::commands::import::work::Choices;
use crate::fault::Fault;
use crate::web::form::{Form, Limits};
use crate::web::frame::{self, CasePage};
use crate::web::refusals::Trouble;
use crate::web::reply::{Answer, Reply};
use crate::web::uploads::{self, MOST_BYTES, MOST_FILES, Seen, State, Upload};
use crate::web::workbench::Workbench;
use crate::web::{address, doings, form_view, import_view};

const DONE: [(&str, &str); 1] =
    [("stopped", "The import was stopped, and the files were let go. Nothing was stored.")];

fn link(id: &str) -> String {
    address::of_case(id, "import")
}

fn link_to(id: &str, upload: &Upload) -> String {
    format!("{}?upload={}", link(id), upload.token)
}

/// The files that an address or a form names, where they are the visitor's.
fn found(workbench: &Workbench, id: &str, token: &str) -> Result<Arc<Upload>, Reply> {
    let server = &workbench.server;
    server.uploads.find(&workbench.visitor.form_token, id, token).ok_or_else(|| {
        Reply::missing(
            "these files are not kept any more, and nothing of them was stored",
            "send them again",
            link(id),
        )
    })
}

/// The page, or its twin.
pub async fn reply(
    workbench: &Workbench,
    id: &str,
    is_json: bool,
    query: &[(String, String)],
) -> Answer {
    let upload = match address::value(query, "upload") {
        Some(token) => Some(found(workbench, id, token)?),
        None => None,
    };
    if is_json {
        return Ok(Reply::Json(uploads::twin(id, upload.as_deref())));
    }
    let case = without_traces(workbench, id).await?;
    let done = address::value(query, "done");
    Ok(Reply::Page(match upload {
        Some(upload) => page(workbench, &case, upload_content(workbench, &case, &upload, None)),
        None => page(workbench, &case, begin(workbench, id, None, done).await),
    }))
}

fn page(workbench: &Workbench, case: &Case, content: Markup) -> Markup {
    let this = CasePage { case, step: Step::Runs, has_plots: false, ladder_beside: false };
    frame::case_page(workbench, &this, content)
}

/// Where no files were sent yet.
async fn begin(
    workbench: &Workbench,
    id: &str,
    trouble: Option<&Trouble>,
    done: Option<&str>,
) -> Markup {
    // Nothing to choose is no reason to refuse the page.
    let earlier = store::plans_before(&workbench.benchbook, id).await.unwrap_or_default();
    html! {
        (form_view::done(done, &DONE))
        (form_view::trouble(trouble))
        @if workbench.may(Action::AddRuns) {
            (import_view::send_form(workbench, &link(id), &earlier))
        } @else {
            p { "Files are imported by an analyst; your account is none." }
        }
    }
}

/// The form to which files are dropped, on the page of the runs. Readings of
/// earlier imports are chosen on this page.
pub fn send_form(workbench: &Workbench, id: &str) -> Markup {
    import_view::send_form(workbench, &link(id), &[])
}

fn upload_content(
    workbench: &Workbench,
    case: &Case,
    upload: &Upload,
    refused: Option<(&Trouble, &Form)>,
) -> Markup {
    let here = link(&case.input.id);
    let trouble = refused.map(|(trouble, _)| trouble);
    html! {
        (form_view::trouble(trouble))
        @match upload.state() {
            State::Working { word } => (import_view::working(workbench, &here, upload, word)),
            State::Stored(seen) => (import_view::stored(&case.input.id, &seen)),
            State::Seen(seen) => {
                (import_view::seen(workbench, &here, upload, &seen, refused.map(|(_, form)| form)))
            }
            State::Failed(fault, seen) => {
                (import_view::failed(&fault))
                @if let Some(seen) = seen {
                    (import_view::seen(workbench, &here, upload, &seen, refused.map(|(_, form)| form)))
                } @else {
                    (send_form(workbench, &case.input.id))
                }
            }
        }
    }
}

/// What was sent: files, an answer, or what is to be done with them.
pub async fn post(workbench: &Workbench, id: &str, request: Request) -> Answer {
    let is_long = request.headers().get("content-length").is_some_and(|length| {
        length
            .to_str()
            .ok()
            .and_then(|text| text.parse().ok())
            .is_none_or(|n: usize| n > MOST_BYTES)
    });
    if is_long {
        // Said before anything of it is taken in.
        return Err(too_much());
    }
    // Files wait in memory, so that few forms come in at once.
    let _turn = workbench.server.uploads.arriving.acquire().await;
    let token = workbench.visitor.form_token.clone();
    let form = Form::read(request, Limits::with_files(MOST_BYTES, &token)).await?;
    if !form.carries(&token) {
        return Err(doings::not_of_this_session(workbench, &form));
    }
    known_case(workbench, id).await?;
    if !workbench.may(Action::AddRuns) {
        let refused = Trouble {
            status: StatusCode::FORBIDDEN,
            ..Trouble::of_form("your account may not add runs", "ask an analyst")
        };
        return Err(refused.page(&form));
    }
    let (server, book) = (&workbench.server, &workbench.benchbook);
    if form.raw("doing") == "send" {
        let upload = match sent(workbench, id, &form).await {
            Ok(upload) => upload,
            Err(trouble) => {
                let case = without_traces(workbench, id).await?;
                let content = begin(workbench, id, Some(&trouble), None).await;
                return Err(refused_page(workbench, &case, trouble, content));
            }
        };
        uploads::read(server, book, &upload, upload.choices()).await;
        return Ok(Reply::Elsewhere(link_to(id, &upload)));
    }
    let upload = found(workbench, id, form.raw("upload"))?;
    match form.raw("doing") {
        "stop" => {
            server.uploads.forget(&upload);
            return Ok(Reply::Elsewhere(format!("{}?done=stopped", link(id))));
        }
        "store" => {
            let reason = form.text("reason");
            uploads::store(server, &book.because(&reason), &upload).await;
        }
        _ => match corrected(&form, &upload) {
            Ok(choices) => uploads::read(server, book, &upload, choices).await,
            Err(trouble) => {
                let case = without_traces(workbench, id).await?;
                let content = upload_content(workbench, &case, &upload, Some((&trouble, &form)));
                return Err(refused_page(workbench, &case, trouble, content));
            }
        },
    }
    Ok(Reply::Elsewhere(link_to(id, &upload)))
}

fn too_much() -> Reply {
    let what =
        format!("more than {} MiB were sent at once, and nothing of it was kept", MOST_BYTES >> 20);
    Reply::Denied {
        status: StatusCode::PAYLOAD_TOO_LARGE,
        what,
        next_step: "send fewer files at once; the command line takes larger ones".to_owned(),
        link: "/".to_owned(),
        typed: Vec::new(),
    }
}

fn refused_page(workbench: &Workbench, case: &Case, trouble: Trouble, content: Markup) -> Reply {
    Reply::PageWith {
        page: page(workbench, case, content),
        status: trouble.status,
        error: trouble.what,
        hint: trouble.next_step,
    }
}

async fn sent(workbench: &Workbench, id: &str, form: &Form) -> Result<Arc<Upload>, Trouble> {
    let files: Vec<_> = form.files("files").collect();
    if files.is_empty() {
        return Err(Trouble::of_form("no file was chosen", "choose the files of your logger"));
    }
    if files.len() > MOST_FILES {
        let what = format!("{} files were sent, and {MOST_FILES} is the most", files.len());
        return Err(Trouble::of_form(what, "send them in parts"));
    }
    let mut reading = Reading::default();
    if let Some(plan) = form.file("plan") {
        let text = String::from_utf8(plan.bytes.to_vec()).map_err(|_| {
            Trouble::of_form(
                format!("`{}` is not UTF-8 text", plan.name),
                "choose a reading plan (TOML), or leave the field empty",
            )
        })?;
        reading.plan_text = Some(text);
    } else if let Some(name) = form.given("earlier") {
        let plans = store::plans_before(&workbench.benchbook, id).await.map_err(of_fault)?;
        let plan = plans.into_iter().find(|plan| plan.name() == name).ok_or_else(|| {
            Trouble::of_form("that reading is not in the list", "choose one of it, or none")
        })?;
        reading.plan_text = Some(plan.text);
    }
    reading.plan().map_err(of_fault)?;
    let owner = &workbench.visitor.form_token;
    let choices = Choices { reading, ..Choices::default() };
    workbench.server.uploads.keep(owner, id, &files, choices).map_err(Trouble::from)
}

/// A fault of the options, whose words are for the command line, as trouble of
/// the form.
fn of_fault(fault: Fault) -> Trouble {
    let mut what = fault.message;
    for detail in fault.details.iter().take(5) {
        what.push_str("; ");
        what.push_str(detail.trim_end_matches('.'));
    }
    Trouble::of_form(what, fault.hint)
}

/// The choices of the form over those that stand.
fn corrected(form: &Form, upload: &Upload) -> Result<Choices, Trouble> {
    let seen = match upload.state() {
        State::Seen(seen) => Some(seen),
        State::Failed(_, seen) => seen,
        State::Working { .. } | State::Stored(_) => None,
    };
    let mut choices = Choices {
        reading: Reading {
            plan_text: upload.choices().reading.plan_text,
            pressure: form.lines("pressure"),
            temperature: form.lines("temperature"),
            time: form.given("time"),
            rate: rate(form)?,
            barometer: form.given("barometer"),
            split: form.given("split").is_some(),
            encoding: form.given("encoding"),
            separator: form.given("separator"),
            decimal_mark: form.given("decimal_mark"),
            clock: form.given("clock"),
            missing: form.lines("missing"),
            over_range: form.lines("over_range"),
            ..Reading::default()
        },
        class: form.given("class"),
        size: form.given("size"),
        flow: form.given("flow"),
        standard: form.given("standard"),
        age_days: age_days(form)?,
        skip_refused: form.given("skip_refused").is_some(),
        accept_clock: form.given("accept_clock").is_some(),
    };
    if let Some(seen) = &seen {
        columns(form, seen, &mut choices.reading)?;
        for (index, asked) in seen.questions.iter().enumerate() {
            if let Some(answer) = form.given(&format!("answer_{index}")) {
                (asked.apply)(&mut choices.reading, answer);
            }
        }
    }
    let reading = &choices.reading;
    let ways = [reading.time.is_some(), reading.clock.is_some(), reading.rate.is_some()];
    if ways.into_iter().filter(|is_given| *is_given).count() > 1 {
        return Err(Trouble::of_form(
            "the times are stated in several ways",
            "keep one of elapsed time, clock and samples per second",
        ));
    }
    choices.reading.plan().map_err(of_fault)?;
    choices.given().map_err(of_fault)?;
    Ok(choices)
}

fn rate(form: &Form) -> Result<Option<f64>, Trouble> {
    let Some(text) = form.given("rate") else { return Ok(None) };
    let wrong = |_| {
        let what = format!("`{text}` is no number of samples per second");
        Trouble::of_form(what, "write it like 10 or 2.5")
    };
    text.parse().map(Some).map_err(wrong)
}

fn age_days(form: &Form) -> Result<Option<u32>, Trouble> {
    let Some(text) = form.given("age_days") else { return Ok(None) };
    let wrong = |_| {
        let what = format!("`{text}` is no age in whole days");
        Trouble::of_form(what, "write days since filling, such as 30")
    };
    text.parse().map(Some).map_err(wrong)
}

/// Parts that columns play, where somebody has given them others.
fn columns(form: &Form, seen: &Seen, reading: &mut Reading) -> Result<(), Trouble> {
    let Some(shown) = import_view::columns_shown(seen) else { return Ok(()) };
    let chosen: Vec<Column> = shown
        .iter()
        .enumerate()
        .map(|(index, column)| {
            let role = form.given(&format!("role_{index}"));
            let role = role
                .and_then(|word| import_view::ROLES.into_iter().find(|role| role.word() == word));
            Column {
                name: column.name.clone(),
                role: role.unwrap_or(column.role),
                unit: form.text(&format!("unit_{index}")),
            }
        })
        .collect();
    let counts = |column: &&Column| column.role != Role::NotRead;
    if chosen.iter().filter(counts).eq(shown.iter().filter(counts)) {
        return Ok(());
    }
    let of = |role: Role| chosen.iter().filter(move |column| column.role == role);
    if let Some(open) = of(Role::Pressure)
        .chain(of(Role::Temperature))
        .chain(of(Role::Time))
        .find(|c| c.unit.is_empty())
    {
        let what =
            format!("column `{}` is {}, and its unit is not said", open.name, open.role.word());
        return Err(Trouble::of_form(what, "write its unit beside it, such as mbar, C or s"));
    }
    if of(Role::Pressure).next().is_none() {
        return Err(Trouble::of_form(
            "no column holds the chamber pressure",
            "say of one column that it is chamber pressure, with its unit",
        ));
    }
    let had_temperature = shown.iter().any(|column| column.role == Role::Temperature);
    if had_temperature && of(Role::Temperature).next().is_none() {
        return Err(Trouble::of_form(
            "one column of temperature has to stay, because its header says that it is one",
            "leave one of them as temperature: a rise is read without it",
        ));
    }
    let as_option = |column: &Column| format!("{}={}", column.name, column.unit);
    reading.pressure = of(Role::Pressure).map(as_option).collect();
    reading.temperature = of(Role::Temperature).map(as_option).collect();
    let times: Vec<&Column> = of(Role::Time).chain(of(Role::Clock)).collect();
    match times.as_slice() {
        [] => {}
        [one] if one.role == Role::Time => {
            (reading.time, reading.clock) = (Some(as_option(one)), None);
        }
        // A clock whose dates need no order is found again by itself.
        [one] if one.unit.is_empty() => (reading.time, reading.clock) = (None, None),
        [one] => (reading.time, reading.clock) = (None, Some(as_option(one))),
        _ => {
            return Err(Trouble::of_form(
                "two columns are said to hold the time",
                "leave one of them, and set the other to not read",
            ));
        }
    }
    Ok(())
}
