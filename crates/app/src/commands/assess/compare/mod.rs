//! `isobar assess compare`: do two rigs, sites or methods read the same?

mod answer;
mod figure;
mod groups;
mod pairs;
mod sizes;
mod two_group_sizes;

use std::path::PathBuf;

use clap::Args;

use super::figure_option::FigureOption;
use super::tables;
use crate::answer::Answer;
use crate::fault::Fault;

/// Comparison and transfer.
#[derive(Args)]
#[command(after_help = "Examples:
  isobar assess compare examples/two_rigs.csv --first old_pa --second new_pa --margin 2 \\
      --figure compare.svg
  isobar assess compare examples/interlaboratory.csv --reading reading --group laboratory \\
      --where \"level=no leak\" --groups A,B --margin 3
  isobar assess compare --margin 2 --sd 1.7 --true-difference 0.5 --power 0.9
  isobar assess compare --margin 2 --sd 1.2 --second-sd 2 --allocation 1.5
  isobar assess compare --sd 1.2 --second-sd 2 --true-difference 1.5 --power 0.8

Without --margin two groups are planned to see the true difference, by Welch's test.")]
pub struct Compare {
    /// Table of readings; without one, the number of units is planned.
    table: Option<PathBuf>,
    /// Column with the first reading of each unit (paired).
    #[arg(long, requires_all = ["table", "second"])]
    first: Option<String>,
    /// Column with the second reading of each unit (paired).
    #[arg(long, requires = "first")]
    second: Option<String>,
    /// Column with the readings, where the units of the two groups differ.
    #[arg(long, requires_all = ["table", "group"], conflicts_with = "first")]
    reading: Option<String>,
    /// Column with the name of the group.
    #[arg(long, requires = "reading")]
    group: Option<String>,
    /// The two groups to compare, with a comma between, where the column holds more.
    #[arg(long, requires = "group", value_name = "A,B")]
    groups: Option<String>,
    /// Largest difference that would not matter, fixed before the readings were taken.
    #[arg(long)]
    margin: Option<f64>,
    /// Error probability of each of the two one-sided tests.
    #[arg(long, default_value_t = 0.05)]
    alpha: f64,
    /// Limits of agreement at so many standard deviations.
    #[arg(long, default_value_t = 1.96)]
    multiplier: f64,
    /// Error variance of the second reading over that of the first, for the line through both.
    #[arg(long, default_value_t = 1.0)]
    variance_ratio: f64,
    /// Standard deviation of a difference, to plan the number of pairs; with --second-sd that of
    /// a unit of the first group.
    #[arg(long, conflicts_with = "table")]
    sd: Option<f64>,
    /// Standard deviation of a unit of the second group: plans two groups of units of their own.
    #[arg(long, requires = "sd")]
    second_sd: Option<f64>,
    /// Units of the second group for each unit of the first.
    #[arg(long, default_value_t = 1.0, requires = "second_sd")]
    allocation: f64,
    /// True difference to plan for.
    #[arg(long, default_value_t = 0.0, requires = "sd", allow_hyphen_values = true)]
    true_difference: f64,
    /// Chance wanted that equivalence is shown.
    #[arg(long, default_value_t = 0.9, requires = "sd")]
    power: f64,
    #[command(flatten)]
    pub(super) rows: tables::KeptRows,
    /// Confidence of the intervals.
    #[arg(long, default_value_t = 0.95)]
    confidence: f64,
    #[command(flatten)]
    figure: FigureOption,
}

/// Runs the command.
pub fn run(command: &Compare) -> Result<Answer, Fault> {
    let Some(path) = &command.table else {
        return match (command.sd, command.second_sd, command.margin) {
            (Some(first), Some(second), _) => two_group_sizes::run(command, (first, second)),
            (Some(sd), None, Some(margin)) => sizes::run(command, sd, margin),
            _ => Err(Fault::users(
                "nothing to compare",
                "name a table with --first and --second, or plan a number of pairs with --margin \
                 and --sd, or of units in two groups with --sd and --second-sd",
            )),
        };
    };
    let table = command.rows.of(path)?;
    match (&command.first, &command.second, &command.reading, &command.group) {
        (Some(first), Some(second), _, _) => {
            let a = tables::numbers(path, &table, first)?;
            let b = tables::numbers(path, &table, second)?;
            pairs::run(command, first, second, &a, &b)
        }
        (_, _, Some(reading), Some(group)) => {
            let values = tables::numbers(path, &table, reading)?;
            let names = tables::words(path, &table, group)?;
            groups::run(command, &values, &names)
        }
        _ => Err(Fault::users(
            "the columns to compare were not named",
            format!(
                "give --first and --second for readings of the same units, or --reading and \
                 --group for units of their own; the table has: {}",
                table.columns.join(", ")
            ),
        )),
    }
}
