//! Replies: from a place and a form to what is sent.

use std::sync::Arc;

use axum::body::Body;
use axum::extract::{Request, State};
use axum::http::header::{CACHE_CONTROL, CONTENT_DISPOSITION, CONTENT_TYPE, LOCATION, SET_COOKIE};
use axum::http::{HeaderValue, Method, StatusCode};
use axum::response::Response;
use maud::Markup;
use serde_json::Value;

use super::address::{self, Address, Place};
use super::workbench::{Server, Workbench};
use super::{doings, frame, pages};

/// What is sent back.
pub enum Reply {
    /// A page.
    Page(Markup),
    /// The twin of a page, or the data of a plot.
    Json(Value),
    /// A file to keep.
    Download {
        /// Name of the file.
        name: String,
        /// Type of content.
        kind: &'static str,
        /// Its content.
        bytes: Vec<u8>,
    },
    /// A page that answers a form with something worked out, and its twin.
    PageAndTwin {
        /// The page.
        page: Markup,
        /// The same as data.
        twin: Value,
    },
    /// A page that answers a form: not done, and why.
    PageWith {
        /// Status of the answer.
        status: StatusCode,
        /// The page, with what was typed.
        page: Markup,
        /// For the twin: what was refused.
        error: String,
        /// For the twin: one thing to do next.
        hint: String,
    },
    /// Go there instead.
    Elsewhere(String),
    /// Go there instead, with another cookie.
    ElsewhereWith {
        /// Where.
        link: String,
        /// The line that sets the cookie.
        cookie: String,
    },
    /// Something was sent and is not taken.
    Denied {
        /// Status of the answer.
        status: StatusCode,
        /// Why, without a full stop.
        what: String,
        /// One thing to do next.
        next_step: String,
        /// Where that can be done.
        link: String,
        /// What somebody had typed, by the name of its field.
        typed: Vec<(String, String)>,
    },
    /// There is nothing: what is missing, and where to go on.
    Missing {
        /// What was looked for.
        what: String,
        /// One thing to do next.
        next_step: String,
        /// Where that can be done.
        link: String,
    },
    /// What was asked cannot be answered: why, and what to change.
    Refused {
        /// Why.
        why: String,
        /// One thing to do next.
        next_step: String,
    },
    /// A fault of the program or of the store.
    Failed(String),
}

/// A reply or a reason for none.
pub type Answer = Result<Reply, Reply>;

impl Reply {
    /// Nothing is there.
    pub fn missing(what: impl Into<String>, next_step: &str, link: impl Into<String>) -> Self {
        Self::Missing { what: what.into(), next_step: next_step.to_owned(), link: link.into() }
    }

    /// A fault of the store.
    pub fn failed(error: &impl std::fmt::Display) -> Self {
        Self::Failed(error.to_string())
    }
}

/// Answers a request that the guard has let through.
pub async fn answer(State(server): State<Arc<Server>>, request: Request) -> Response {
    let path = request.uri().path().to_owned();
    let address = address::read(&path);
    if let Some(Place::Asset(name)) = address.as_ref().map(|address| &address.place)
        && let Some(response) = asset(&server, name)
    {
        return response;
    }
    let workbench = match Workbench::of(server, request.headers()).await {
        Ok(workbench) => workbench,
        // Without a visitor there is no frame for a page.
        Err(error) => {
            let what = format!("The benchbook could not be read: {error}.\n");
            return text(StatusCode::INTERNAL_SERVER_ERROR, "text/plain; charset=utf-8", what);
        }
    };
    let Some(address) = address else {
        let reply =
            Reply::missing("there is no page at this address", "begin with the list of cases", "/");
        return send(&workbench, path.ends_with(".json"), reply);
    };
    let reply = if request.method() == Method::POST {
        doings::answer(&workbench, &address, request).await
    } else {
        let query = address::query(request.uri().query());
        let whole = request.uri().path_and_query().map_or("/", |whole| whole.as_str());
        looked_at(&workbench, &address, &query, whole).await
    };
    send(&workbench, address.json, reply.unwrap_or_else(|refusal| refusal))
}

async fn looked_at(
    workbench: &Workbench,
    address: &Address,
    query: &[(String, String)],
    whole: &str,
) -> Answer {
    if workbench.must_sign_in() && !matches!(address.place, Place::SignIn | Place::Asset(_)) {
        return Ok(pages::sign_in::needed(address.json, whole));
    }
    match &address.place {
        Place::Benchbook => pages::benchbook::reply(workbench, address.json).await,
        Place::BringIn => Ok(pages::bring_in::reply(workbench, address.json)),
        Place::NewCase => Ok(pages::new_case::reply(workbench, address.json)),
        Place::History => pages::history::reply(workbench, address.json, query).await,
        Place::HistoryTable => pages::history::table(workbench, query).await,
        Place::Safekeeping => pages::safekeeping::reply(workbench, address.json).await,
        Place::Register(id) => {
            pages::register::reply(workbench, address.json, id.as_deref(), query).await
        }
        Place::Certificate(id) => pages::register::certificate(workbench, id).await,
        Place::People(id) => {
            pages::people::reply(workbench, address.json, id.as_deref(), query).await
        }
        Place::Password => Ok(pages::password::reply(workbench, address.json, query)),
        Place::SignIn => {
            Ok(pages::sign_in::reply(workbench, address.json, address::value(query, "to")))
        }
        Place::SignOut => Ok(Reply::Elsewhere("/sign-in".to_owned())),
        Place::Case { id, part } => {
            pages::case_part(workbench, id, part, address.json, query).await
        }
        Place::Asset(_) => Err(Reply::missing("there is no such file", "reload the page", "/")),
    }
}

