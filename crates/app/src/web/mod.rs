//! The web workbench: the benchbook as pages on a loopback address.
//!
//! One file per page (`pages/`); every page has a `.json` twin at the same
//! address. Pages are made here, on the server, and stand without script:
//! figures are drawn as SVG, and a small script only turns them into plots
//! that can be zoomed. Nothing is loaded from anywhere else, nothing is
//! written by a GET, and only requests addressed to this machine are
//! answered ([`guard`]).
//!
//! What changes the benchbook is sent as a form ([`form`]) that carries a token
//! of its session, goes through [`doings`], and is decided by the benchbook:
//! who may do it, and what is refused ([`refusals`]).

mod address;
mod assets;
mod bench;
mod case_fields;
mod collision;
mod cookies;
mod doings;
mod event_view;
mod figures;
mod form;
mod form_view;
mod frame;
mod front;
mod guard;
mod import_view;
mod ladder_view;
mod notes_view;
mod pages;
mod passing;
mod path_view;
mod refusals;
mod reply;
mod sheet;
mod shown_reports;
mod signature_view;
mod standing;
mod traces;
mod uploads;
mod wording;
mod workbench;

#[cfg(test)]
mod case_tests;
#[cfg(test)]
mod import_tests;
#[cfg(test)]
mod signing_tests;
#[cfg(test)]
mod tests;
#[cfg(test)]
mod twins_tests;
#[cfg(test)]
mod writing_tests;

use std::sync::Arc;

pub use front::Front;
use workbench::Server;

/// Serves the benchbook until the process is stopped.
///
/// # Errors
/// Where the benchbook cannot be read, or the listener fails.
pub async fn serve(
    benchbook: benchbook::Benchbook,
    listener: tokio::net::TcpListener,
    shown_name: String,
    front: Front,
) -> std::io::Result<()> {
    let server = Server::new(benchbook, shown_name, front).await.map_err(std::io::Error::other)?;
    axum::serve(listener, router(Arc::new(server))).await
}

/// Every address of the workbench behind its guard.
fn router(server: Arc<Server>) -> axum::Router {
    let front = Arc::clone(&server.front);
    axum::Router::new().fallback(reply::answer).with_state(server).layer(axum::middleware::from_fn(
        move |request, next| guard::check(Arc::clone(&front), request, next),
    ))
}
