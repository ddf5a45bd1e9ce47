//! Where scatter comes from: lots, days, stations, operators, units.
//!
//! Estimates by the analysis of variance are shown as they are, negative ones
//! included: a negative estimate is a finding, not a zero.

pub mod agreement;
pub mod crossed;
pub mod gauge;
pub mod intervals;
mod mixed_equations;
pub mod nested;
pub mod nested_levels;
pub mod one_way;
pub mod random_factors;
pub mod restricted_likelihood;
mod sequential_squares;

pub use crossed::{Crossed, crossed};
pub use nested::{Nested, nested};
pub use nested_levels::{NestedLevels, nested_levels};
pub use one_way::{OneWay, one_way};
pub use random_factors::{Factor, RandomFactors, random_factors};

use crate::note::Note;

/// Note on a negative estimate, where there is one.
pub(crate) fn negative_note(name: &str, variance: f64) -> Option<Note> {
    (variance < 0.0).then(|| {
        Note::new(
            "negative-component",
            format!(
                "The variance of {name} is estimated as {variance:.6}, which is negative: the data show \
                 no such component, or too few levels to see it."
            ),
            "Report the estimate as it is and its upper limit; do not report a measured zero.",
        )
    })
}
