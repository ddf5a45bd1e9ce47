//! `isobar assess limit`: reject limit from negative controls.

mod figure;
mod lots;
mod readings;
mod result;
mod summaries;
mod two_errors;

use std::path::PathBuf;

use clap::{Args, ValueEnum};

use super::figure_option::FigureOption;
use super::tables;
use crate::answer::Answer;
use crate::fault::Fault;

/// Reject limit: an upper tolerance limit.
#[derive(Args)]
#[command(after_help = "Examples:
  isobar assess limit --mean 13 --sd 4.3 --n 135 --content 0.999 --confidence 0.95
  isobar assess limit examples/negative_controls.csv --column rise_pa
  isobar assess limit examples/negative_controls.csv --column rise_pa --lot day \\
      --leak-mean 60 --leak-sd 6 --leak-n 20 --figure limit.svg
  isobar assess limit examples/negative_controls.csv --column rise_pa --method lognormal
  isobar assess limit examples/three_site_study.csv --summary --where \"population=no leak\" \\
      --mean 13 --sd 4.3 --n 135 --content 0.99")]
pub struct Limit {
    /// Table of readings, or of group summaries with --summary.
    table: Option<PathBuf>,
    /// Column with the readings.
    #[arg(long)]
    column: Option<String>,
    /// Column with the lot (or day, batch): the limit is for a unit of a future lot.
    #[arg(long, requires = "column")]
    lot: Option<String>,
    /// Kind of limit.
    #[arg(long, value_enum, default_value = "normal")]
    method: Method,
    /// The table holds a row of mean, standard deviation and number for each group.
    #[arg(long, requires = "table")]
    summary: bool,
    #[command(flatten)]
    pub(super) rows: tables::KeptRows,
    /// Printed mean.
    #[arg(long, requires_all = ["sd", "n"], allow_hyphen_values = true)]
    mean: Option<f64>,
    /// Printed standard deviation.
    #[arg(long, requires = "mean")]
    sd: Option<f64>,
    /// Printed number of values.
    #[arg(long, requires = "mean")]
    n: Option<usize>,
    /// Reading by which the table codes runs ended by a limit.
    #[arg(long)]
    abort_code: Option<f64>,
    /// Share of good units to stay below the limit.
    #[arg(long, default_value_t = 0.999)]
    content: f64,
    /// Confidence in that share.
    #[arg(long, default_value_t = 0.95)]
    confidence: f64,
    /// Mean reading of units with the leak that must be found.
    #[arg(long, requires_all = ["leak_sd", "leak_n"], allow_hyphen_values = true)]
    leak_mean: Option<f64>,
    /// Standard deviation of their readings.
    #[arg(long, requires = "leak_mean")]
    leak_sd: Option<f64>,
    /// Number of such units.
    #[arg(long, requires = "leak_mean")]
    leak_n: Option<usize>,
    /// Standard uncertainty of one reading, for a guard band.
    #[arg(long)]
    uncertainty: Option<f64>,
    /// Risk that a true value above the limit passes, for the guard band.
    #[arg(long, default_value_t = 0.05, requires = "uncertainty")]
    guard_risk: f64,
    #[command(flatten)]
    figure: FigureOption,
}

/// Kinds of limits.
#[derive(Clone, Copy, PartialEq, Eq, ValueEnum)]
enum Method {
    /// One-sided normal, exact factor.
    Normal,
    /// Two-sided normal, exact factor: a lower and an upper limit.
    TwoSided,
    /// An order statistic: no distribution assumed.
    Nonparametric,
    /// Normal on the scale of logarithms.
    Lognormal,
    /// Normal on the power scale that fits best.
    BoxCox,
}

/// Runs the command.
pub fn run(command: &Limit) -> Result<Answer, Fault> {
    match (&command.table, command.summary, command.mean) {
        (Some(path), true, _) => summaries::run(command, path),
        (Some(path), false, None) => readings::run(command, path),
        (None, _, Some(mean)) => summaries::from_printed(command, mean),
        (Some(_), false, Some(_)) => Err(Fault::users(
            "a table of readings and printed figures were both given",
            "give one of them, or add --summary where the table holds group summaries",
        )),
        (None, _, None) => Err(Fault::users(
            "nothing to assess",
            "name a table and its --column, or give --mean, --sd and --n",
        )),
    }
}
