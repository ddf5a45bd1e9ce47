//! `isobar assess precision`: where scatter comes from. Between laboratories,
//! in a gauge study, over nested levels, or in agreement on verdicts.

mod attribute;
mod columns;
mod components;
mod figure;
mod gauge;
mod interlaboratory;
mod interlaboratory_figure;
mod nested;
mod nested_levels;
mod random_factors;

use std::path::PathBuf;

use clap::Args;

use super::figure_option::FigureOption;
use super::tables;
use crate::answer::Answer;
use crate::fault::Fault;

/// Precision: repeatability, reproducibility and what lies between.
#[derive(Args)]
#[command(after_help = "Examples:
  isobar assess precision examples/interlaboratory.csv --laboratory laboratory --level level \\
      --reading reading --figure precision.svg
  isobar assess precision examples/gauge_study.csv --part part --operator operator \\
      --reading reading
  isobar assess precision examples/gauge_study.csv --part part --operator operator \\
      --verdict verdict
  isobar assess precision examples/days_and_runs.csv --nested day,run --reading reading
  isobar assess precision examples/sites_days_runs.csv --nested site,day,run --reading rise_pa
  isobar assess precision examples/unequal_gauge.csv --random part,operator,part:operator \\
      --reading reading
  isobar assess precision examples/three_site_study.csv --summary --where \"population=no leak\" \\
      --sd-of-averages 3.9 --repeatability-limit 8.7 --reproducibility-sd 4.8")]
pub struct Precision {
    /// Table of readings, or of group summaries with --summary.
    table: PathBuf,
    /// Column with the readings.
    #[arg(long)]
    reading: Option<String>,
    /// Column with the laboratory, site or rig.
    #[arg(long, visible_alias = "site")]
    laboratory: Option<String>,
    /// Column with the level: each is evaluated by itself.
    #[arg(long)]
    level: Option<String>,
    /// Column with the part, for a gauge study.
    #[arg(long, requires = "operator")]
    part: Option<String>,
    /// Column with the operator, station or rig of a gauge study.
    #[arg(long, requires = "part")]
    operator: Option<String>,
    /// Pool the interaction of part and operator into the repeatability.
    #[arg(long, requires = "operator")]
    pool_interaction: bool,
    /// Width of the acceptance range, for the share of it that the gauge takes.
    #[arg(long, requires = "operator")]
    tolerance: Option<f64>,
    /// Column with a verdict in words: agreement of operators beyond chance.
    #[arg(long, requires = "operator", conflicts_with = "reading")]
    verdict: Option<String>,
    /// Columns of nested levels, outer first, such as day,run or site,day,run.
    #[arg(long, value_delimiter = ',', conflicts_with_all = ["laboratory", "part"])]
    nested: Vec<String>,
    /// Columns of random factors in any arrangement, cells may differ in number or be empty;
    /// a:b is the interaction of two of them.
    #[arg(long, value_delimiter = ',', conflicts_with_all = ["laboratory", "part", "nested"], value_name = "A,B,A:B")]
    random: Vec<String>,
    /// The table holds a row of mean, standard deviation and number for each group.
    #[arg(long)]
    summary: bool,
    /// Replicates behind one result, where the table does not say.
    #[arg(long, requires = "summary")]
    replicates: Option<usize>,
    #[command(flatten)]
    pub(super) rows: tables::KeptRows,
    /// Reading by which the table codes runs ended by a limit.
    #[arg(long)]
    abort_code: Option<f64>,
    /// Printed standard deviation of the site averages.
    #[arg(long, requires = "summary")]
    sd_of_averages: Option<f64>,
    /// Printed repeatability limit r.
    #[arg(long, requires = "sd_of_averages")]
    repeatability_limit: Option<f64>,
    /// Printed reproducibility standard deviation.
    #[arg(long, requires = "repeatability_limit")]
    reproducibility_sd: Option<f64>,
    /// Confidence of the intervals.
    #[arg(long, default_value_t = 0.95)]
    confidence: f64,
    #[command(flatten)]
    figure: FigureOption,
}

/// Runs the command.
pub fn run(command: &Precision) -> Result<Answer, Fault> {
    let table = command.rows.of(&command.table)?;
    if !command.random.is_empty() {
        random_factors::run(command, &table)
    } else if command.nested.len() > 2 {
        nested_levels::run(command, &table)
    } else if !command.nested.is_empty() {
        nested::run(command, &table)
    } else if let Some(verdict) = &command.verdict {
        attribute::run(command, &table, verdict)
    } else if command.operator.is_some() {
        gauge::run(command, &table)
    } else {
        interlaboratory::run(command, &table)
    }
}
