//! A case from another benchbook: copied into this one and proven equal, or
//! out of this one as a benchbook of its own.

use axum::extract::Request;
use axum::http::StatusCode;
use benchbook::{Action, Benchbook};
use maud::{Markup, html};
use serde_json::json;

use crate::clock;
use crate::web::address;
use crate::web::doings;
use crate::web::form::{Form, Limits, SentFile};
use crate::web::form_view::{self, Field};
use crate::web::frame::{self, Page};
use crate::web::passing::Passing;
use crate::web::refusals::Trouble;
use crate::web::reply::{Answer, Reply};
use crate::web::uploads::MOST_BYTES;
use crate::web::wording::{counted, shown};
use crate::web::workbench::Workbench;

const HERE: &str = "/bring-in";
const FILE: Field<'_> = Field::needed("file", "The other benchbook", "A file, up to 64 MiB.");
const CASE: Field<'_> = Field::optional(
    "case",
    "Case",
    "Its short name; may be left empty where that benchbook has one case.",
);
const REASON: Field<'_> =
    Field::optional("reason", "Reason", "Why it is brought in; stands in the audit trail.");

/// The page, or its twin.
pub fn reply(workbench: &Workbench, is_json: bool) -> Reply {
    if is_json {
        return Reply::Json(json!({ "largest_bytes": MOST_BYTES }));
    }
    Reply::Page(page(workbench, &Form::default(), None))
}

fn page(workbench: &Workbench, form: &Form, trouble: Option<&Trouble>) -> Markup {
    let facts = Page {
        title: "A case from another benchbook",
        twin: format!("{HERE}.json"),
        has_plots: false,
        open: "Cases",
    };
    let body = html! {
        (frame::page_head(
            "A case from another benchbook",
            "Every version of every record, run, sample and attached file comes over with the \
             text and the hash it has there, and both sides are compared before anything is \
             kept. Signatures and reviews stay where they were given.",
        ))
        (form_view::trouble(trouble))
        @if may_bring_in(workbench) {
            (form_view::form_with_files(workbench, HERE, "Bring it in", html! {
                (FILE.file("bring"))
                (CASE.line("bring", form))
                (REASON.line("bring", form))
            }))
        } @else { p { "Cases are brought in by an analyst; your account is none." } }
    };
    frame::page(workbench, &facts, body)
}

fn may_bring_in(workbench: &Workbench) -> bool {
    workbench.may(Action::AddRuns) && workbench.may(Action::Work)
}

/// Brings a case in.
pub async fn post(workbench: &Workbench, request: Request) -> Answer {
    // Files wait in memory, so that few forms come in at once.
    let _turn = workbench.server.uploads.arriving.acquire().await;
    let token = workbench.visitor.form_token.clone();
    let form = Form::read(request, Limits::with_files(MOST_BYTES, &token)).await?;
    if !form.carries(&token) {
        return Err(doings::not_of_this_session(workbench, &form));
    }
    let done = match form.file("file") {
        Some(file) => brought_in(workbench, &form, file).await,
        None => Err(Trouble::of_form("no file was chosen", "choose the other benchbook")),
    };
    match done {
        Ok(id) => {
            Ok(Reply::Elsewhere(format!("{}?done=brought", address::of_case(&id, "profile"))))
        }
        Err(trouble) => Err(Reply::PageWith {
            page: page(workbench, &form, Some(&trouble)),
            status: trouble.status,
            error: trouble.what,
            hint: trouble.next_step,
        }),
    }
}

async fn brought_in(
    workbench: &Workbench,
    form: &Form,
    file: &SentFile,
) -> Result<String, Trouble> {
    if !may_bring_in(workbench) {
        return Err(Trouble {
            status: StatusCode::FORBIDDEN,
            ..Trouble::of_form("your account may not begin cases", "ask an analyst")
        });
    }
    let _turn = workbench.server.long_work.acquire().await;
    let passing = Passing::benchbook()?;
    std::fs::write(passing.path(), &file.bytes).map_err(|error| {
        Trouble::of_form(format!("the file cannot be put down: {error}"), "try it again")
    })?;
    let of_file = |error: benchbook::BenchbookError| {
        // Its name here says nothing to the reader.
        let here = passing.path().display().to_string();
        let trouble = Trouble::from(error);
        let what = trouble.what.replace(&here, &shown(&file.name));
        Trouble { what, ..trouble }
    };
    let other = Benchbook::open_read_only(passing.path()).await.map_err(of_file)?;
    let there = other.cases().await.map_err(of_file)?;
    let named: Vec<&str> = there.iter().map(|case| case.id.as_str()).collect();
    let id = match (form.given("case"), named.as_slice()) {
        (Some(id), _) => id,
        (None, [only]) => (*only).to_owned(),
        (None, []) => {
            return Err(Trouble::of_form("that benchbook has no case", "choose another file"));
        }
        (None, _) => {
            return Err(Trouble::of_form(
                format!("that benchbook has {}", counted(named.len(), "case")),
                format!("name one of them: {}", shown(&named.join(", "))),
            ));
        }
    };
    let book = workbench.benchbook.because(&form.text("reason"));
    let copied = other.copy_case(&id, &book, &clock::moment()).await;
    other.close().await;
    copied.map_err(of_file)?;
    Ok(id)
}

/// The case as a benchbook of its own, to be kept or to be brought in elsewhere.
pub async fn alone(workbench: &Workbench, id: &str) -> Answer {
    let _turn = workbench.server.long_work.acquire().await;
    let bytes = copy_of(workbench, id)
        .await
        .map_err(|trouble| Reply::Refused { why: trouble.what, next_step: trouble.next_step })?;
    Ok(Reply::Download { name: format!("{id}.benchbook"), kind: "application/vnd.sqlite3", bytes })
}

async fn copy_of(workbench: &Workbench, id: &str) -> Result<Vec<u8>, Trouble> {
    let passing = Passing::benchbook()?;
    let at = clock::moment();
    let into = Benchbook::create(passing.path(), &at).await?;
    let copied = workbench.benchbook.copy_case(id, &into, &at).await;
    // Closing folds everything into the one file.
    into.close().await;
    copied?;
    std::fs::read(passing.path()).map_err(|error| {
        Trouble::of_form(format!("the copy cannot be read: {error}"), "try it again")
    })
}
