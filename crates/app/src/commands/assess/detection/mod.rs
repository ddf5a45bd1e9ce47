//! `isobar assess detection`: probability of detection from readings, or from
//! hits and misses.

mod bayes;
mod by_size;
mod false_calls;
mod figure;
mod hit_miss;
mod hit_miss_answer;
mod signal;
mod signal_figure;
mod tested;

use std::path::PathBuf;

use clap::{Args, ValueEnum};
use intake::result_table::Table;
use statistics::detection::signal_response::Spread;
use statistics::detection::{Floor, Link};

use super::figure_option::FigureOption;
use super::tables;
use crate::answer::Answer;
use crate::fault::Fault;

/// Probability of detection.
#[derive(Args)]
#[command(after_help = "Examples:
  isobar assess detection examples/positive_controls.csv --size verified_um --hit found \\
      --figure detection.svg
  isobar assess detection examples/positive_controls.csv --size verified_um --reading rise_pa \\
      --threshold 24 --blank 16.2 --unit unit
  isobar assess detection examples/repeated_controls.csv --size verified_um --reading rise_pa \\
      --threshold 24 --blank 16.2 --unit unit --spread size
  isobar assess detection examples/read_and_judged.csv --size verified_um --reading rise_pa \\
      --threshold 24 --blank 16.2 --hit found --figure joined.svg
  isobar assess detection examples/positive_controls.csv --size verified_um --hit found \\
      --link probit --prior-intercept 0,5 --prior-slope 5,5
  isobar assess detection examples/blanks_and_leaks.csv --size verified_um --hit found \\
      --of tested --false-calls estimate

Where readings exist they are the better route: a reading says how far above the threshold a unit
was, a hit only that it was above. With --unit, readings of one unit share an effect of their own:
units count, not readings. Where some units were read and others only judged, name both --reading
and --hit: rows without a reading join the same curve as hits or misses at the threshold, and a
likelihood ratio says whether the two kinds tell the same curve. --spread power or size lets the scatter grow with the leak; a likelihood
ratio says whether it has to.")]
pub struct Detection {
    /// Table with a row for each unit, or for each size with --of.
    table: PathBuf,
    /// Column with the size, always the same unit.
    #[arg(long)]
    size: String,
    /// Column with the outcome: 1 or 0, hit or miss; a number of hits with --of.
    #[arg(long, required_unless_present = "reading")]
    hit: Option<String>,
    /// Column with the number tested, where --hit counts hits.
    #[arg(long, requires = "hit", conflicts_with = "reading")]
    of: Option<String>,
    /// Column with the reading: the route where readings exist. Where its cell is empty, --hit counts.
    #[arg(long, requires = "threshold")]
    reading: Option<String>,
    /// Reading from which on a unit is called leaking.
    #[arg(long, requires = "reading", allow_hyphen_values = true)]
    threshold: Option<f64>,
    /// Mean reading without a leak, taken off every reading and off the threshold.
    #[arg(long, requires = "reading", allow_hyphen_values = true)]
    blank: Option<f64>,
    /// Readings at or below this value are known only to lie below it.
    #[arg(long, requires = "reading", allow_hyphen_values = true)]
    floor: Option<f64>,
    /// Readings at or above this value (saturation, aborted runs) are known only to lie above it.
    #[arg(long, requires = "reading", allow_hyphen_values = true)]
    ceiling: Option<f64>,
    /// Column with the unit, where units were read several times.
    #[arg(long, requires = "reading")]
    unit: Option<String>,
    /// Whether readings are taken as they are or as their logarithm.
    #[arg(long, value_enum, default_value = "log")]
    reading_scale: Scale,
    /// How the scatter of readings goes with size.
    #[arg(long, value_enum, default_value = "constant", requires = "reading")]
    spread: SpreadName,
    /// Link of the curve.
    #[arg(long, value_enum, default_value = "logit")]
    link: LinkName,
    /// Whether the curve runs in the size or in its logarithm.
    #[arg(long, value_enum, default_value = "log")]
    scale: Scale,
    /// Curve above a floor of false calls: `estimate` it from blanks (size zero), or give the share.
    #[arg(long, value_parser = false_calls::floor, requires = "hit", conflicts_with_all = ["reading", "prior_intercept"], value_name = "estimate|SHARE")]
    false_calls: Option<Floor>,
    /// Samples simulated for the bound of a90.
    #[arg(long, default_value_t = 2000)]
    samples: u32,
    /// Seed of that simulation.
    #[arg(long, default_value_t = 20_251_125)]
    seed: u64,
    /// Normal prior of the intercept, mean and standard deviation, for a Bayesian fit.
    #[arg(long, value_parser = bayes::pair, requires = "prior_slope", allow_hyphen_values = true)]
    prior_intercept: Option<(f64, f64)>,
    /// Normal prior of the slope, mean and standard deviation.
    #[arg(long, value_parser = bayes::pair, requires = "prior_intercept", allow_hyphen_values = true)]
    prior_slope: Option<(f64, f64)>,
    /// Correlation of the two in the prior.
    #[arg(long, default_value_t = 0.0, allow_hyphen_values = true)]
    prior_correlation: f64,
    #[command(flatten)]
    pub(super) rows: tables::KeptRows,
    /// Confidence of the bounds.
    #[arg(long, default_value_t = 0.95)]
    confidence: f64,
    #[command(flatten)]
    figure: FigureOption,
}

