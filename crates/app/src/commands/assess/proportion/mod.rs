//! `isobar assess proportion`: what so many hits of so many prove, how many
//! units a claim needs, and what a sampling plan lets through.

mod claim_size;
mod counts;
mod plan;

use std::path::PathBuf;

use clap::{Args, ValueEnum};
use statistics::proportions::single_plans::Level;

use super::figure_option::FigureOption;
use super::tables;
use crate::answer::Answer;
use crate::fault::Fault;

/// Proportions, sample sizes and sampling plans.
#[derive(Args)]
#[command(after_help = "Examples:
  isobar assess proportion --hits 45 --of 45
  isobar assess proportion --hits 45 --of 45 --readings-per-unit 3 --figure bounds.svg
  isobar assess proportion examples/positive_controls.csv --unit unit --hit found
  isobar assess proportion --reliability 0.95 --failures 1
  isobar assess proportion --sample 52 --accept 3 --lot-size 10000
  isobar assess proportion --lot-size 1000 --level II --quality-limit 1.0")]
pub struct Proportion {
    /// Table with a row for each reading, with --unit and --hit.
    #[arg(requires_all = ["unit", "hit"])]
    table: Option<PathBuf>,
    /// Column with the unit: readings of one unit are not independent.
    #[arg(long, requires = "table")]
    unit: Option<String>,
    /// Column with the outcome, 1 or 0, hit or miss.
    #[arg(long, requires = "table")]
    hit: Option<String>,
    #[command(flatten)]
    pub(super) rows: tables::KeptRows,
    /// How many were found.
    #[arg(long, requires = "of")]
    hits: Option<u64>,
    /// How many were tested.
    #[arg(long, requires = "hits")]
    of: Option<u64>,
    /// Readings taken on the same unit: they are not independent.
    #[arg(long, requires = "hits")]
    readings_per_unit: Option<u64>,
    /// Share that is to be claimed: gives the number of units to test.
    #[arg(long)]
    reliability: Option<f64>,
    /// Failures that the claim must survive.
    #[arg(long, requires = "reliability", default_value_t = 0)]
    failures: u64,
    /// Units a sampling plan tests.
    #[arg(long, requires = "accept")]
    sample: Option<u64>,
    /// Bad units with which the plan still accepts the lot.
    #[arg(long, requires = "sample")]
    accept: Option<u64>,
    /// Units in the lot.
    #[arg(long)]
    lot_size: Option<u64>,
    /// Acceptance quality limit in percent, for a single plan by lot size.
    #[arg(long, requires = "lot_size")]
    quality_limit: Option<f64>,
    /// Inspection level of that plan.
    #[arg(long, value_enum, default_value = "II")]
    level: LevelName,
    /// Confidence of each bound.
    #[arg(long, default_value_t = 0.95)]
    confidence: f64,
    #[command(flatten)]
    figure: FigureOption,
}

/// Inspection levels.
#[derive(Clone, Copy, ValueEnum)]
enum LevelName {
    /// Special level 1.
    #[value(name = "S-1")]
    S1,
    /// Special level 2.
    #[value(name = "S-2")]
    S2,
    /// Special level 3.
    #[value(name = "S-3")]
    S3,
    /// Special level 4.
    #[value(name = "S-4")]
    S4,
    /// General level I.
    #[value(name = "I")]
    One,
    /// General level II, the usual one.
    #[value(name = "II")]
    Two,
    /// General level III.
    #[value(name = "III")]
    Three,
}

impl LevelName {
    fn level(self) -> Level {
        match self {
            Self::S1 => Level::S1,
            Self::S2 => Level::S2,
            Self::S3 => Level::S3,
            Self::S4 => Level::S4,
            Self::One => Level::I,
            Self::Two => Level::II,
            Self::Three => Level::III,
        }
    }
}

/// Runs the command.
pub fn run(command: &Proportion) -> Result<Answer, Fault> {
    let asked = [
        command.table.is_some(),
        command.hits.is_some(),
        command.reliability.is_some(),
        command.sample.is_some(),
        command.quality_limit.is_some(),
    ];
    if asked.iter().filter(|asked| **asked).count() != 1 {
        return Err(Fault::users(
            "one question is needed, and one only",
            "give --hits and --of, a table with --unit and --hit, --reliability, --sample and \
             --accept, or --lot-size and --quality-limit",
        ));
    }
    if let Some(path) = &command.table {
        counts::from_table(command, path)
    } else if let (Some(hits), Some(of)) = (command.hits, command.of) {
        counts::from_counts(command, hits, of)
    } else if let Some(reliability) = command.reliability {
        claim_size::run(command, reliability)
    } else {
        plan::run(command)
    }
}

/// A share in percent.
fn percent(share: f64) -> String {
    format!("{:.1} %", share * 100.0)
}
