//! Runs as tables: one row for each run, one for each sample, one for each
//! stage; and back, without loss.

mod back;
mod grid;
mod tables;

pub use back::runs_from_tables;
pub use grid::{Grid, GridColumn, Values};
pub use tables::{RUNS, SAMPLES, STAGES, grids_of_runs};