fn asset(server: &Server, name: &str) -> Option<Response> {
    let asset = server.assets.named(name)?;
    let mut response = Response::new(Body::from(asset.body.clone()));
    let headers = response.headers_mut();
    headers.insert(CONTENT_TYPE, HeaderValue::from_static(asset.kind));
    let keep = if name == asset.name {
        "public, max-age=31536000, immutable"
    } else {
        "public, max-age=3600"
    };
    headers.insert(CACHE_CONTROL, HeaderValue::from_static(keep));
    Some(response)
}

fn send(workbench: &Workbench, json: bool, reply: Reply) -> Response {
    let mut response = made(workbench, json, reply);
    if let Some(cookie) = &workbench.visitor.new_cookie
        && let Ok(value) = HeaderValue::from_str(cookie)
    {
        response.headers_mut().append(SET_COOKIE, value);
    }
    response
}

const PAGE: &str = "text/html; charset=utf-8";
const JSON: &str = "application/json; charset=utf-8";

fn made(workbench: &Workbench, json: bool, reply: Reply) -> Response {
    match reply {
        Reply::Page(page) => text(StatusCode::OK, PAGE, page.into_string()),
        Reply::Json(value) => text(StatusCode::OK, JSON, value.to_string()),
        Reply::PageAndTwin { twin, .. } if json => text(StatusCode::OK, JSON, twin.to_string()),
        Reply::PageAndTwin { page, .. } => text(StatusCode::OK, PAGE, page.into_string()),
        Reply::PageWith { status, error, hint, .. } if json => {
            refused_in_json(status, &error, &hint)
        }
        Reply::PageWith { status, page, .. } => text(status, PAGE, page.into_string()),
        Reply::Download { name, kind, bytes } => download(&name, kind, bytes),
        Reply::Elsewhere(link) => elsewhere(&link, None),
        Reply::ElsewhereWith { link, cookie } => elsewhere(&link, Some(&cookie)),
        Reply::Denied { status, what, next_step, .. } if json => {
            refused_in_json(status, &what, &next_step)
        }
        Reply::Denied { status, what, next_step, link, typed } => {
            let page = frame::denial_page(workbench, &what, &next_step, &link, &typed);
            text(status, PAGE, page.into_string())
        }
        Reply::Missing { what, next_step, link } => {
            let status = StatusCode::NOT_FOUND;
            refusal(workbench, json, status, "Nothing here", &what, &next_step, &link)
        }
        Reply::Refused { why, next_step } => {
            let status = StatusCode::UNPROCESSABLE_ENTITY;
            refusal(workbench, json, status, "This cannot be answered", &why, &next_step, "/")
        }
        Reply::Failed(what) => {
            let status = StatusCode::INTERNAL_SERVER_ERROR;
            let next =
                "reload the page; if it stays, stop the workbench and open the benchbook again";
            refusal(workbench, json, status, "The benchbook could not be read", &what, next, "/")
        }
    }
}

fn refusal(
    workbench: &Workbench,
    json: bool,
    status: StatusCode,
    title: &str,
    what: &str,
    next_step: &str,
    link: &str,
) -> Response {
    if json {
        return refused_in_json(status, what, next_step);
    }
    let page = frame::refusal_page(workbench, title, what, next_step, link);
    text(status, PAGE, page.into_string())
}

fn refused_in_json(status: StatusCode, what: &str, next_step: &str) -> Response {
    let value = serde_json::json!({ "error": what, "details": [], "hint": next_step });
    text(status, JSON, value.to_string())
}

fn elsewhere(link: &str, cookie: Option<&str>) -> Response {
    let mut response = text(StatusCode::SEE_OTHER, "text/plain; charset=utf-8", String::new());
    let headers = response.headers_mut();
    if let Ok(value) = HeaderValue::from_str(link) {
        headers.insert(LOCATION, value);
    }
    if let Some(Ok(value)) = cookie.map(HeaderValue::from_str) {
        headers.append(SET_COOKIE, value);
    }
    response
}

fn text(status: StatusCode, kind: &'static str, body: String) -> Response {
    let mut response = Response::new(Body::from(body));
    *response.status_mut() = status;
    response.headers_mut().insert(CONTENT_TYPE, HeaderValue::from_static(kind));
    response
}

fn download(name: &str, kind: &'static str, bytes: Vec<u8>) -> Response {
    // The name is made of the identifier of a case, which may hold anything.
    let safe: String = name
        .chars()
        .map(|c| if c.is_ascii_alphanumeric() || matches!(c, '-' | '_' | '.') { c } else { '_' })
        .collect();
    let mut response = Response::new(Body::from(bytes));
    let headers = response.headers_mut();
    headers.insert(CONTENT_TYPE, HeaderValue::from_static(kind));
    if let Ok(value) = HeaderValue::from_str(&format!("attachment; filename=\"{safe}\"")) {
        headers.insert(CONTENT_DISPOSITION, value);
    }
    response
}
