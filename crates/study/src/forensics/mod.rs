//! Forensics: why the pressure rose in the isolated chamber.
//!
//! The settle and measure stages are fitted as a sum of causes: a leak (steady,
//! or from a headspace that empties), outgassing (1/t and slower powers),
//! vapour, thermal recovery, creep of the container, a step and sensor drift.
//! Coefficients that physics gives a sign keep it. Every combination of causes
//! is fitted; the simplest that the record supports is named, and what it
//! cannot tell apart is said.
//!
//! The model: `p(t) = p0 + sum a_k f_k(t; constants) + noise`, noise of the
//! first-order autoregressive kind. For fixed constants the coefficients are a
//! least-squares problem (variable projection: G. H. Golub and V. Pereyra,
//! SIAM J. Numer. Anal. 10 (1973) 413, from memory); the constants are
//! searched on grids. Non-negative least squares is solved by trying every
//! support, because there are few terms. Combinations are compared by AICc
//! (C. M. Hurvich and C.-L. Tsai, Biometrika 76 (1989) 297, from memory).
//! What this finds on simulated traces with planted causes is recorded in
//! `docs/forensics.md`.

mod choice;
mod circumstances;
mod creep;
mod drift;
mod emptied;
mod explain;
mod findings;
mod fit;
mod leak;
mod leak_rate;
mod leak_size;
mod mixture;
mod outgassing;
mod saturation;
mod sentence;
mod step;
mod term;
mod thermal;
mod vapour;
mod window;

pub use circumstances::{Circumstances, HeadspaceState};
pub use explain::explain;
pub use findings::{
    Findings, FoundTerm, LeakRate, Residuals, SizeInterval, TwoSided, Unexplained, Verdict,
};
pub use saturation::saturated_from;
pub use term::Cause;
pub use window::RiseSpan;
