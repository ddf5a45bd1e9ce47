//! `isobar assess`: statistics on a plain table or on printed figures. No
//! benchbook is needed: most laboratories have just a table.

mod checks;
mod compare;
mod detection;
mod drawing;
pub mod figure_option;
mod flow;
mod limit;
mod next_size;
mod precision;
mod proportion;
mod repeats;
mod rise;
mod robustness;
mod routine;
mod size_exponent;
mod size_exponent_figure;
mod stability;
mod statement;
mod tables;
mod told;
mod uncertainty;
mod volume;

use clap::Subcommand;
use statistics::CannotSay;

use crate::answer::Answer;
use crate::fault::Fault;

/// What can be assessed.
#[derive(Subcommand)]
pub enum Assess {
    /// Reject limit from negative controls.
    Limit(limit::Limit),
    /// Probability of detection from readings, or from hits and misses.
    Detection(detection::Detection),
    /// Flow calibration: reading against known flow, and back.
    Flow(flow::Flow),
    /// What so many hits of so many prove; sample sizes and sampling plans.
    Proportion(proportion::Proportion),
    /// Where scatter comes from: laboratories, gauge studies, nested levels, verdicts.
    Precision(precision::Precision),
    /// How the reading grows with the size of the leak.
    SizeExponent(size_exponent::SizeExponent),
    /// Flow from the pressure rise of a closed volume.
    Rise(rise::Rise),
    /// Control charts, run lengths, capability and change-point of a routine record.
    Routine(routine::Routine),
    /// Do two rigs, sites or methods read the same: equivalence, agreement, lines, power.
    Compare(compare::Compare),
    /// Uncertainty budget: law of propagation and simulation.
    Uncertainty(uncertainty::Uncertainty),
    /// How long averaging helps (Allan deviation), and the slope of a dependent record.
    Stability(stability::Stability),
    /// Designs of experiments, and what a filled one says.
    Robustness(robustness::Robustness),
    /// Which size of leak to test next, and when to stop.
    NextSize(next_size::NextSizeCommand),
    /// Effective or free volume of a chamber, with its uncertainty.
    Volume(volume::Volume),
}

/// Runs the command.
pub fn run(command: &Assess) -> Result<Answer, Fault> {
    let (answer, rows) = match command {
        Assess::Limit(command) => (limit::run(command), Some(&command.rows)),
        Assess::Detection(command) => (detection::run(command), Some(&command.rows)),
        Assess::Flow(command) => (flow::run(command), Some(&command.rows)),
        Assess::Proportion(command) => (proportion::run(command), Some(&command.rows)),
        Assess::Precision(command) => (precision::run(command), Some(&command.rows)),
        Assess::SizeExponent(command) => (size_exponent::run(command), Some(&command.rows)),
        Assess::Rise(command) => (rise::run(command), None),
        Assess::Routine(command) => (routine::run(command), Some(&command.rows)),
        Assess::Compare(command) => (compare::run(command), Some(&command.rows)),
        Assess::Uncertainty(command) => (uncertainty::run(command), None),
        Assess::Stability(command) => (stability::run(command), Some(&command.rows)),
        Assess::Robustness(command) => (robustness::run(command), Some(&command.rows)),
        Assess::NextSize(command) => (next_size::run(command), Some(&command.rows)),
        Assess::Volume(command) => (volume::run(command), None),
    };
    Ok(answer?.with_notes(rows.map(tables::KeptRows::noticed).unwrap_or_default()))
}

impl From<CannotSay> for Fault {
    fn from(refusal: CannotSay) -> Self {
        let hint = refusal.next_step();
        Self::users(refusal.to_string(), hint)
    }
}
