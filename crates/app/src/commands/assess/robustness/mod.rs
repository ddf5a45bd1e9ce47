//! `isobar assess robustness`: designs as tables, and what a filled one says.

mod answer;
mod coding;
mod factor;
mod figure;
mod fractions;
mod models;
mod success;
mod two_levels;
mod write;

use std::path::PathBuf;

use clap::{Args, ValueEnum};

use super::figure_option::FigureOption;
use super::tables;
use crate::answer::Answer;
use crate::fault::Fault;

/// Designed experiments.
#[derive(Args)]
#[command(after_help = "Examples:
  isobar assess robustness --design screening --runs 12 --factor settle_s=1,3 \\
      --factor pump_s=8,12 --factor room_c=18,26 --centres 3
  isobar assess robustness --design fractional --generator D=ABC --factor settle_s=1,3 \\
      --factor pump_s=8,12 --factor room_c=18,26 --factor load=0,1
  isobar assess robustness examples/half_fraction.csv --factor settle_s --factor pump_s \\
      --factor room_c --factor load --response rise_pa --figure effects.svg
  isobar assess robustness examples/settings.csv --factor settle_s=1,3 --factor pump_s=8,12 \\
      --response rise_pa --criterion \"rise_pa <= 20\" --figure effects.svg")]
pub struct Robustness {
    /// Filled table with a row for each run; without one, a design is written.
    table: Option<PathBuf>,
    /// Factor with its low and high level; give one for each. In a filled table the levels may
    /// be left out where they can be read from it.
    #[arg(long = "factor", value_name = "NAME=LOW,HIGH", allow_hyphen_values = true)]
    factors: Vec<String>,
    /// Design to write.
    #[arg(long, value_enum, conflicts_with = "table", required_unless_present = "table")]
    design: Option<DesignName>,
    /// For a fraction: a factor as the product of others, by letters in the order given.
    #[arg(long = "generator", value_name = "D=ABC", requires = "design")]
    generators: Vec<String>,
    /// Runs of a screening design: 8, 12, 20 or 24.
    #[arg(long, default_value_t = 12)]
    runs: usize,
    /// Distance of the axial runs of a composite design; otherwise the rotatable one.
    #[arg(long)]
    axial: Option<f64>,
    /// Runs at the centre.
    #[arg(long, default_value_t = 0)]
    centres: usize,
    /// Seed of the order of running.
    #[arg(long, default_value_t = 1)]
    seed: u64,
    /// Write the design into this CSV file; otherwise it is printed.
    #[arg(short, long, value_name = "FILE.csv", requires = "design")]
    output: Option<PathBuf>,
    /// Column with a result; may be given again.
    #[arg(long = "response")]
    responses: Vec<String>,
    /// What a run must meet, such as "rise_pa <= 20"; may be given again.
    #[arg(long = "criterion", value_name = "RESULT <= LIMIT", requires = "table")]
    criteria: Vec<String>,
    /// Column with the block (day, rig) of each run.
    #[arg(long, requires = "table")]
    block: Option<String>,
    #[command(flatten)]
    pub(super) rows: tables::KeptRows,
    /// Confidence of the intervals.
    #[arg(long, default_value_t = 0.95)]
    confidence: f64,
    #[command(flatten)]
    figure: FigureOption,
}

/// Designs.
#[derive(Clone, Copy, PartialEq, Eq, ValueEnum)]
enum DesignName {
    /// All combinations of two levels.
    Full,
    /// A fraction of them, by generators.
    Fractional,
    /// Plackett and Burman: many factors in few runs.
    Screening,
    /// Factorial, axial and centre runs for a curved surface.
    CentralComposite,
    /// Three levels, main effects free of interactions.
    DefinitiveScreening,
}

/// Runs the command.
pub fn run(command: &Robustness) -> Result<Answer, Fault> {
    if command.factors.is_empty() {
        return Err(Fault::users(
            "no factor was named",
            "give --factor NAME=LOW,HIGH for each setting that is varied",
        ));
    }
    match (&command.table, command.design) {
        (Some(path), _) => answer::run(command, path),
        (None, Some(design)) => write::run(command, design),
        (None, None) => Err(Fault::users(
            "nothing to do",
            "name a filled table, or a design to write (--design)",
        )),
    }
}
