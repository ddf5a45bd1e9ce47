//! Nested levels, three or more: site, day, run, reading.

use intake::result_table::Table;
use serde_json::{Value, json};
use statistics::variance_components::{Factor, NestedLevels, nested_levels};
use study::Note;

use super::columns::{different, names, readings};
use super::components::Component;
use super::{Precision, figure};
use crate::answer::{Answer, from_statistics, number};
use crate::commands::assess::statement::Statement;
use crate::commands::assess::told::told;
use crate::fault::Fault;
use crate::table_text::{digits, interval_or_dash, pairs, table as rows_of};

/// Level of each value as a number, by its name.
pub fn places(column: &[&str]) -> Vec<usize> {
    let known = different(column);
    column
        .iter()
        .map(|name| known.iter().position(|other| other == name).unwrap_or(known.len()))
        .collect()
}

/// Runs on three or more nested levels.
pub fn run(command: &Precision, table: &Table) -> Result<Answer, Fault> {
    let values = readings(command, table)?;
    let columns = command
        .nested
        .iter()
        .map(|name| Ok(places(&names(command, table, Some(name))?)))
        .collect::<Result<Vec<_>, Fault>>()?;
    let factors: Vec<Factor<'_>> =
        command.nested.iter().zip(&columns).map(|(name, levels)| Factor { name, levels }).collect();
    let fit = nested_levels(&values, &factors, command.confidence)?;
    let mut notes = from_statistics(fit.notes.clone());
    notes.push(Note::caution(
        "groups-count",
        format!(
            "the outer level has {} groups: they are what counts for its variance, not the {} \
             readings",
            fit.n, fit.readings
        ),
        "add groups of the outer level rather than repeats",
    ));
    let statement = Statement {
        told: vec![told("components of variance", &fit)],
        text: text(&fit),
        json: json(&fit),
        assumptions: Vec::new(),
        wording: wording(&fit),
        notes,
    };
    statement.finish(&command.figure, || {
        let bars = fit.levels.iter().map(|level| Component {
            key: "variance",
            name: level.name.clone(),
            variance: level.variance,
        });
        vec![figure::bars(&bars.collect::<Vec<_>>())]
    })
}

fn text(fit: &NestedLevels) -> String {
    let total = &fit.total;
    let mut text = pairs(&[
        ("mean", digits(fit.mean, 6)),
        (
            "standard deviation of one reading, all levels",
            format!(
                "{} ({} to {})",
                digits(total.variance.sqrt(), 4),
                digits(total.lower.max(0.0).sqrt(), 4),
                digits(total.upper.sqrt(), 4)
            ),
        ),
        ("its degrees of freedom (Satterthwaite)", digits(total.degrees_of_freedom, 3)),
        ("its method", total.method.to_owned()),
        ("readings", fit.readings.to_string()),
        ("groups of the outer level: the number that counts", fit.n.to_string()),
        ("groups of equal size", if fit.balanced { "yes" } else { "no" }.to_owned()),
        ("method", fit.method.to_owned()),
    ]);
    let rows: Vec<Vec<String>> = fit
        .levels
        .iter()
        .map(|level| {
            vec![
                level.name.clone(),
                level.groups.to_string(),
                digits(level.degrees_of_freedom, 4),
                digits(level.mean_square, 5),
                digits(level.variance, 5),
                interval_or_dash(level.interval, 4),
                digits(level.restricted, 5),
            ]
        })
        .collect();
    text.push_str("\nvariances, level by level:\n");
    text.push_str(&rows_of(
        &["level", "groups", "df", "mean square", "variance", "interval", "restricted likelihood"],
        &rows,
    ));
    text
}

fn json(fit: &NestedLevels) -> Value {
    let total = &fit.total;
    json!({
        "design": "nested levels",
        "method": fit.method,
        "balanced": fit.balanced,
        "levels": fit.levels.iter().map(|level| json!({
            "level": level.name,
            "groups": level.groups,
            "degrees_of_freedom": number(level.degrees_of_freedom),
            "mean_square": number(level.mean_square),
            "variance": number(level.variance),
            "lower": level.interval.map_or(Value::Null, |(low, _)| number(low)),
            "upper": level.interval.map_or(Value::Null, |(_, high)| number(high)),
            "restricted_variance": number(level.restricted),
        })).collect::<Value>(),
        "total": {
            "variance": number(total.variance),
            "lower": number(total.lower),
            "upper": number(total.upper),
            "degrees_of_freedom": number(total.degrees_of_freedom),
            "method": total.method,
        },
        "criterion": number(fit.restricted.criterion),
        "mean": number(fit.mean),
        "n": fit.n,
        "readings": fit.readings,
        "confidence": number(fit.confidence),
    })
}

fn wording(fit: &NestedLevels) -> String {
    let parts: Vec<String> = fit
        .levels
        .iter()
        .map(|level| format!("{} {}", level.name, digits(level.variance, 3)))
        .collect();
    let total = &fit.total;
    format!(
        "{} readings in {} groups of {} gave these variances ({}): {}. The standard deviation of \
         one reading over all levels is {} ({} to {} at {} % confidence, {}).",
        fit.readings,
        fit.n,
        fit.levels[0].name,
        fit.method,
        parts.join(", "),
        digits(total.variance.sqrt(), 3),
        digits(total.lower.max(0.0).sqrt(), 3),
        digits(total.upper.sqrt(), 3),
        fit.confidence * 100.0,
        total.method
    )
}
