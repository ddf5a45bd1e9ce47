//! Random factors in any arrangement: crossed, nested, with holes.

use intake::result_table::Table;
use serde_json::{Value, json};
use statistics::variance_components::{Factor, RandomFactors, random_factors};
use study::Note;

use super::columns::{names, readings};
use super::components::Component;
use super::nested_levels::places;
use super::{Precision, figure};
use crate::answer::{Answer, from_statistics, number, optional};
use crate::commands::assess::statement::Statement;
use crate::commands::assess::told::told;
use crate::fault::Fault;
use crate::table_text::{digits, digits_or_dash, interval_or_dash, pairs, table as rows_of};

/// Runs on the factors that were named.
pub fn run(command: &Precision, table: &Table) -> Result<Answer, Fault> {
    let values = readings(command, table)?;
    let columns = command
        .random
        .iter()
        .map(|name| column(command, table, name))
        .collect::<Result<Vec<_>, Fault>>()?;
    let factors: Vec<Factor<'_>> =
        command.random.iter().zip(&columns).map(|(name, levels)| Factor { name, levels }).collect();
    let fit = random_factors(&values, &factors, command.confidence)?;
    let mut notes = from_statistics(fit.notes.clone());
    notes.push(Note::remark(
        "order-of-factors",
        "the analysis of variance takes the factors in the order named; the restricted likelihood \
         does not depend on it",
        "name outer factors before inner ones, and interactions last",
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
        let bars = fit.components.iter().map(|component| Component {
            key: "variance",
            name: component.name.clone(),
            variance: component.variance,
        });
        vec![figure::bars(&bars.collect::<Vec<_>>())]
    })
}

/// Levels of a column, or of the pairs of two columns joined by a colon.
fn column(command: &Precision, table: &Table, name: &str) -> Result<Vec<usize>, Fault> {
    let whole = name.to_owned();
    if table.columns.contains(&whole) || !name.contains(':') {
        return Ok(places(&names(command, table, Some(&whole))?));
    }
    let parts = name
        .split(':')
        .map(|part| names(command, table, Some(&part.trim().to_owned())))
        .collect::<Result<Vec<_>, Fault>>()?;
    let joined: Vec<String> = (0..table.rows.len())
        .map(|row| parts.iter().map(|part| part[row]).collect::<Vec<_>>().join("\u{1f}"))
        .collect();
    Ok(places(&joined.iter().map(String::as_str).collect::<Vec<_>>()))
}

fn text(fit: &RandomFactors) -> String {
    let (low, high) = fit.total_interval;
    let mut text = pairs(&[
        (
            "mean",
            format!(
                "{} (standard error {})",
                digits(fit.mean, 6),
                digits(fit.mean_standard_error, 3)
            ),
        ),
        (
            "standard deviation of one reading, all factors",
            format!(
                "{} ({} to {})",
                digits(fit.total.sqrt(), 4),
                digits(low.max(0.0).sqrt(), 4),
                digits(high.sqrt(), 4)
            ),
        ),
        ("its degrees of freedom (Satterthwaite)", digits(fit.total_df, 3)),
        ("readings", fit.readings.to_string()),
        ("fewest levels of a factor: the number that counts", fit.n.to_string()),
        ("restricted criterion", digits(fit.criterion, 8)),
        ("method", fit.method.to_owned()),
    ]);
    let rows: Vec<Vec<String>> = fit
        .components
        .iter()
        .map(|component| {
            vec![
                component.name.clone(),
                component.levels.to_string(),
                digits(component.variance, 5),
                digits_or_dash(component.standard_error, 3),
                interval_or_dash(component.interval, 4),
                digits(component.anova, 5),
            ]
        })
        .collect();
    text.push_str("\nvariances by restricted likelihood, and by the analysis of variance:\n");
    text.push_str(&rows_of(
        &["factor", "levels", "variance", "error", "interval", "analysis of variance"],
        &rows,
    ));
    text
}

fn json(fit: &RandomFactors) -> Value {
    json!({
        "design": "random factors",
        "method": fit.method,
        "factors": fit.components.iter().map(|component| json!({
            "factor": component.name,
            "levels": component.levels,
            "variance": number(component.variance),
            "standard_error": optional(component.standard_error),
            "lower": component.interval.map_or(Value::Null, |(low, _)| number(low)),
            "upper": component.interval.map_or(Value::Null, |(_, high)| number(high)),
            "anova_variance": number(component.anova),
            "sum_of_squares": number(component.sum_of_squares),
            "degrees_of_freedom": number(component.degrees_of_freedom),
        })).collect::<Value>(),
        "total": {
            "variance": number(fit.total),
            "lower": number(fit.total_interval.0),
            "upper": number(fit.total_interval.1),
            "degrees_of_freedom": number(fit.total_df),
        },
        "criterion": number(fit.criterion),
        "remaining_gain": number(fit.remaining_gain),
        "mean": number(fit.mean),
        "mean_standard_error": number(fit.mean_standard_error),
        "n": fit.n,
        "readings": fit.readings,
        "confidence": number(fit.confidence),
    })
}

fn wording(fit: &RandomFactors) -> String {
    let parts: Vec<String> = fit
        .components
        .iter()
        .map(|component| format!("{} {}", component.name, digits(component.variance, 3)))
        .collect();
    format!(
        "{} readings gave these variances ({}): {}. The standard deviation of one reading at new \
         levels of all factors is {} ({} to {} at {} % confidence, Satterthwaite).",
        fit.readings,
        fit.method,
        parts.join(", "),
        digits(fit.total.sqrt(), 3),
        digits(fit.total_interval.0.max(0.0).sqrt(), 3),
        digits(fit.total_interval.1.sqrt(), 3),
        fit.confidence * 100.0
    )
}
