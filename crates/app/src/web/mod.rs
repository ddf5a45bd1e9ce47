//! The web workbench: the benchbook as pages on a loopback address.
//!
//! One file per page (`pages/`); every page has a `.json` twin at the same
//! address. Pages are made here, on the server, and stand without script:
//! figures are drawn as SVG, and a small script only turns them into plots
//! that can be zoomed. Nothing is loaded from anywhere else, nothing is
//! written by a GET, and only requests addressed to this machine are
//! answered ([`guard`]).

mod address;
mod assets;
mod bench;
mod figures;
mod frame;
mod guard;
mod ladder_view;
mod notes_view;
mod pages;
mod path_view;
mod reply;
mod sheet;
mod traces;
mod wording;
mod workbench;

#[cfg(test)]
mod tests;

use std::sync::Arc;

use workbench::Workbench;

/// Serves the benchbook until the process is stopped.
///
/// # Errors
/// Where the listener fails or has no address.
pub async fn serve(
    benchbook: benchbook::Benchbook,
    listener: tokio::net::TcpListener,
    shown_name: String,
) -> std::io::Result<()> {
    let port = listener.local_addr()?.port();
    let workbench = Arc::new(Workbench::new(benchbook, shown_name));
    axum::serve(listener, router(workbench, port)).await
}

/// Every address of the workbench behind its guard.
fn router(workbench: Arc<Workbench>, port: u16) -> axum::Router {
    let hosts = guard::Hosts::of_loopback(port);
    axum::Router::new().fallback(reply::answer).with_state(workbench).layer(
        axum::middleware::from_fn(move |request, next| guard::check(hosts.clone(), request, next)),
    )
}
