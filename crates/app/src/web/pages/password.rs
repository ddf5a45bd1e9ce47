//! The own password: changed by whoever knows the old one.

use maud::{Markup, html};
use serde_json::json;

use crate::clock;
use crate::web::form::Form;
use crate::web::form_view::{self, Field};
use crate::web::frame::{self, Page};
use crate::web::refusals::Trouble;
use crate::web::reply::{Answer, Reply};
use crate::web::wording::shown;
use crate::web::workbench::Workbench;
use crate::web::{address, cookies};

const OLD: Field<'_> = Field::needed("old", "Password so far", "").filled_as("current-password");
const NEW: Field<'_> = Field::needed(
    "new",
    "New password",
    "At least 12 characters, not your name, not one that everybody tries first. Four or five \
     words without a connection are good. It may be pasted.",
)
.filled_as("new-password");
const AGAIN: Field<'_> = Field::needed("again", "New password again", "").filled_as("new-password");

/// What a form leads to.
const DONE: [(&str, &str); 1] =
    [("changed", "Your password was changed. Other sessions of yours have ended.")];

/// The page, or its twin.
pub fn reply(workbench: &Workbench, is_json: bool, query: &[(String, String)]) -> Reply {
    if is_json {
        let account = workbench.visitor.account.as_ref();
        return Reply::Json(json!({
            "account": account.map(|one| one.id.clone()),
            "must_change_password": account.map(|one| one.must_change_password),
        }));
    }
    Reply::Page(page(workbench, None, address::value(query, "done")))
}

fn page(workbench: &Workbench, trouble: Option<&Trouble>, done: Option<&str>) -> Markup {
    let facts = Page {
        title: "Your password",
        twin: "/password.json".to_owned(),
        has_plots: false,
        open: "Password",
    };
    let body = html! {
        div.page-head { h1 { "Your password" } }
        @match &workbench.visitor.account {
            None => {
                div.empty {
                    h2 { "No password is needed" }
                    p { "This benchbook was begun without accounts." }
                }
            }
            Some(account) => {
                (form_view::done(done, &DONE))
                (form_view::trouble(trouble))
                p {
                    "You are signed in as " strong { (shown(&account.name)) } " ("
                    (account.id) "): "
                    (account.roles.iter().map(|role| role.word()).collect::<Vec<_>>().join(", ")) "."
                }
                @if account.must_change_password {
                    p.done-note {
                        "Somebody else gave you the password that you have now. Choose one that \
                         only you know; until then nothing can be changed or signed."
                    }
                }
                (form_view::form(workbench, "/password", "Change the password", html! {
                    (OLD.password("password"))
                    (NEW.password("password"))
                    (AGAIN.password("password"))
                }))
            }
        }
    };
    frame::page(workbench, &facts, body)
}

/// Changes the password and begins the session anew.
pub async fn post(workbench: &Workbench, form: &Form) -> Answer {
    let server = &workbench.server;
    let refuse = |trouble: Trouble| Reply::PageWith {
        page: page(workbench, Some(&trouble), None),
        status: trouble.status,
        error: trouble.what,
        hint: trouble.next_step,
    };
    let Some(account) = &workbench.visitor.account else {
        return Err(refuse(
            benchbook::BenchbookError::from(benchbook::Refusal::WithoutAccounts).into(),
        ));
    };
    let (old, new) = (form.raw("old"), form.raw("new"));
    if new != form.raw("again") {
        return Err(refuse(Trouble::of_form(
            "the two new passwords differ",
            "type the same one twice",
        )));
    }
    // Whoever knows the old password is the one who changes it, and not the
    // user of the machine that serves.
    let at = benchbook::Moment { actor: account.name.clone(), ..clock::moment() };
    let id = account.id.as_str();
    server
        .with_password(server.benchbook.change_password(id, old, new, &at))
        .await
        .map_err(|error| refuse(error.into()))?;
    server.sessions.end_all_of(id);
    let begun = server.sessions.begin(&server.benchbook, id, new, &at);
    let token = server.with_password(begun).await.map_err(|error| refuse(error.into()))?;
    Ok(Reply::ElsewhereWith {
        link: "/password?done=changed".to_owned(),
        cookie: cookies::set(&server.front, &server.front.cookie(), &token),
    })
}
