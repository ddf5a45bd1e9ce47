//! `isobar assess`: statistics on a plain table or on printed figures. No
//! benchbook is needed: most laboratories have just a table.

mod checks;
mod detection;
mod drawing;
mod figure_option;
mod flow;
mod limit;
mod precision;
mod proportion;
mod rise;
mod routine;
mod size_exponent;
mod size_exponent_figure;
mod statement;
mod tables;

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
}

/// Runs the command.
pub fn run(command: &Assess) -> Result<Answer, Fault> {
    match command {
        Assess::Limit(command) => limit::run(command),
        Assess::Detection(command) => detection::run(command),
        Assess::Flow(command) => flow::run(command),
        Assess::Proportion(command) => proportion::run(command),
        Assess::Precision(command) => precision::run(command),
        Assess::SizeExponent(command) => size_exponent::run(command),
        Assess::Rise(command) => rise::run(command),
        Assess::Routine(command) => routine::run(command),
    }
}

impl From<CannotSay> for Fault {
    fn from(refusal: CannotSay) -> Self {
        let hint = refusal.next_step();
        Self::users(refusal.to_string(), hint)
    }
}
