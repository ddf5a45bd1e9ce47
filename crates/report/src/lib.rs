//! Composes what results and claim decided; cannot compute.
//!
//! A [`figure::Figure`] is data with two printers, SVG for paper and JSON for
//! the browser's plot. A [`document::Document`] has two printers as well:
//! [`typeset::typeset`] (PDF/A, offline, the same bytes for the same input)
//! and [`html::html`].
//!
//! Pure: no files, clock, environment, network or terminal.

pub mod compose;
pub mod document;
pub mod figure;
pub mod html;
pub mod ladder_figure;
pub mod ladder_text;
pub mod logarithm;
pub mod number;
pub mod signal_figure;
pub mod typeset;
pub mod visible;

#[cfg(test)]
mod sample;

pub use compose::{DocumentName, Edition, compose, compose_document};
pub use document::Document;
pub use figure::Figure;
pub use typeset::{Paper, TypesetError, typeset};
