//! Comparison and transfer: equal within a margin, agreement of two methods.

pub mod agreement;
pub mod equivalence;
pub mod passing_bablok;
pub mod power;
pub mod power_two_groups;

pub use agreement::{Agreement, bland_altman};
pub use equivalence::{Equivalence, equivalence_paired, equivalence_two_groups};
pub use passing_bablok::{RankLine, passing_bablok};
