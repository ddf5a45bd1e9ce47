//! Replies: from a place and a form to what is sent.

use std::sync::Arc;

use axum::body::Body;
use axum::extract::{Request, State};
use axum::http::header::{CACHE_CONTROL, CONTENT_DISPOSITION, CONTENT_TYPE, LOCATION};
use axum::http::{HeaderValue, StatusCode};
use axum::response::Response;
use maud::Markup;
use serde_json::Value;

use super::address::{self, Place};
use super::workbench::Workbench;
use super::{frame, pages};

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
    /// Go there instead.
    Elsewhere(String),
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
pub async fn answer(State(workbench): State<Arc<Workbench>>, request: Request) -> Response {
    let path = request.uri().path().to_owned();
    let query = address::query(request.uri().query());
    let Some(address) = address::read(&path) else {
        let reply =
            Reply::missing("there is no page at this address", "begin with the list of cases", "/");
        return send(&workbench, path.ends_with(".json"), reply);
    };
    if let Place::Asset(name) = &address.place {
        return asset(&workbench, name);
    }
    let reply = match &address.place {
        Place::Benchbook => pages::benchbook::reply(&workbench, address.json).await,
        Place::History => pages::history::reply(&workbench, address.json, &query).await,
        Place::Case { id, part } => {
            pages::case_part(&workbench, id, part, address.json, &query).await
        }
        Place::Asset(_) => Err(Reply::missing("there is no such file", "open a page", "/")),
    };
    send(&workbench, address.json, reply.unwrap_or_else(|refusal| refusal))
}

fn asset(workbench: &Workbench, name: &str) -> Response {
    let Some(asset) = workbench.assets.named(name) else {
        let reply = Reply::missing("there is no such file", "reload the page", "/");
        return send(workbench, false, reply);
    };
    let mut response = Response::new(Body::from(asset.body.clone()));
    let headers = response.headers_mut();
    headers.insert(CONTENT_TYPE, HeaderValue::from_static(asset.kind));
    let keep = if name == asset.name {
        "public, max-age=31536000, immutable"
    } else {
        "public, max-age=3600"
    };
    headers.insert(CACHE_CONTROL, HeaderValue::from_static(keep));
    response
}

fn send(workbench: &Workbench, json: bool, reply: Reply) -> Response {
    match reply {
        Reply::Page(page) => text(StatusCode::OK, "text/html; charset=utf-8", page.into_string()),
        Reply::Json(value) => {
            text(StatusCode::OK, "application/json; charset=utf-8", value.to_string())
        }
        Reply::Download { name, kind, bytes } => download(&name, kind, bytes),
        Reply::Elsewhere(link) => {
            let mut response =
                text(StatusCode::SEE_OTHER, "text/plain; charset=utf-8", String::new());
            if let Ok(value) = HeaderValue::from_str(&link) {
                response.headers_mut().insert(LOCATION, value);
            }
            response
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
        let value = serde_json::json!({ "error": what, "details": [], "hint": next_step });
        return text(status, "application/json; charset=utf-8", value.to_string());
    }
    let page = frame::refusal_page(workbench, title, what, next_step, link);
    text(status, "text/html; charset=utf-8", page.into_string())
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
