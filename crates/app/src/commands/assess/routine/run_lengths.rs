//! How many values pass until a chart signals, by shift of the mean.

use digits::RandomStream;
use statistics::control_charts::zones::{Rule, signals};
use statistics::control_charts::{cusum, ewma};

use super::chart::zone_rules;
use super::{Kind, Routine};
use crate::fault::Fault;

/// Shifts shown, in standard deviations of a value.
const SHIFTS: [f64; 5] = [0.0, 0.5, 1.0, 2.0, 3.0];
/// Simulated records and their length, for zone rules.
const RECORDS: u64 = 1000;
const LENGTH: usize = 2000;

/// Mean number of values until a signal.
#[derive(Clone, Copy)]
pub struct RunLength {
    /// Shift of the mean, in standard deviations of a value.
    pub shift: f64,
    /// Mean number of values.
    pub values: f64,
}

/// Run lengths of the chart asked for, and whether they were simulated.
pub fn run_lengths(command: &Routine) -> Result<(Vec<RunLength>, &'static str), Fault> {
    let rules = zone_rules(command);
    let mut list = Vec::new();
    for shift in SHIFTS {
        let values = match command.chart {
            Kind::Ewma => ewma::average_run_length(command.lambda, command.width, shift)?,
            Kind::Cusum => cusum::average_run_length(command.allowance, command.decision, shift)?,
            Kind::Individuals | Kind::Means if rules.is_empty() => {
                ewma::average_run_length(1.0, command.width, shift)?
            }
            Kind::Individuals | Kind::Means => simulated(command, &rules, shift)?,
        };
        list.push(RunLength { shift, values });
    }
    let method = match command.chart {
        Kind::Ewma | Kind::Cusum => "integral equation",
        Kind::Individuals | Kind::Means if rules.is_empty() => "exact",
        Kind::Individuals | Kind::Means => "simulated, 1000 records",
    };
    Ok((list, method))
}

/// Mean place of the first signal in normal records with the rules chosen.
fn simulated(command: &Routine, rules: &[Rule], shift: f64) -> Result<f64, Fault> {
    let mut total = 0.0;
    for record in 0..RECORDS {
        let mut stream = RandomStream::new(command.seed, record);
        let mut values: Vec<f64> = Vec::new();
        // Most records signal early: they grow only as far as is needed.
        let mut length = 64;
        let first = loop {
            while values.len() < length {
                values.push(stream.normal() + shift);
            }
            let mut found = signals(&values, 0.0, command.width / 3.0, &[Rule::BeyondThree])?;
            found.extend(signals(&values, 0.0, 1.0, rules)?);
            match found.iter().map(|signal| signal.position).min() {
                Some(place) => break place + 1,
                None if length >= LENGTH => break LENGTH,
                None => length *= 4,
            }
        };
        total += first as f64;
    }
    Ok(total / RECORDS as f64)
}
