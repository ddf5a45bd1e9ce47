//! `isobar assess volume`: how much a chamber takes up for one pascal, by a
//! known flow or by expansion from a known volume.

mod answer;
mod readings;

use clap::Args;
use statistics::uncertainty::{Budget, Distribution, Input, MonteCarlo, monte_carlo, propagate};
use study::Note;

use super::figure_option::FigureOption;
use crate::answer::{Answer, from_statistics};
use crate::fault::Fault;

/// Effective or free volume of a chamber.
#[derive(Args)]
#[command(after_help = "Examples:
  isobar assess volume --flow \"1 sccm@0C\" --flow-uncertainty 1% --with 52.1Pa --without 15.4Pa \\
      --time 10s --pressure-uncertainty 0.5Pa --figure volume.svg
  isobar assess volume --reference 50mL --reference-uncertainty 0.2% \\
      --reference-pressure 101.3kPa --from 0.1kPa --to 34.5kPa --pressure-uncertainty 30Pa")]
pub struct Volume {
    /// Known flow of a challenge.
    #[arg(long, requires_all = ["with", "without", "time", "flow_uncertainty"])]
    flow: Option<String>,
    /// Its standard uncertainty, as a share such as 1%.
    #[arg(long, requires = "flow")]
    flow_uncertainty: Option<String>,
    /// Pressure rise with the flow.
    #[arg(long, requires = "flow")]
    with: Option<String>,
    /// Pressure rise without it, over the same time.
    #[arg(long, requires = "flow")]
    without: Option<String>,
    /// Time of the rise.
    #[arg(long, requires = "flow")]
    time: Option<String>,
    /// Its standard uncertainty.
    #[arg(long, default_value = "0.01s")]
    time_uncertainty: String,
    /// Gas temperature in the chamber.
    #[arg(long, default_value = "20C", allow_hyphen_values = true)]
    temperature: String,
    /// Its standard uncertainty, in kelvin.
    #[arg(long, default_value_t = 1.0)]
    temperature_uncertainty: f64,
    /// Known volume that expands into the empty chamber.
    #[arg(long, conflicts_with = "flow",
          requires_all = ["reference_uncertainty", "reference_pressure", "from", "to"])]
    reference: Option<String>,
    /// Its standard uncertainty, as a share such as 0.2%.
    #[arg(long, requires = "reference")]
    reference_uncertainty: Option<String>,
    /// Absolute pressure in it beforehand.
    #[arg(long, requires = "reference")]
    reference_pressure: Option<String>,
    /// Absolute pressure in the chamber beforehand.
    #[arg(long, requires = "reference")]
    from: Option<String>,
    /// Absolute pressure in both afterwards.
    #[arg(long, requires = "reference")]
    to: Option<String>,
    /// Standard uncertainty of one pressure or rise.
    #[arg(long)]
    pressure_uncertainty: String,
    /// Pressure of the room, for pressures written as gauge.
    #[arg(long)]
    barometer: Option<String>,
    /// Coverage of the interval.
    #[arg(long, default_value_t = 0.95)]
    coverage: f64,
    /// Draws of the simulation.
    #[arg(long, default_value_t = 200_000)]
    draws: usize,
    /// Seed of the simulation.
    #[arg(long, default_value_t = 1)]
    seed: u64,
    #[command(flatten)]
    figure: FigureOption,
}

/// Everything that was found.
struct Found {
    inputs: Vec<Input>,
    first_order: Budget,
    simulated: MonteCarlo,
    route: &'static str,
    method: &'static str,
}

/// Smallest difference of pressures, in its standard uncertainties: closer to
/// zero a quotient has no interval.
const CLEAR: f64 = 5.0;

/// Runs the command.
pub fn run(command: &Volume) -> Result<Answer, Fault> {
    let read = match (&command.flow, &command.reference) {
        (Some(flow), _) => readings::challenge(command, flow)?,
        (None, Some(reference)) => readings::expansion(command, reference)?,
        (None, None) => {
            return Err(Fault::users(
                "nothing to work out a volume from",
                "give --flow with both rises, or --reference with its pressures",
            ));
        }
    };
    if !(read.difference > CLEAR * read.difference_uncertainty) {
        return Err(Fault::users(
            format!(
                "cannot be said, because the pressures differ by {:.3e} Pa with a standard \
                 uncertainty of {:.2e} Pa: their quotient has no useful bound",
                read.difference, read.difference_uncertainty
            ),
            "use a larger flow, a longer time or a larger reference volume",
        ));
    }
    let first_order = propagate(&read.model, &read.inputs, None)?;
    let drawn: Vec<Distribution> =
        read.inputs.iter().map(|i| Distribution::Normal(i.value, i.uncertainty)).collect();
    if command.draws > 20_000_000 {
        return Err(Fault::users("too many draws", "give --draws of at most 20000000"));
    }
    let simulated =
        monte_carlo(&read.model, &drawn, command.coverage, command.draws, command.seed)?;
    let mut notes = from_statistics(first_order.notes.clone());
    notes.extend(from_statistics(simulated.notes.clone()));
    notes.push(read.note);
    let found = Found {
        inputs: read.inputs,
        first_order,
        simulated,
        route: read.route,
        method: read.method,
    };
    answer::answer(command, &found, notes)
}

/// The volume as a function of the inputs.
type Model = Box<dyn Fn(&[f64]) -> f64>;

/// What a route gives: inputs, model, and the difference it divides by.
struct Read {
    inputs: Vec<Input>,
    model: Model,
    difference: f64,
    difference_uncertainty: f64,
    route: &'static str,
    method: &'static str,
    note: Note,
}
