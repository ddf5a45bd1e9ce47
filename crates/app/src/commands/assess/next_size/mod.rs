//! `isobar assess next-size`: which size of leak to test next, when to stop,
//! and how often that errs.

mod answer;
mod figure;
mod stopping;

use std::path::PathBuf;

use clap::Args;
use statistics::adaptive_study::{NextSize, next_size};
use statistics::detection::{HitMiss, HitMissFit, Simulation, fit_hit_miss};
use study::Note;

use self::stopping::{Outcome, Simulated};
use super::detection::LinkName;
use super::figure_option::FigureOption;
use super::tables;
use crate::answer::{Answer, from_statistics};
use crate::fault::Fault;

/// The next size of an adaptive study.
#[derive(Args)]
#[command(after_help = "Examples:
  isobar assess next-size examples/positive_controls.csv --size nominal_um --hit found \\
      --available 1.5,2,3,4,5,6,8,10 --critical 6 --most-units 80 --figure next.svg
  isobar assess next-size --available 2,3,5,8,10,15 --critical 10 --most-units 60 --slope 4")]
pub struct NextSizeCommand {
    /// Table of what was tested so far; without one, the study begins.
    table: Option<PathBuf>,
    /// Column with the size.
    #[arg(long, requires = "table")]
    size: Option<String>,
    /// Column with the outcome, or with the number of hits where --of is given.
    #[arg(long, requires = "size")]
    hit: Option<String>,
    /// Column with the number tested.
    #[arg(long, requires = "hit")]
    of: Option<String>,
    /// Sizes that can be made, with commas between.
    #[arg(long, value_delimiter = ',', required = true)]
    available: Vec<f64>,
    /// Size that must be shown to be found.
    #[arg(long)]
    critical: f64,
    /// Share of leaks of that size that must be found.
    #[arg(long, default_value_t = 0.9)]
    probability: f64,
    /// Confidence with which this is to be shown.
    #[arg(long, default_value_t = 0.95)]
    confidence: f64,
    /// Shape of the curve.
    #[arg(long, value_enum, default_value = "logit")]
    link: LinkName,
    /// Fewest units before the study may end with yes.
    #[arg(long, default_value_t = 20)]
    fewest_units: u64,
    /// Units after which it ends with no.
    #[arg(long, default_value_t = 60)]
    most_units: u64,
    /// Slope in the logarithm of size for the error rates; otherwise that of the curve so far.
    #[arg(long)]
    slope: Option<f64>,
    /// Studies simulated for the error rates; 0 for none.
    #[arg(long, default_value_t = 100)]
    studies: u64,
    /// Seed of the simulation.
    #[arg(long, default_value_t = 1)]
    seed: u64,
    #[command(flatten)]
    pub(super) rows: tables::KeptRows,
    #[command(flatten)]
    figure: FigureOption,
}

/// Everything that was found.
struct Found {
    results: Vec<HitMiss>,
    units: u64,
    next: NextSize,
    fit: Option<HitMissFit>,
    /// Upper bound by profile likelihood, on which the rule stops.
    bound: Option<f64>,
    /// The bound by simulated reference distribution.
    small_sample: Option<f64>,
    outcome: Outcome,
    simulated: Vec<Simulated>,
}

/// Runs the command.
pub fn run(command: &NextSizeCommand) -> Result<Answer, Fault> {
    let results = results(command)?;
    let link = command.link.link();
    let next = next_size(&results, &command.available, link, command.probability)?;
    let mut notes = Vec::new();
    let units = results.iter().map(|row| row.of).sum();
    let mut sizes: Vec<f64> = results.iter().map(|row| row.size).collect();
    sizes.sort_by(f64::total_cmp);
    sizes.dedup();
    let fit = if sizes.len() >= 2 {
        Some(fit_hit_miss(&results, link, true, command.confidence)?)
    } else {
        None
    };
    if let Some(fit) = &fit {
        notes.extend(from_statistics(fit.notes.clone()));
    }
    let bound = fit.as_ref().and_then(|fit| fit.upper_bound(command.probability));
    let simulation = Simulation { seed: command.seed, ..Simulation::default() };
    let small_sample =
        fit.as_ref().and_then(|fit| fit.upper_bound_small_sample(command.probability, simulation));
    let outcome = stopping::outcome(command, units, bound);
    if let (Outcome::Shown, Some(strict)) = (outcome, small_sample)
        && strict > command.critical
    {
        notes.push(Note::caution(
            "stricter-bound-not-reached",
            format!(
                "the rule stops on the bound by profile likelihood; the bound by simulation, which \
                 keeps its confidence in so small a sample, is {strict:.3} and not yet below"
            ),
            "go on until both are below the critical size, or say beforehand which one counts",
        ));
    }
    let largest = command.available.iter().copied().fold(0.0, f64::max);
    if command.critical > largest {
        notes.push(Note::caution(
            "critical-beyond-sizes",
            format!(
                "the critical size {} lies beyond the largest that can be made, {largest}: what is \
                 shown of it rests on the curve beyond the data",
                command.critical
            ),
            "make a leak of that size or larger, or show a smaller size",
        ));
    }
    let simulated = stopping::simulated(command, fit.as_ref(), &mut notes)?;
    let found = Found { results, units, next, fit, bound, small_sample, outcome, simulated };
    answer::answer(command, &found, notes)
}

/// What was tested so far, with one row for each size.
fn results(command: &NextSizeCommand) -> Result<Vec<HitMiss>, Fault> {
    let Some(path) = &command.table else { return Ok(Vec::new()) };
    let table = command.rows.of(path)?;
    let (Some(size), Some(hit)) = (&command.size, &command.hit) else {
        return Err(Fault::users(
            "the columns with size and outcome were not named",
            format!("add --size and --hit; the table has: {}", table.columns.join(", ")),
        ));
    };
    let sizes = tables::numbers(path, &table, size)?;
    let rows: Vec<(u64, u64)> = match &command.of {
        Some(of) => {
            let hits = tables::counts(path, &table, hit)?;
            hits.into_iter().zip(tables::counts(path, &table, of)?).collect()
        }
        None => {
            let hits = table.hits(hit).map_err(|refusal| tables::refused(path, &refusal))?;
            hits.into_iter().map(|hit| (u64::from(hit), 1)).collect()
        }
    };
    let mut list: Vec<HitMiss> = Vec::new();
    for ((size, (hits, of)), line) in sizes.into_iter().zip(rows).zip(&table.lines) {
        if !(size > 0.0) || hits > of {
            return Err(Fault::users(
                format!(
                    "`{}`, line {line}: size {size} with {hits} hits of {of} cannot be used",
                    path.display()
                ),
                "leave out units without a leak (--where), and give hits of at most the number \
                 tested",
            ));
        }
        match list.iter_mut().find(|row| row.size == size) {
            Some(row) => {
                row.hits += hits;
                row.of += of;
            }
            None => list.push(HitMiss { size, hits, of }),
        }
    }
    Ok(list)
}
