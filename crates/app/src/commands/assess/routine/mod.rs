//! `isobar assess routine`: is the rig still what it was when its limits were
//! set?

mod answer;
mod capability;
mod chart;
mod figure;
mod moving;
mod run_lengths;
mod shewhart;

use std::path::PathBuf;

use clap::{Args, ValueEnum};

use super::figure_option::FigureOption;
use super::tables;
use crate::answer::Answer;
use crate::fault::Fault;

/// Control charts with limits frozen from a first phase.
#[derive(Args)]
#[command(after_help = "Examples:
  isobar assess routine examples/routine_control.csv --column reading_pa --sample day \\
      --chart means --sigma between --first-phase 25 --figure chart.svg
  isobar assess routine examples/routine_control.csv --column reading_pa --sample day \\
      --chart means --sigma between --first-phase 25 --rules all
  isobar assess routine examples/routine_control.csv --column reading_pa --chart ewma \\
      --target 30 --sd 1.4 --lambda 0.2 --width 2.962
  isobar assess routine examples/routine_control.csv --column reading_pa --chart cusum \\
      --first-phase 60
  isobar assess routine examples/routine_control.csv --column reading_pa --first-phase 60 \\
      --lower-specification 22 --upper-specification 40")]
pub struct Routine {
    /// Table with a row for each reading, in the order of time.
    table: PathBuf,
    /// Column with the readings.
    #[arg(long)]
    column: String,
    /// Kind of chart.
    #[arg(long, value_enum, default_value = "individuals")]
    chart: Kind,
    /// Column that says which readings form one sample (day, lot, run): means are then charted.
    #[arg(long)]
    sample: Option<String>,
    /// Values that fix the limits: the first so many of those plotted; otherwise all of them.
    #[arg(long)]
    first_phase: Option<usize>,
    /// Centre line known from before, with --sd: no first phase is then needed.
    #[arg(long, requires = "sd", allow_hyphen_values = true)]
    target: Option<f64>,
    /// Standard deviation of one reading (of one mean where means are charted one by one).
    #[arg(long, requires = "target")]
    sd: Option<f64>,
    /// Which scatter bounds a mean: that within samples, or that between them.
    #[arg(long, value_enum, default_value = "within")]
    sigma: Sigma,
    /// From what the scatter within samples is taken.
    #[arg(long, value_enum, default_value = "range")]
    spread: SpreadName,
    /// Zone rules beside the limits, with commas between, or `all`.
    #[arg(long, value_enum, value_delimiter = ',', default_value = "beyond-limits")]
    rules: Vec<RuleName>,
    /// Weight of the newest reading, for ewma.
    #[arg(long, default_value_t = 0.2)]
    lambda: f64,
    /// Distance of the limits from the centre line, in standard deviations of what is plotted.
    #[arg(long, default_value_t = 3.0)]
    width: f64,
    /// Allowance of cusum, in standard deviations of a reading.
    #[arg(long, default_value_t = 0.5)]
    allowance: f64,
    /// Decision interval of cusum, in standard deviations of a reading.
    #[arg(long, default_value_t = 5.0)]
    decision: f64,
    /// Lower specification limit, for the capability.
    #[arg(long, allow_hyphen_values = true)]
    lower_specification: Option<f64>,
    /// Upper specification limit, for the capability.
    #[arg(long, allow_hyphen_values = true)]
    upper_specification: Option<f64>,
    #[command(flatten)]
    pub(super) rows: tables::KeptRows,
    /// Confidence of the capability's bounds.
    #[arg(long, default_value_t = 0.95)]
    confidence: f64,
    /// Random orders behind the probability of a change-point.
    #[arg(long, default_value_t = 1999)]
    orders: u32,
    /// Seed of the random orders and of simulated run lengths.
    #[arg(long, default_value_t = 1)]
    seed: u64,
    #[command(flatten)]
    figure: FigureOption,
}

/// Kinds of charts.
#[derive(Clone, Copy, PartialEq, Eq, ValueEnum)]
enum Kind {
    /// Single readings with moving ranges.
    Individuals,
    /// Means of samples.
    Means,
    /// Exponentially weighted moving average.
    Ewma,
    /// Two-sided cumulative sums.
    Cusum,
}

/// Which scatter bounds a mean.
#[derive(Clone, Copy, PartialEq, Eq, ValueEnum)]
enum Sigma {
    /// Scatter of readings within samples.
    Within,
    /// Scatter from mean to mean: right where days or lots differ by nature.
    Between,
}

/// From what the scatter within samples is taken.
#[derive(Clone, Copy, PartialEq, Eq, ValueEnum)]
enum SpreadName {
    /// Ranges.
    Range,
    /// Standard deviations.
    StandardDeviation,
}

/// Rules of signals.
#[derive(Clone, Copy, PartialEq, Eq, ValueEnum)]
enum RuleName {
    /// One value beyond the limits.
    BeyondLimits,
    /// Two of three on one side beyond two standard deviations.
    TwoOfThree,
    /// Four of five on one side beyond one standard deviation.
    FourOfFive,
    /// Eight in a row on one side of the centre line.
    EightOnOneSide,
    /// Six in a row rising or falling.
    SixRisingOrFalling,
    /// All of these.
    All,
}

/// Runs the command.
pub fn run(command: &Routine) -> Result<Answer, Fault> {
    let table = command.rows.of(&command.table)?;
    let readings = tables::numbers(&command.table, &table, &command.column)?;
    let names = match &command.sample {
        Some(column) => Some(tables::words(&command.table, &table, column)?),
        None => None,
    };
    let chart = match command.chart {
        Kind::Individuals => shewhart::individual(command, &readings, names.as_deref())?,
        Kind::Means => shewhart::of_means(command, &readings, names.as_deref())?,
        Kind::Ewma => moving::smoothed(command, &readings, names.as_deref())?,
        Kind::Cusum => moving::summed(command, &readings, names.as_deref())?,
    };
    answer::answer(command, &readings, chart)
}
