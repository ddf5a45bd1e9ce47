//! The guard before every page: which requests are answered at all, and the
//! headers that every answer carries.

use std::sync::Arc;

use axum::extract::Request;
use axum::http::header::{ALLOW, HOST, HeaderName, HeaderValue, ORIGIN};
use axum::http::{Method, StatusCode};
use axum::middleware::Next;
use axum::response::{IntoResponse, Response};

use super::front::Front;

/// Style comes from the one style sheet; the digest is that of an empty
/// string, because the plotting library begins with an empty style element
/// and fills it through the browser's own interface.
const POLICY: &str = "default-src 'none'; script-src 'self'; style-src 'self' \
    'sha256-47DEQpj8HBSa+/TImW+5JCeuQeRkm5NMpJWZG3hSuFU='; img-src 'self' data:; font-src 'self'; \
    connect-src 'self'; form-action 'self'; frame-ancestors 'none'; base-uri 'none'";

/// The referrer stays within the workbench. It cannot be left out everywhere:
/// then browsers would also hide the origin of a form that is sent.
const HEADERS: [(&str, &str); 7] = [
    ("content-security-policy", POLICY),
    ("x-content-type-options", "nosniff"),
    ("referrer-policy", "same-origin"),
    ("cross-origin-opener-policy", "same-origin"),
    ("cross-origin-resource-policy", "same-origin"),
    ("x-frame-options", "DENY"),
    ("permissions-policy", "camera=(), geolocation=(), microphone=()"),
];

/// Lets a request through where it is addressed to this workbench and, if it
/// would change something, comes from one of its own pages; sets the headers
/// of the answer.
pub async fn check(front: Arc<Front>, request: Request, next: Next) -> Response {
    let mut response = match refusal(&front, &request) {
        Some(response) => response,
        None => next.run(request).await,
    };
    let headers = response.headers_mut();
    for (name, value) in HEADERS {
        headers.insert(HeaderName::from_static(name), HeaderValue::from_static(value));
    }
    headers
        .entry(HeaderName::from_static("cache-control"))
        .or_insert(HeaderValue::from_static("no-store"));
    response
}

fn refusal(front: &Front, request: &Request) -> Option<Response> {
    let hosts = front.hosts();
    let allowed = |name: &str| hosts.iter().any(|host| host == name);
    let addressed = only(request, HOST).filter(|host| allowed(host));
    // A whole address in the request line must name this workbench as well.
    let authority = request.uri().authority().is_none_or(|name| allowed(name.as_str()));
    let Some(host) = addressed.filter(|_| authority) else {
        let text = "This address belongs to a workbench on another name. Open the link that \
                    `isobar serve` printed.\n";
        return Some((StatusCode::MISDIRECTED_REQUEST, text).into_response());
    };
    let method = request.method();
    if method == Method::GET || method == Method::HEAD {
        return None;
    }
    if method != Method::POST {
        let text = "This workbench answers GET, HEAD and POST.\n";
        return Some(
            (StatusCode::METHOD_NOT_ALLOWED, [(ALLOW, "GET, HEAD, POST")], text).into_response(),
        );
    }
    let own = only(request, ORIGIN).is_some_and(|origin| origin == front.origin_of(host));
    let site = HeaderName::from_static("sec-fetch-site");
    let same_site = match request.headers().contains_key(&site) {
        true => only(request, site).is_some_and(|site| site == "same-origin"),
        // Programs that are no browser do not send it.
        false => true,
    };
    if own && same_site {
        return None;
    }
    let text = "This form was not sent from a page of this workbench, and nothing was changed. \
                Open the page in the workbench and send it from there.\n";
    Some((StatusCode::FORBIDDEN, text).into_response())
}

/// The value of a header that stands exactly once.
fn only(request: &Request, name: HeaderName) -> Option<&str> {
    let mut values = request.headers().get_all(name).iter();
    match (values.next(), values.next()) {
        (Some(value), None) => value.to_str().ok(),
        _ => None,
    }
}
