//! A chart, whatever its kind: values in order with frozen limits.

use statistics::control_charts::individuals::{Individuals, individuals};
use statistics::control_charts::zones::{Rule, signals};
use study::Note;

use super::{Routine, RuleName};
use crate::commands::assess::tables;
use crate::commands::assess::told::Told;
use crate::fault::Fault;

/// A value that a rule speaks about.
#[derive(Debug, Clone, PartialEq)]
pub struct Signal {
    /// Place of the value among those plotted, counted from 0.
    pub position: usize,
    /// Short name of the rule.
    pub rule: &'static str,
    /// The value plotted.
    pub value: f64,
}

/// Chart of the scatter that belongs to a chart of values.
pub struct SpreadChart {
    /// What is plotted.
    pub name: &'static str,
    /// Values; the place of the first on the chart of values is `from`.
    pub values: Vec<f64>,
    /// Place of the first value.
    pub from: usize,
    /// Centre line.
    pub center: f64,
    /// Lower limit.
    pub lower: f64,
    /// Upper limit.
    pub upper: f64,
    /// Places of values outside, counted as on the chart of values.
    pub signals: Vec<usize>,
}

/// Both sums of a cusum chart.
pub struct Sums {
    /// Upward.
    pub high: Vec<f64>,
    /// Downward.
    pub low: Vec<f64>,
}

/// A chart.
pub struct Chart {
    /// The account of the chart.
    pub told: Vec<Told>,
    /// Name of the method.
    pub method: String,
    /// Name of each value plotted.
    pub names: Vec<String>,
    /// Values plotted.
    pub plotted: Vec<f64>,
    /// Independent values behind the plot: readings or means.
    pub values: Vec<f64>,
    /// Values that fixed the limits; 0 where target and sigma were given.
    pub first: usize,
    /// Centre line.
    pub center: f64,
    /// Standard deviation of one value behind the plot.
    pub sigma: f64,
    /// Lower limit.
    pub lower: f64,
    /// Upper limit.
    pub upper: f64,
    /// Limits of each value, where they change.
    pub by_value: Option<Vec<(f64, f64)>>,
    /// Sums, for cusum.
    pub sums: Option<Sums>,
    /// Chart of the scatter.
    pub spread: Option<SpreadChart>,
    /// Signals in order.
    pub signals: Vec<Signal>,
    /// Notes.
    pub notes: Vec<Note>,
}

/// Number of values that fix the limits.
pub fn first_phase(command: &Routine, n: usize, notes: &mut Vec<Note>) -> Result<usize, Fault> {
    if command.target.is_some() {
        return Ok(0);
    }
    match command.first_phase {
        Some(first) if first > n => Err(Fault::users(
            format!("the first phase is to have {first} values, and only {n} are plotted"),
            format!("give --first-phase of at most {n}"),
        )),
        Some(first) => Ok(first),
        None => {
            notes.push(Note::caution(
                "limits-not-frozen",
                "the limits come from all values, also from those that they judge: a shift widens \
                 its own limits",
                "name the first phase with --first-phase, or give --target and --sd from before",
            ));
            Ok(n)
        }
    }
}

/// Centre and sigma of single values: as given, or from moving ranges of the
/// first phase.
pub fn basis(
    command: &Routine,
    values: &[f64],
    notes: &mut Vec<Note>,
) -> Result<(usize, f64, f64, Option<Individuals>), Fault> {
    let first = first_phase(command, values.len(), notes)?;
    if let (Some(target), Some(sd)) = (command.target, command.sd) {
        if !(sd > 0.0 && sd.is_finite() && target.is_finite()) {
            return Err(Fault::users(
                format!("--sd is {sd} and --target {target}"),
                "give a standard deviation above zero and a finite target",
            ));
        }
        return Ok((0, target, sd, None));
    }
    let found = individuals(&values[..first])?;
    notes.extend(crate::answer::from_statistics(found.notes.clone()));
    Ok((first, found.mean, found.sigma, Some(found)))
}

/// Short name of a rule.
fn word(rule: Rule) -> &'static str {
    match rule {
        Rule::BeyondThree => "beyond-limits",
        Rule::TwoOfThreeBeyondTwo => "two-of-three",
        Rule::FourOfFiveBeyondOne => "four-of-five",
        Rule::EightOnOneSide => "eight-on-one-side",
        Rule::SixRisingOrFalling => "six-rising-or-falling",
    }
}

/// The zone rules asked for, without the limits themselves.
pub fn zone_rules(command: &Routine) -> Vec<Rule> {
    const PAIRS: [(RuleName, Rule); 4] = [
        (RuleName::TwoOfThree, Rule::TwoOfThreeBeyondTwo),
        (RuleName::FourOfFive, Rule::FourOfFiveBeyondOne),
        (RuleName::EightOnOneSide, Rule::EightOnOneSide),
        (RuleName::SixRisingOrFalling, Rule::SixRisingOrFalling),
    ];
    let all = command.rules.contains(&RuleName::All);
    let asked = PAIRS.iter().filter(|(name, _)| all || command.rules.contains(name));
    asked.map(|(_, rule)| *rule).collect()
}

/// Signals of values on a chart with known sigma: the limits at `width`, and
/// the zone rules asked for.
pub fn judged(
    values: &[f64],
    center: f64,
    sigma: f64,
    width: f64,
    rules: &[Rule],
) -> Result<Vec<Signal>, Fault> {
    // The first rule speaks of three sigma: a scaled sigma puts it at `width`.
    let mut found = signals(values, center, sigma * width / 3.0, &[Rule::BeyondThree])?;
    found.extend(signals(values, center, sigma, rules)?);
    found.sort_by_key(|signal| signal.position);
    Ok(found
        .into_iter()
        .map(|signal| Signal {
            position: signal.position,
            rule: word(signal.rule),
            value: values[signal.position],
        })
        .collect())
}

/// Values to chart with their names: readings, or means of samples where those
/// are named.
pub fn series(readings: &[f64], samples: Option<&[&str]>) -> (Vec<f64>, Vec<String>) {
    match samples {
        None => (readings.to_vec(), (1..=readings.len()).map(|n| n.to_string()).collect()),
        Some(names) => tables::grouped(names, readings)
            .into_iter()
            .filter_map(|(name, values)| Some((digits::sums::mean(&values)?, name)))
            .unzip(),
    }
}
