//! The guard before every page: which requests are answered at all, and the
//! headers that every answer carries.

use std::sync::Arc;

use axum::extract::Request;
use axum::http::header::{ALLOW, HOST, HeaderName, HeaderValue};
use axum::http::{Method, StatusCode};
use axum::middleware::Next;
use axum::response::{IntoResponse, Response};

/// The names under which this machine is addressed. Any other name in a
/// request means that a foreign page leads the browser here.
#[derive(Debug, Clone)]
pub struct Hosts(Arc<[String; 3]>);

impl Hosts {
    /// The three spellings of the loopback address with this port.
    pub fn of_loopback(port: u16) -> Self {
        Self(Arc::new([
            format!("127.0.0.1:{port}"),
            format!("localhost:{port}"),
            format!("[::1]:{port}"),
        ]))
    }

    fn allow(&self, host: &str) -> bool {
        self.0.iter().any(|allowed| allowed == host)
    }
}

/// Style comes from the one style sheet; the digest is that of an empty
/// string, because the plotting library begins with an empty style element
/// and fills it through the browser's own interface.
const POLICY: &str = "default-src 'none'; script-src 'self'; style-src 'self' \
    'sha256-47DEQpj8HBSa+/TImW+5JCeuQeRkm5NMpJWZG3hSuFU='; img-src 'self' data:; font-src 'self'; \
    connect-src 'self'; form-action 'self'; frame-ancestors 'none'; base-uri 'none'";

const HEADERS: [(&str, &str); 7] = [
    ("content-security-policy", POLICY),
    ("x-content-type-options", "nosniff"),
    ("referrer-policy", "no-referrer"),
    ("cross-origin-opener-policy", "same-origin"),
    ("cross-origin-resource-policy", "same-origin"),
    ("x-frame-options", "DENY"),
    ("permissions-policy", "camera=(), geolocation=(), microphone=()"),
];

/// Lets a request through where it is addressed to this machine and only
/// reads, and sets the headers of the answer.
pub async fn check(hosts: Hosts, request: Request, next: Next) -> Response {
    let mut response = match refusal(&hosts, &request) {
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

fn refusal(hosts: &Hosts, request: &Request) -> Option<Response> {
    let mut names = request.headers().get_all(HOST).iter();
    let addressed = match (names.next(), names.next()) {
        (Some(host), None) => host.to_str().is_ok_and(|host| hosts.allow(host)),
        _ => false,
    };
    // A whole address in the request line must name this machine as well.
    let authority = request.uri().authority().is_none_or(|name| hosts.allow(name.as_str()));
    if !addressed || !authority {
        let text = "This address belongs to a workbench on another name. Open the link that \
                    `isobar serve` printed.\n";
        return Some((StatusCode::MISDIRECTED_REQUEST, text).into_response());
    }
    if request.method() != Method::GET && request.method() != Method::HEAD {
        let text = "This workbench only reads. Change a benchbook with the command line.\n";
        let allow = [(ALLOW, "GET, HEAD")];
        return Some((StatusCode::METHOD_NOT_ALLOWED, allow, text).into_response());
    }
    None
}