/// Links that can be asked for.
#[derive(Clone, Copy, ValueEnum)]
pub(super) enum LinkName {
    /// Logistic.
    Logit,
    /// Normal.
    Probit,
    /// Complementary log-log.
    Cloglog,
}

impl LinkName {
    pub(super) fn link(self) -> Link {
        match self {
            Self::Logit => Link::Logit,
            Self::Probit => Link::Probit,
            Self::Cloglog => Link::Cloglog,
        }
    }
}

/// Scatter of readings that can be asked for.
#[derive(Clone, Copy, ValueEnum)]
pub(super) enum SpreadName {
    /// The same at every size.
    Constant,
    /// A power of the mean reading.
    Power,
    /// Its logarithm is a line in size (or its logarithm, with --scale log).
    Size,
}

impl SpreadName {
    fn spread(self) -> Spread {
        match self {
            Self::Constant => Spread::Constant,
            Self::Power => Spread::PowerOfMean,
            Self::Size => Spread::LogLinearInSize,
        }
    }
}

/// Scale of a size or a reading.
#[derive(Clone, Copy, PartialEq, ValueEnum)]
enum Scale {
    /// Natural logarithm.
    Log,
    /// The value itself.
    Linear,
}

/// Runs the command.
pub fn run(command: &Detection) -> Result<Answer, Fault> {
    let table = command.rows.of(&command.table)?;
    if command.scale == Scale::Log {
        refuse_negative_sizes(command, &table)?;
    }
    match &command.reading {
        Some(reading) => signal::run(command, &table, reading),
        None => match command.false_calls {
            Some(floor) => false_calls::run(command, &table, floor),
            None => hit_miss::run(command, &table),
        },
    }
}

/// A size below zero is no blank: on a logarithmic axis it would pass for one.
fn refuse_negative_sizes(command: &Detection, table: &Table) -> Result<(), Fault> {
    let sizes = tables::numbers(&command.table, table, &command.size)?;
    let Some(row) = sizes.iter().position(|size| *size < 0.0) else { return Ok(()) };
    Err(Fault::users(
        format!(
            "`{}`, line {}, column `{}`: a size of {} is below zero",
            command.table.display(),
            table.lines[row],
            command.size,
            sizes[row]
        ),
        "write 0 for a blank; a measured flow that scatters below zero needs --scale linear",
    ))
}
