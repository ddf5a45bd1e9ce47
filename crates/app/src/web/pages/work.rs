//! The work of a case: forecast it, draw up its method, work out its results.
//! Each is one form on the page of its step, and one record with its version.

use benchbook::Action;
use maud::{Markup, html};
use study::forecast::{Forecast, ForecastSettings};
use study::results::evaluate_with;
use study::{Case, Step};

use super::report::apart;
use super::{results_settings, without_traces};
use crate::clock;
use crate::web::form::Form;
use crate::web::form_view::{self, Field};
use crate::web::refusals::Trouble;
use crate::web::reply::{Answer, Reply};
use crate::web::standing::Standing;
use crate::web::workbench::Workbench;
use crate::web::{address, path_view};

const SEED: Field<'_> =
    Field::needed("seed", "Seed", "The same inputs and seed give the same digits.");
const DRAWS: Field<'_> =
    Field::needed("draws", "Draws over the uncertain inputs", "From 16 to 2000; 128 is usual.");
const REASON: Field<'_> =
    Field::optional("reason", "Reason", "Needed where the case is signed: its signatures fall.");

const DONE: [(&str, &str); 6] = [
    ("begun", "The case was begun."),
    ("brought", "The case was brought in, and is equal to the one it was copied from."),
    ("changed", "The change was recorded. The steps behind it say so until they are done again."),
    ("recorded", "It was recorded."),
    ("planned", "The plan was recorded."),
    ("runs", "The runs were stored."),
];

/// What was just done, and what of the step is behind changes before it.
pub async fn head(
    workbench: &Workbench,
    id: &str,
    step: Step,
    query: &[(String, String)],
) -> Result<Markup, Reply> {
    let events =
        workbench.benchbook.history(Some(id)).await.map_err(|error| Reply::failed(&error))?;
    let behind = Standing::of(&events).sentence(step);
    Ok(html! {
        (form_view::done(address::value(query, "done"), &DONE))
        @if let Some(sentence) = behind {
            p.behind role="note" {
                strong { "Behind." } " " (sentence)
                @if step != Step::Report && workbench.may(Action::Work) { " " a href="#again" { "Do it again" } "." }
            }
        }
    })
}

/// The form by which a step is done, or done again.
pub fn form_of_step(workbench: &Workbench, case: &Case, step: Step) -> Markup {
    if !workbench.may(Action::Work) {
        return html! {};
    }
    let action = address::of_case(&case.input.id, path_view::part(step));
    let (is_done, heading, says, button) = match step {
        Step::Forecast => (
            case.forecast.is_some(),
            "Forecast this case",
            "Leaks of every size are simulated on this rig with this headspace, over everything \
             that is uncertain.",
            "Forecast",
        ),
        Step::Method => (
            case.method.is_some(),
            "Draw up the method",
            "Limits that the cycle leaves open are set from the forecast, and every number gets \
             its reason. Each method is a new version.",
            "Draw up the method",
        ),
        Step::Results => (
            case.results.is_some(),
            "Work out the results",
            "The reject limit from negative controls, detection from positive controls, the \
             calibration from flow challenges, by the method in force.",
            "Work out the results",
        ),
        _ => return html! {},
    };
    let lacks = match step {
        Step::Method if case.forecast.is_none() => Some(("a forecast comes first", Step::Forecast)),
        Step::Results if case.method.is_none() => Some(("a method comes first", Step::Method)),
        Step::Results if case.runs.is_empty() => Some(("runs come first", Step::Runs)),
        _ => None,
    };
    html! {
        section.work #again aria-labelledby="again-title" {
            h2 #again-title { (heading) @if is_done { " again" } }
            p { (says) }
            @if let Some((why, before)) = lacks {
                p.next {
                    span { "Next" } " "
                    a href=(address::of_case(&case.input.id, path_view::part(before))) { (why) }
                }
            } @else {
                (form_view::form(workbench, &action, button, html! {
                    @if step == Step::Forecast {
                        @let form = Form::of(&[("seed", "1"), ("draws", "128")]);
                        (SEED.count("work", &form, u32::MAX))
                        (DRAWS.count("work", &form, MOST_DRAWS))
                    }
                    @if is_done { (REASON.line("work", &Form::default())) }
                }))
            }
        }
    }
}

const MOST_DRAWS: u32 = 2000;

/// A whole number within bounds, or what is wrong with it.
pub fn whole(form: &Form, field: &Field<'_>, least: u32, most: u32) -> Result<u32, Trouble> {
    let text = form.text(field.name);
    let value = text.parse().ok().filter(|value| (least..=most).contains(value));
    value.ok_or_else(|| {
        Trouble::of_form(
            format!("{}: `{text}` is no whole number from {least} to {most}", field.label),
            format!("write one, such as {}", least.max(1)),
        )
    })
}

/// Does a step: it is recorded as a whole or not at all.
pub async fn post(workbench: &Workbench, id: &str, step: Step, form: &Form) -> Answer {
    let action = Action::Work;
    if !workbench.may(action) {
        return Err(not_allowed(form));
    }
    let done = match step {
        Step::Forecast => forecast(workbench, id, form).await,
        Step::Method => method(workbench, id, form).await,
        _ => results(workbench, id, form).await,
    };
    match done {
        Ok(()) => {
            let link = address::of_case(id, path_view::part(step));
            Ok(Reply::Elsewhere(format!("{link}?done=recorded")))
        }
        Err(Problem::Reply(reply)) => Err(reply),
        Err(Problem::Trouble(trouble)) => {
            let link = address::of_case(id, path_view::part(step));
            Err(Trouble { link, ..trouble }.page(form))
        }
    }
}

