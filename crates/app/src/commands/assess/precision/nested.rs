//! Nested levels: groups, or groups within groups.

use intake::result_table::Table;
use serde_json::{Value, json};
use statistics::variance_components::restricted_likelihood::restricted_likelihood;
use statistics::variance_components::{nested, one_way};
use study::Note;

use super::columns::{names, readings};
use super::components::{self, Component};
use super::{Precision, figure};
use crate::answer::{Answer, from_statistics, number, optional};
use crate::commands::assess::statement::Statement;
use crate::commands::assess::tables::grouped;
use crate::commands::assess::told::{Told, told};
use crate::fault::Fault;
use crate::table_text::{digits, digits_or_dash, pairs, table};

/// Outer groups with their inner groups of readings.
pub type Levels = Vec<(String, Vec<(String, Vec<f64>)>)>;

/// What the analysis gave.
struct Found {
    method: &'static str,
    names: Vec<String>,
    /// Variances by the analysis of variance: outer, inner, residual.
    anova: [Option<f64>; 3],
    /// The same by restricted likelihood.
    likelihood: [Option<f64>; 3],
    /// Total variance with its interval.
    total: Option<(f64, f64, f64)>,
    mean: f64,
    n: usize,
    groups: usize,
    told: Vec<Told>,
    notes: Vec<Note>,
}

/// Runs on one or two nested levels.
pub fn run(command: &Precision, table: &Table) -> Result<Answer, Fault> {
    let values = readings(command, table)?;
    let outer = names(command, table, command.nested.first())?;
    let inner = match command.nested.get(1) {
        Some(_) => Some(names(command, table, command.nested.get(1))?),
        None => None,
    };
    let labels = command.nested.clone();
    answer(command, labels, &levels(&outer, inner.as_deref(), &values))
}

/// A gauge study in which every part is met by one operator alone.
pub fn gauge(
    command: &Precision,
    operators: &[&str],
    parts: &[&str],
    values: &[f64],
) -> Result<Answer, Fault> {
    let labels = vec!["operator".to_owned(), "part within operator".to_owned()];
    answer(command, labels, &levels(operators, Some(parts), values))
}

fn levels(outer: &[&str], inner: Option<&[&str]>, values: &[f64]) -> Levels {
    let places: Vec<usize> = (0..values.len()).collect();
    grouped(outer, &places)
        .into_iter()
        .map(|(name, places)| {
            let own: Vec<f64> = places.iter().map(|place| values[*place]).collect();
            let groups = match inner {
                None => vec![(String::new(), own)],
                Some(inner) => {
                    let names: Vec<&str> = places.iter().map(|place| inner[*place]).collect();
                    grouped(&names, &own)
                }
            };
            (name, groups)
        })
        .collect()
}

fn answer(command: &Precision, labels: Vec<String>, levels: &Levels) -> Result<Answer, Fault> {
    let mut found = analyse(command, labels, levels)?;
    found.notes.push(Note::caution(
        "groups-count",
        format!(
            "the outer level has {} groups: they are what counts for its variance, not the {} \
             readings",
            found.groups, found.n
        ),
        "add groups of the outer level rather than repeats",
    ));
    let components = components_of(&found);
    let statement = Statement {
        told: std::mem::take(&mut found.told),
        text: text(&found, &components),
        json: json(command, &found, &components),
        assumptions: Vec::new(),
        wording: wording(command, &found, &components),
        notes: std::mem::take(&mut found.notes),
    };
    statement.finish(&command.figure, || figure::nested(command, levels, &components))
}

