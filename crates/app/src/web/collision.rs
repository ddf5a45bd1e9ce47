//! Two people, one thing: a form says from which state it was made, and where
//! that has changed meanwhile both texts are shown and neither is lost.

use axum::http::StatusCode;
use maud::{Markup, html};

use super::form::Form;
use super::reply::Reply;
use super::sheet::headings_row;
use super::wording::shown;
use super::workbench::Workbench;
use super::{form_view, frame};
use crate::digest::sha256;

/// Name of the field that says from which state a form was made.
pub const MADE_FROM: &str = "made_from";

/// One thing that both have written.
pub struct Both {
    /// What it is.
    pub what: String,
    /// What stands in the benchbook now.
    pub now: String,
    /// What was sent.
    pub yours: String,
}

/// The mark of a state, to be carried by a form.
pub fn mark(state: &str) -> String {
    sha256(state.as_bytes())
}

/// True where the state has changed since the form was made. A form that does
/// not say counts as one of another state.
pub fn has_changed(form: &Form, state: &str) -> bool {
    form.raw(MADE_FROM) != mark(state)
}

/// The page that shows both, with the form to send again over what stands
/// now. `again` is the form itself, filled with what was sent.
pub fn reply(workbench: &Workbench, what: &str, both: &[Both], again: Markup) -> Reply {
    let body = html! {
        (frame::page_head(
            "Somebody else was faster",
            &format!(
                "{} has changed since you opened it. Nothing of yours was kept, and nothing of it \
                 is lost: both stand below.",
                shown(what)
            ),
        ))
        (form_view::wide_table("Both texts", html! {
            (headings_row(&["What", "Stands now", "You sent"]))
            tbody {
                @for one in both {
                    tr.differs[one.now != one.yours] {
                        th scope="row" {
                            (shown(&one.what))
                            @if one.now != one.yours { " " span.tag { "differs" } }
                        }
                        td.words { (shown(&one.now)) }
                        td.words { (shown(&one.yours)) }
                    }
                }
            }
        }))
        section aria-label="Send again" {
            h2 { "Send yours over it" }
            p { "Look at both first. Sent from here, yours replaces what stands now." }
            (again)
        }
    };
    Reply::PageWith {
        status: StatusCode::CONFLICT,
        page: frame::page(workbench, &frame::Page::plain("Somebody else was faster"), body),
        error: format!("{what} has changed since the form was made"),
        hint: "read it again, then send yours over it".to_owned(),
    }
}
