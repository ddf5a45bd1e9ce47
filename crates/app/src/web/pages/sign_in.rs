//! Sign in and sign out: a session of an account.

use axum::http::StatusCode;
use benchbook::Moment;
use maud::{Markup, html};
use serde_json::{Value, json};

use crate::clock;
use crate::web::cookies;
use crate::web::form::Form;
use crate::web::form_view::{self, Field};
use crate::web::frame::{self, Page};
use crate::web::refusals::Trouble;
use crate::web::reply::{Answer, Reply};
use crate::web::wording::shown;
use crate::web::workbench::Workbench;

const ACCOUNT: Field<'_> =
    Field::needed("account", "Account", "The short name, such as a.analyst.").filled_as("username");
const PASSWORD: Field<'_> = Field::needed("password", "Password", "");

/// Where a form leads after signing in: a page of this workbench.
fn destination(to: &str) -> &str {
    let own = to.starts_with('/')
        && !to.starts_with("//")
        && !to.contains(['\\', '\r', '\n'])
        && to.is_ascii()
        && to.len() < 2_000;
    if own { to } else { "/" }
}

/// The page, or its twin.
pub fn reply(workbench: &Workbench, is_json: bool, to: Option<&str>) -> Reply {
    if is_json {
        return Reply::Json(twin(workbench));
    }
    let form = Form::of(&[("to", to.unwrap_or("/"))]);
    Reply::Page(page(workbench, &form, None))
}

fn twin(workbench: &Workbench) -> Value {
    json!({
        "with_accounts": workbench.server.with_accounts,
        "account": workbench.visitor.account.as_ref().map(|account| account.id.clone()),
        "not_for_regulated_use": workbench.server.not_for_regulated_use,
    })
}

fn page(workbench: &Workbench, form: &Form, trouble: Option<&Trouble>) -> Markup {
    let to = form.raw("to");
    let facts =
        Page { title: "Sign in", twin: "/sign-in.json".to_owned(), has_plots: false, open: "" };
    let body = html! {
        div.page-head { h1 { "Sign in" } }
        @if !workbench.server.with_accounts {
            div.empty {
                h2 { "No account is needed" }
                p {
                    "This benchbook was begun without accounts, so everybody at this machine may \
                     use it, and it is marked 'not for regulated use' for ever."
                }
                p.next { span { "Next" } " " a href="/" { "go to the cases" } }
            }
        } @else {
            (form_view::trouble(trouble))
            @if let Some(account) = &workbench.visitor.account {
                p { "You are signed in as " strong { (shown(&account.name)) } " (" (account.id) ")." }
            }
            (form_view::form(workbench, "/sign-in", "Sign in", html! {
                (form_view::hidden("to", destination(to)))
                (ACCOUNT.line("sign-in", form))
                (PASSWORD.password("sign-in"))
            }))
            p.quiet {
                "A session ends after 15 minutes without a request and after 12 hours in any \
                 case. Five wrong passwords in a row lock an account for a minute, further ones \
                 for longer, ten until it is reset. A signature asks for the password again each time."
            }
        }
    };
    frame::page(workbench, &facts, body)
}

/// Begins a session.
pub async fn post(workbench: &Workbench, form: &Form) -> Answer {
    let server = &workbench.server;
    let account = form.text("account");
    let known = server.benchbook.accounts().await.map_err(|error| Reply::failed(&error))?;
    let is_known = known.iter().any(|one| one.id == account);
    // Whoever tries is not the person at this machine. What is no account is
    // not written down: it may be a password.
    let actor = match is_known {
        true => format!("at the sign-in page, as {account}"),
        false => "at the sign-in page".to_owned(),
    };
    let at = Moment { actor, ..clock::moment() };
    let begun = server
        .with_password(server.sessions.begin(
            &server.benchbook,
            &account,
            form.raw("password"),
            &at,
        ))
        .await;
    let token = match begun {
        Ok(token) => token,
        Err(error) => {
            let trouble = Trouble::from(error);
            return Err(Reply::PageWith {
                page: page(workbench, form, Some(&trouble)),
                status: trouble.status,
                error: trouble.what,
                hint: trouble.next_step,
            });
        }
    };
    // A session that this browser had before ends here.
    if let Some(old) = &workbench.visitor.session {
        server.sessions.end(old);
    }
    let must_change = known.iter().any(|one| one.id == account && one.must_change_password);
    let link = if must_change { "/password" } else { destination(form.raw("to")) };
    Ok(Reply::ElsewhereWith {
        link: link.to_owned(),
        cookie: cookies::set(&server.front, &server.front.cookie(), &token),
    })
}

/// Ends the session.
pub fn sign_out(workbench: &Workbench) -> Reply {
    let server = &workbench.server;
    if let Some(session) = &workbench.visitor.session {
        server.sessions.end(session);
    }
    Reply::ElsewhereWith {
        link: if server.with_accounts { "/sign-in" } else { "/" }.to_owned(),
        cookie: cookies::forget(&server.front, &server.front.cookie()),
    }
}

/// What is said to somebody who must sign in first.
pub fn needed(is_json: bool, path: &str) -> Reply {
    if is_json {
        return Reply::Denied {
            status: StatusCode::UNAUTHORIZED,
            what: "this benchbook has accounts, and nobody has signed in".to_owned(),
            next_step: "sign in at /sign-in, and send its cookie".to_owned(),
            link: "/sign-in".to_owned(),
            typed: Vec::new(),
        };
    }
    let to = crate::web::address::encoded(path);
    Reply::Elsewhere(format!("/sign-in?to={to}"))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn signing_in_never_leads_elsewhere() {
        assert_eq!(destination("/case/a/report?x=1"), "/case/a/report?x=1");
        for foreign in ["//evil.test", "https://evil.test", "/\\evil.test", "", "/a\r\nX: y", "é"]
        {
            assert_eq!(destination(foreign), "/", "{foreign:?}");
        }
    }
}
