//! The line: plain, weighted, or with uncertainty on both axes.

use intake::result_table::Table;
use statistics::regression::errors_in_both::{BothAxes, york};
use statistics::regression::{StraightLine, WeightedLine, straight_line, weighted_line};
use study::Note;

use super::{Flow, VarianceModel, uncertainties};
use crate::commands::assess::tables;
use crate::fault::Fault;

/// The line that was asked for, beside the plain one.
pub struct Fitted {
    /// The plain line: constant scatter, exact flows.
    pub plain: StraightLine,
    /// The line asked for, if another.
    pub other: Option<Other>,
}

/// Lines with weights.
pub enum Other {
    /// Weighted line with its weights.
    Weighted(WeightedLine, Vec<f64>),
    /// Uncertainty on both axes.
    Both(BothAxes),
}

impl Fitted {
    /// Intercept and slope of the line asked for.
    pub fn line(&self) -> (f64, f64) {
        match &self.other {
            None => (self.plain.intercept, self.plain.slope),
            Some(Other::Weighted(line, _)) => (line.intercept, line.slope),
            Some(Other::Both(line)) => (line.intercept, line.slope),
        }
    }

    /// Standard errors of intercept and slope.
    pub fn standard_errors(&self) -> (f64, f64) {
        match &self.other {
            None => (self.plain.intercept_standard_error, self.plain.slope_standard_error),
            Some(Other::Weighted(line, _)) => line.standard_errors,
            Some(Other::Both(line)) => line.standard_errors,
        }
    }

    /// Name of the method.
    pub fn method(&self) -> &'static str {
        match &self.other {
            None => self.plain.method,
            Some(Other::Weighted(line, _)) => line.method,
            Some(Other::Both(line)) => line.method,
        }
    }

    /// Notes of the line asked for.
    pub fn notes(&self) -> Vec<Note> {
        crate::answer::from_statistics(match &self.other {
            None => self.plain.notes.clone(),
            Some(Other::Weighted(line, _)) => line.notes.clone(),
            Some(Other::Both(line)) => line.notes.clone(),
        })
    }
}

/// Fits the line asked for.
pub fn fit(
    command: &Flow,
    table: &Table,
    flows: &[f64],
    readings: &[f64],
) -> Result<Fitted, Fault> {
    let plain = straight_line(flows, readings)?;
    let weights = match (&command.weight, command.variance_model) {
        (Some(column), _) => Some(tables::numbers(&command.table, table, column)?),
        (None, Some(VarianceModel::Level)) => Some(level_weights(flows, readings)?),
        (None, Some(VarianceModel::Proportional)) => Some(proportional_weights(flows)?),
        (None, Some(VarianceModel::Constant) | None) => None,
    };
    let other = match (weights, &command.flow_uncertainty) {
        (Some(weights), _) => {
            let line = weighted_line(flows, readings, &weights)?;
            Some(Other::Weighted(line, weights))
        }
        (None, Some(written)) => {
            let of_flow = uncertainties::read(command, table, written, flows)?;
            let of_reading = match &command.reading_uncertainty {
                Some(written) => uncertainties::read(command, table, written, readings)?,
                None => vec![plain.residual_sd; readings.len()],
            };
            let inverse = |u: &f64| 1.0 / (u * u);
            let (wx, wy): (Vec<f64>, Vec<f64>) =
                (of_flow.iter().map(inverse).collect(), of_reading.iter().map(inverse).collect());
            Some(Other::Both(york(flows, readings, &wx, &wy)?))
        }
        (None, None) => None,
    };
    Ok(Fitted { plain, other })
}

/// Inverse variances of the repeats at each flow.
fn level_weights(flows: &[f64], readings: &[f64]) -> Result<Vec<f64>, Fault> {
    let of_level = |flow: f64| {
        let values: Vec<f64> = flows
            .iter()
            .zip(readings)
            .filter(|(other, _)| **other == flow)
            .map(|(_, reading)| *reading)
            .collect();
        match digits::sums::standard_deviation(&values) {
            Some(sd) if sd > 0.0 => Ok(1.0 / (sd * sd)),
            _ => Err(Fault::users(
                format!("the readings at flow {flow} do not say how much they scatter"),
                "give at least two different readings at each flow, or a --weight column",
            )),
        }
    };
    flows.iter().map(|flow| of_level(*flow)).collect()
}

fn proportional_weights(flows: &[f64]) -> Result<Vec<f64>, Fault> {
    if flows.iter().any(|flow| *flow <= 0.0) {
        return Err(Fault::users(
            "a scatter in proportion to the flow gives a flow of zero an infinite weight",
            "leave out the rows without flow (--where), or use --variance-model level",
        ));
    }
    Ok(flows.iter().map(|flow| 1.0 / (flow * flow)).collect())
}