/// An account that may not do this.
pub fn not_allowed(form: &Form) -> Reply {
    let trouble = Trouble::of_form("your account may not change a case", "ask an analyst");
    Trouble { status: axum::http::StatusCode::FORBIDDEN, ..trouble }.page(form)
}

/// Why a step was not done.
pub enum Problem {
    /// Something about the case or the form.
    Trouble(Trouble),
    /// Something else.
    Reply(Reply),
}

impl From<Trouble> for Problem {
    fn from(trouble: Trouble) -> Self {
        Self::Trouble(trouble)
    }
}

impl From<Reply> for Problem {
    fn from(reply: Reply) -> Self {
        Self::Reply(reply)
    }
}

impl From<benchbook::BenchbookError> for Problem {
    fn from(error: benchbook::BenchbookError) -> Self {
        Self::Trouble(Trouble::from(error))
    }
}

/// Forecasts an input, apart from the threads that answer and one at a time.
pub async fn forecast_of(
    workbench: &Workbench,
    case: &Case,
    settings: ForecastSettings,
) -> Result<Forecast, Problem> {
    let input = case.input.clone();
    let _turn = workbench.server.long_work.acquire().await;
    let made = apart(move || study::forecast(&input, &settings, &|_, _| {})).await?;
    made.map_err(|error| {
        let next = "check the rig, the headspace and the cycle of the case";
        Trouble::of_form(error.to_string(), next).into()
    })
}

/// How often a case was changed so far.
pub async fn n_changes(workbench: &Workbench, id: &str) -> Result<usize, Problem> {
    Ok(workbench.benchbook.history(Some(id)).await?.len())
}

/// What was worked out is recorded only where the case is still that case.
pub async fn still(workbench: &Workbench, id: &str, before: usize) -> Result<(), Problem> {
    if n_changes(workbench, id).await? == before {
        return Ok(());
    }
    let trouble = Trouble::of_form(
        "the case was changed while this was worked out, and nothing was recorded",
        "look at the case as it stands and do it again",
    );
    Err(Trouble { status: axum::http::StatusCode::CONFLICT, ..trouble }.into())
}

async fn forecast(workbench: &Workbench, id: &str, form: &Form) -> Result<(), Problem> {
    let settings = ForecastSettings {
        seed: u64::from(whole(form, &SEED, 1, u32::MAX)?),
        n_draws: whole(form, &DRAWS, 16, MOST_DRAWS)? as usize,
        ..ForecastSettings::default()
    };
    let before = n_changes(workbench, id).await?;
    let case = without_traces(workbench, id).await?;
    let made = forecast_of(workbench, &case, settings).await?;
    let _change = workbench.server.one_change.lock().await;
    still(workbench, id, before).await?;
    let book = workbench.benchbook.because(&form.text("reason"));
    Ok(book.record_forecast(id, &made, &clock::moment()).await?)
}

async fn method(workbench: &Workbench, id: &str, form: &Form) -> Result<(), Problem> {
    let _change = workbench.server.one_change.lock().await;
    let case = without_traces(workbench, id).await?;
    let Some(forecast) = &case.forecast else {
        return Err(Trouble::of_form("the case has no forecast yet", "forecast it first").into());
    };
    let lowest_pa = case.input.cycle.lowest_pa();
    if let Some(check) = study::container_load::too_weak(&case.input, lowest_pa).first() {
        return Err(Trouble::of_form(
            format!(
                "the container does not stand this cycle ({}): {}",
                check.subject, check.finding
            ),
            "evacuate less (the page Design looks for a weaker vacuum), support the container or \
             hold its plunger in the fixture",
        )
        .into());
    }
    let mut made = study::design_method(&case.input, forecast);
    made.version = case.method.as_ref().map_or(1, |before| before.version + 1);
    let book = workbench.benchbook.because(&form.text("reason"));
    Ok(book.record_method(id, &made, &clock::moment()).await?)
}

async fn results(workbench: &Workbench, id: &str, form: &Form) -> Result<(), Problem> {
    let before = n_changes(workbench, id).await?;
    let case = without_traces(workbench, id).await?;
    let Some(method) = case.method.clone() else {
        return Err(Trouble::of_form("the case has no method yet", "draw it up first").into());
    };
    if case.runs.is_empty() {
        return Err(Trouble::of_form("the case has no runs yet", "import them first").into());
    }
    let made = {
        let case = case.clone();
        let _turn = workbench.server.long_work.acquire().await;
        let link = results_settings::link_of(&case);
        apart(move || evaluate_with(&case.input, &method, &case.runs, link)).await?
    };
    let _change = workbench.server.one_change.lock().await;
    still(workbench, id, before).await?;
    let book = workbench.benchbook.because(&form.text("reason"));
    Ok(book.record_results(id, &made, &clock::moment()).await?)
}
