//! Doings: what is sent to a page and changes the benchbook. Nothing is done
//! before the form has shown that it came from a page of this session.

use axum::extract::Request;
use axum::http::StatusCode;
use study::Step;

use super::address::{Address, Place};
use super::form::{Form, Limits};
use super::reply::{Answer, Reply};
use super::workbench::Workbench;
use super::{pages, path_view};

/// Answers what was sent to a place.
pub async fn answer(workbench: &Workbench, address: &Address, request: Request) -> Answer {
    // Forms with large files are read by their pages, after the token.
    match &address.place {
        _ if workbench.must_sign_in() => {}
        Place::BringIn => return pages::bring_in::post(workbench, request).await,
        Place::Case { id, part } if part == "import" => {
            return pages::import::post(workbench, id, request).await;
        }
        _ => {}
    }
    let form = Form::read(request, Limits::SMALL).await?;
    let is_locked_out = workbench.must_sign_in() && address.place != Place::SignIn;
    if is_locked_out || !form.carries(&workbench.visitor.form_token) {
        return Err(not_of_this_session(workbench, &form));
    }
    if let Place::Case { id, .. } = &address.place {
        pages::known_case(workbench, id).await?;
    }
    match &address.place {
        Place::SignIn => pages::sign_in::post(workbench, &form).await,
        Place::People(None) => pages::people::add(workbench, &form).await,
        Place::People(Some(id)) => pages::people::change(workbench, id, &form).await,
        Place::Register(None) => pages::register::add(workbench, &form).await,
        Place::Register(Some(id)) => pages::register::record(workbench, id, &form).await,
        Place::NewCase => pages::new_case::post(workbench, &form).await,
        Place::Safekeeping => pages::safekeeping::post(workbench, &form).await,
        Place::Case { id, part } if part == "edit" => pages::edit::post(workbench, id, &form).await,
        Place::Case { id, part } if part == "plan" => pages::plan::post(workbench, id, &form).await,
        Place::Case { id, part } if part == "files" => {
            pages::files::post(workbench, id, &form).await
        }
        Place::Case { id, part } if part == "design" => {
            pages::design::post(workbench, id, &form).await
        }
        Place::Case { id, part } if part == "results" && form.given("doing").is_some() => {
            pages::results_settings::post(workbench, id, &form).await
        }
        Place::Case { id, part } if matches!(part.as_str(), "forecast" | "method" | "results") => {
            let step = path_view::step_of(part).unwrap_or(Step::Forecast);
            pages::work::post(workbench, id, step, &form).await
        }
        Place::Case { id, part } if part == "sign" => pages::sign::post(workbench, id, &form).await,
        Place::Case { id, part } if part == "items" => {
            pages::sign::post_item(workbench, id, &form).await
        }
        Place::Case { id, part } if part == "review" => {
            pages::sign::post_review(workbench, id, &form).await
        }
        Place::Case { id, part } if part == "units" => {
            pages::units::post(workbench, id, &form).await
        }
        Place::Password => pages::password::post(workbench, &form).await,
        Place::SignOut => Ok(pages::sign_in::sign_out(workbench)),
        _ => Err(Reply::Denied {
            status: StatusCode::METHOD_NOT_ALLOWED,
            what: "nothing is sent to this page".to_owned(),
            next_step: "begin with the list of cases".to_owned(),
            link: "/".to_owned(),
            typed: form.typed(),
        }),
    }
}

/// The page whose form this was is of another session, or of none.
pub fn not_of_this_session(workbench: &Workbench, form: &Form) -> Reply {
    let (what, next_step, link) = if workbench.must_sign_in() {
        ("your session has ended, and nothing was changed", "sign in again", "/sign-in")
    } else {
        (
            "the form does not belong to this session, and nothing was changed",
            "open the page again and send it from there",
            "/",
        )
    };
    Reply::Denied {
        status: StatusCode::FORBIDDEN,
        what: what.to_owned(),
        next_step: next_step.to_owned(),
        link: link.to_owned(),
        typed: form.typed(),
    }
}
