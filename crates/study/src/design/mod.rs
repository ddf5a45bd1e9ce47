//! Method design: which cycle finds the leak that matters in the least time.
//!
//! Every candidate is a cycle of one to three tiers. The chamber is closed
//! while it settles and measures, so one simulation with a long closed stage
//! serves every settling and measuring time at once: candidates are cheap, and
//! the front of time against smallest leak is searched whole, not sampled.
//! The quickest candidates are then tried on the uncertain inputs.

mod candidates;
mod checks;
mod choose;
mod closed_stage;
mod fixture;
mod front;
mod ranges;
mod score;

pub use crate::check::{Check, CheckOutcome};
pub use choose::{DesignError, design};
pub use fixture::{FixtureDesign, FixtureRange, FixtureSearch, design_fixtures};
pub use ranges::AcceptableRanges;

use crate::cycle::Cycle;
use crate::forecast::Forecast;
use crate::notes::Note;

/// How thoroughly to search, and from which seed.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct DesignSettings {
    /// Seed of the draws over the uncertain inputs.
    pub seed: u64,
    /// Draws on which candidates of the front and the ranges are tried.
    pub n_draws: usize,
    /// Number of leak sizes, spread evenly on the log axis.
    pub n_sizes: usize,
    /// Share of the draws in which a method must reach the leak that matters.
    pub required_share: f64,
    /// Leaks up to this size must be found without a gap, µm flow-equivalent.
    pub up_to_um: f64,
    /// Longest cycle that is worth considering, s.
    pub longest_s: f64,
}

impl Default for DesignSettings {
    fn default() -> Self {
        Self {
            seed: 1,
            n_draws: 64,
            n_sizes: 49,
            required_share: 0.95,
            up_to_um: 500.0,
            longest_s: 120.0,
        }
    }
}

/// A cycle that was considered.
#[derive(Debug, Clone, PartialEq)]
pub struct Candidate {
    /// The cycle; its limits are open and are set by the forecast.
    pub cycle: Cycle,
    /// Time that a tight unit takes, s.
    pub tight_time_s: f64,
    /// Smallest leak found with the required probability, µm; `None` where
    /// there is none.
    pub smallest_um: Option<f64>,
    /// Largest leak up to which that holds without a gap, µm.
    pub largest_um: Option<f64>,
    /// The large end lies beyond the range that was searched.
    pub largest_beyond: bool,
    /// Share of the draws in which it finds the leak that matters and every
    /// larger one; `None` where it was not tried on the draws.
    pub share_of_draws: Option<f64>,
}

/// The search and what came of it.
#[derive(Debug, Clone, PartialEq)]
pub struct Design {
    /// Seed of the draws.
    pub seed: u64,
    /// Number of draws.
    pub n_draws: usize,
    /// Number of cycles that were considered.
    pub n_considered: usize,
    /// Time against smallest leak: none of the others is both quicker and
    /// finer. By rising time; only cycles without a gap up to the size asked.
    pub front: Vec<Candidate>,
    /// The leak that matters, µm flow-equivalent, where it was stated so.
    pub target_um: Option<f64>,
    /// Place of the chosen method in the front; `None` where none fits.
    pub chosen: Option<usize>,
    /// Forecast of the chosen method, with its limits.
    pub forecast: Option<Forecast>,
    /// Settling and measuring times that still work.
    pub ranges: Option<AcceptableRanges>,
    /// Free volumes with which the chosen cycle still works.
    pub fixture: Option<FixtureRange>,
    /// What was checked beside detection.
    pub checks: Vec<Check>,
    /// What the reader should know.
    pub notes: Vec<Note>,
}

impl Design {
    /// The chosen candidate.
    #[must_use]
    pub fn chosen_candidate(&self) -> Option<&Candidate> {
        self.front.get(self.chosen?)
    }
}