fn analyse(command: &Precision, labels: Vec<String>, levels: &Levels) -> Result<Found, Fault> {
    let cells: Vec<Vec<Vec<f64>>> = levels
        .iter()
        .map(|(_, inner)| inner.iter().map(|(_, values)| values.clone()).collect())
        .collect();
    let restricted = restricted_likelihood(&cells);
    let mut notes = Vec::new();
    let two = labels.len() == 2;
    let likelihood = match &restricted {
        Ok(fit) => {
            notes.extend(from_statistics(fit.notes.clone()));
            [Some(fit.outer), two.then_some(fit.inner), Some(fit.residual)]
        }
        Err(refusal) => {
            notes.push(Note::refusal("no-likelihood", refusal.to_string(), refusal.next_step()));
            [None; 3]
        }
    };
    let by_likelihood = restricted.as_ref().ok().map(|fit| told("components by likelihood", fit));
    let mut names = labels;
    names.push("repeatability".to_owned());
    if two {
        let fit = nested(&cells)?;
        let account = told("components", &fit).without_note("few-groups");
        notes.extend(from_statistics(fit.notes.clone()));
        Ok(Found {
            told: std::iter::once(account).chain(by_likelihood).collect(),
            method: fit.method,
            names,
            anova: [Some(fit.outer), Some(fit.inner), Some(fit.residual)],
            likelihood,
            total: fit.total(command.confidence).ok(),
            mean: fit.mean,
            n: fit.n,
            groups: levels.len(),
            notes,
        })
    } else {
        let groups: Vec<Vec<f64>> = levels.iter().map(|(_, inner)| inner[0].1.clone()).collect();
        let fit = one_way(&groups)?;
        let account = told("components", &fit).without_note("few-groups");
        notes.extend(from_statistics(fit.notes.clone()));
        let total =
            fit.total_interval(command.confidence).ok().map(|(low, high)| (fit.total(), low, high));
        Ok(Found {
            told: std::iter::once(account).chain(by_likelihood).collect(),
            method: fit.method,
            names,
            anova: [Some(fit.between), None, Some(fit.within)],
            likelihood,
            total,
            mean: fit.mean,
            n: fit.n,
            groups: fit.groups,
            notes,
        })
    }
}

fn components_of(found: &Found) -> Vec<Component> {
    let keys = ["outer_variance", "inner_variance", "repeatability_variance"];
    let mut names = found.names.iter();
    keys.into_iter()
        .zip(found.anova)
        .filter_map(|(key, variance)| {
            let variance = variance?;
            Some(Component { key, name: names.next()?.clone(), variance })
        })
        .collect()
}

fn text(found: &Found, components: &[Component]) -> String {
    let mut text = pairs(&[
        ("mean", digits(found.mean, 6)),
        (
            "standard deviation of one reading, all levels",
            found.total.map_or_else(
                || "-".to_owned(),
                |(total, low, high)| {
                    format!(
                        "{} ({} to {})",
                        digits(total.max(0.0).sqrt(), 4),
                        digits(low.max(0.0).sqrt(), 4),
                        digits(high.sqrt(), 4)
                    )
                },
            ),
        ),
        ("readings", found.n.to_string()),
        ("groups of the outer level: the number that counts", found.groups.to_string()),
        ("method", found.method.to_owned()),
    ]);
    text.push('\n');
    text.push_str(&components::text(components));
    let mut names = found.names.iter();
    let rows: Vec<Vec<String>> = found
        .anova
        .iter()
        .zip(found.likelihood)
        .filter(|(anova, _)| anova.is_some())
        .map(|(anova, likelihood)| {
            vec![
                names.next().cloned().unwrap_or_default(),
                digits_or_dash(*anova, 5),
                digits_or_dash(likelihood, 5),
            ]
        })
        .collect();
    text.push_str("\nvariances by both methods:\n");
    text.push_str(&table(&["level", "analysis of variance", "restricted likelihood"], &rows));
    text
}

fn json(command: &Precision, found: &Found, components: &[Component]) -> Value {
    let root = |variance: f64| number(variance.max(0.0).sqrt());
    let residual = components.last().map_or(0.0, |component| component.variance);
    let [outer, inner, rest] = found.likelihood;
    json!({
        "design": "nested",
        "levels": found.names,
        "method": found.method,
        "components": components::json(components),
        "restricted_likelihood": {
            "outer_variance": optional(outer),
            "inner_variance": optional(inner),
            "repeatability_variance": optional(rest),
        },
        "repeatability_sd": root(residual),
        "intermediate_sd": found.total.map_or(Value::Null, |total| json!({
            "estimate": root(total.0),
            "lower": root(total.1),
            "upper": root(total.2),
        })),
        "mean": number(found.mean),
        "n": found.groups,
        "readings": found.n,
        "confidence": number(command.confidence),
    })
}

fn wording(command: &Precision, found: &Found, components: &[Component]) -> String {
    let residual = components.last().map_or(0.0, |component| component.variance);
    let total = found.total.map_or_else(String::new, |(total, low, high)| {
        format!(
            " The standard deviation of one reading over all levels is {} ({} to {} at {} % \
             confidence, modified large sample).",
            digits(total.max(0.0).sqrt(), 3),
            digits(low.max(0.0).sqrt(), 3),
            digits(high.sqrt(), 3),
            command.confidence * 100.0
        )
    });
    format!(
        "{} readings in {} groups of {} gave a repeatability standard deviation of {}.{total}",
        found.n,
        found.groups,
        found.names[0],
        digits(residual.max(0.0).sqrt(), 3)
    )
}
