//! `isobar assess flow`: reading against known flow, and back.

mod answer;
mod figure;
mod fit;
mod limits;
mod repeats;
mod uncertainties;
mod volume;

use std::path::PathBuf;

use clap::{Args, ValueEnum};

use super::figure_option::FigureOption;
use super::tables;
use crate::answer::Answer;
use crate::fault::Fault;

/// Flow calibration.
#[derive(Args)]
#[command(after_help = "Examples:
  isobar assess flow examples/flow_challenge.csv --flow flow_sccm_at_0c \\
      --reading rise_pa --invert 40 --figure flow.svg
  isobar assess flow examples/flow_challenge.csv --flow flow_sccm_at_0c --reading rise_pa \\
      --flow-unit \"sccm@0C\" --measure-time 10s
  isobar assess flow examples/flow_challenge.csv --flow flow_sccm_at_0c --reading rise_pa \\
      --flow-uncertainty 0.002 --reading-uncertainty 1.2
  isobar assess flow examples/flow_challenge.csv --flow flow_sccm_at_0c --reading rise_pa \\
      --variance-model level --invert 40")]
pub struct Flow {
    /// Table with a row for each challenge.
    table: PathBuf,
    /// Column with the known flow.
    #[arg(long)]
    flow: String,
    /// Column with the reading.
    #[arg(long)]
    reading: String,
    /// Reading to turn into a flow.
    #[arg(long, allow_hyphen_values = true)]
    invert: Option<f64>,
    /// Readings averaged for one result.
    #[arg(long, default_value_t = 1)]
    readings_per_result: usize,
    /// Column with weights: inverse variances of the readings.
    #[arg(long, conflicts_with_all = ["variance_model", "flow_uncertainty"])]
    weight: Option<String>,
    /// How the scatter depends on the flow.
    #[arg(long, value_enum, conflicts_with = "flow_uncertainty")]
    variance_model: Option<VarianceModel>,
    /// Standard uncertainty of the known flow: a number, a share such as 5%, or a column.
    #[arg(long)]
    flow_uncertainty: Option<String>,
    /// Standard uncertainty of a reading, likewise; otherwise the scatter of the plain line.
    #[arg(long, requires = "flow_uncertainty")]
    reading_uncertainty: Option<String>,
    /// Unit of the flow column, such as "sccm@0C", for the effective volume.
    #[arg(long, requires = "measure_time")]
    flow_unit: Option<String>,
    /// Time over which the reading rose, for the effective volume; the reading is in Pa.
    #[arg(long, requires = "flow_unit")]
    measure_time: Option<String>,
    /// Gas temperature in the chamber, for the effective volume.
    #[arg(long, default_value = "20C", allow_hyphen_values = true)]
    temperature: String,
    #[command(flatten)]
    pub(super) rows: tables::KeptRows,
    /// Confidence of the intervals.
    #[arg(long, default_value_t = 0.95)]
    confidence: f64,
    #[command(flatten)]
    figure: FigureOption,
}

/// How the scatter of readings depends on the flow.
#[derive(Clone, Copy, PartialEq, Eq, ValueEnum)]
enum VarianceModel {
    /// The same everywhere.
    Constant,
    /// From the repeats of each level.
    Level,
    /// Standard deviation in proportion to the flow.
    Proportional,
}

/// Runs the command.
pub fn run(command: &Flow) -> Result<Answer, Fault> {
    let table = command.rows.of(&command.table)?;
    let flows = tables::numbers(&command.table, &table, &command.flow)?;
    let readings = tables::numbers(&command.table, &table, &command.reading)?;
    let fitted = fit::fit(command, &table, &flows, &readings)?;
    let repeats = repeats::notes(command, &table, &flows)?;
    answer::answer(command, &flows, &readings, fitted, repeats)
}
