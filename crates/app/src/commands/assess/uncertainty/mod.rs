//! `isobar assess uncertainty`: a budget by the law of propagation and by
//! simulation.

mod answer;
mod budget_file;
mod figure;
mod formula;

use std::path::PathBuf;

use clap::Args;
use statistics::CannotSay;
use statistics::uncertainty::correlation::{Shape, shape};
use statistics::uncertainty::{Budget, MonteCarlo, monte_carlo, monte_carlo_correlated, propagate};
use study::Note;

use self::budget_file::BudgetFile;
use super::figure_option::FigureOption;
use crate::answer::{Answer, from_statistics};
use crate::commands::files;
use crate::fault::Fault;

/// Uncertainty budget.
#[derive(Args)]
#[command(after_help = "Examples:
  isobar assess uncertainty examples/volume_budget.toml --figure budget.svg
  isobar assess uncertainty examples/volume_budget.toml --coverage 0.99 --draws 1000000

The budget is a small TOML file: model = \"...\" with + - * / ^, brackets and functions, and for
each input a section [input.NAME] with value and uncertainty (standard), or value, half_width and
distribution = \"rectangular\" or \"triangular\"; degrees_of_freedom where known from few values.
[[correlation]] with between = [\"a\", \"b\"] and coefficient = 0.5 where inputs move together.")]
pub struct Uncertainty {
    /// Budget in TOML.
    budget: PathBuf,
    /// Coverage of the intervals; otherwise as the budget says, or 0.95.
    #[arg(long)]
    coverage: Option<f64>,
    /// Draws of the simulation; otherwise as the budget says, or 200 000.
    #[arg(long)]
    draws: Option<usize>,
    /// Seed of the simulation.
    #[arg(long, default_value_t = 1)]
    seed: u64,
    #[command(flatten)]
    figure: FigureOption,
}

/// Everything that was found.
struct Found {
    file: BudgetFile,
    coverage: f64,
    first_order: Budget,
    expanded: f64,
    simulated: Option<MonteCarlo>,
    /// Whether both intervals agree within the digits that are reported.
    agree: Option<bool>,
}

/// Runs the command.
pub fn run(command: &Uncertainty) -> Result<Answer, Fault> {
    let bytes = files::read_bytes(&command.budget)?;
    let text = String::from_utf8(bytes).map_err(|_| {
        Fault::users(
            format!("`{}` is no text in UTF-8", command.budget.display()),
            "name a budget in TOML",
        )
    })?;
    let file = budget_file::parse(&command.budget, &text)?;
    let coverage = command.coverage.or(file.coverage).unwrap_or(0.95);
    let model = |inputs: &[f64]| file.model.value(inputs);
    let first_order = propagate(model, &file.inputs, file.correlation.as_deref())?;
    if first_order.uncertainty == 0.0 {
        return Err(CannotSay::NoSpread { what: "the inputs that the model uses".into() }.into());
    }
    let expanded = first_order.expanded(coverage)?;
    let mut notes = from_statistics(first_order.notes.clone());
    let draws = command.draws.or(file.draws).unwrap_or(200_000);
    if draws > 20_000_000 {
        return Err(Fault::users(
            format!("{draws} draws are more than can be kept"),
            "give at most 20000000",
        ));
    }
    let simulated = match &file.correlation {
        None => Some(monte_carlo(model, &file.distributions, coverage, draws, command.seed)?),
        Some(matrix) => {
            let names: Vec<&str> = file.inputs.iter().map(|input| input.name.as_str()).collect();
            match monte_carlo_correlated(
                model,
                &file.distributions,
                &names,
                matrix,
                coverage,
                draws,
                command.seed,
            ) {
                Ok(found) => Some(found),
                // Inputs that move as one still have a law of propagation.
                Err(refusal) if matches!(shape(matrix, &names), Ok(Shape::Singular(..))) => {
                    notes.push(Note::refusal(
                        "no-simulation-of-inputs-that-move-as-one",
                        refusal.to_string(),
                        refusal.next_step(),
                    ));
                    None
                }
                Err(refusal) => return Err(refusal.into()),
            }
        }
    };
    if let Some(found) = &simulated {
        notes.extend(from_statistics(found.notes.clone()));
    }
    // Two significant digits of the uncertainty: half a unit of the last one
    // is the tolerance (JCGM 101, 8.1).
    let agree = simulated.as_ref().map(|found| {
        let exponent = digits::scalar::log10(first_order.uncertainty).floor() as i32 - 1;
        let tolerance = 0.5 * digits::scalar::powi(10.0, exponent);
        found.validates(first_order.value, expanded, tolerance)
    });
    if agree == Some(false) {
        notes.push(Note::caution(
            "first-order-not-validated",
            "the interval of the law of propagation and the simulated one differ by more than half \
             a unit of the second digit of the uncertainty",
            "report the simulated interval",
        ));
    }
    let found = Found { coverage, first_order, expanded, simulated, agree, file };
    answer::answer(command, &found, notes)
}
