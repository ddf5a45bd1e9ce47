//! A gauge study: parts met by every operator, or parts nested in operators.

use intake::result_table::Table;
use serde_json::{Value, json};
use statistics::variance_components::gauge::{
    Gauge, average_and_range, from_crossed, gauge_variance, gauge_variance_pooled,
};
use statistics::variance_components::{Crossed, crossed};

use super::columns::{different, names, readings};
use super::components::{self, Component};
use super::{Precision, figure, nested};
use crate::answer::{Answer, from_statistics, number, optional};
use crate::commands::assess::statement::Statement;
use crate::commands::assess::told::told;
use crate::fault::Fault;
use crate::table_text::{digits, pairs, plain, table};

/// Readings by part, operator and repeat, with the names.
pub struct Study {
    /// Names of the parts.
    pub parts: Vec<String>,
    /// Names of the operators.
    pub operators: Vec<String>,
    /// Readings by part, operator and repeat.
    pub cells: Vec<Vec<Vec<f64>>>,
}

/// Runs on a gauge study.
pub fn run(command: &Precision, table: &Table) -> Result<Answer, Fault> {
    let values = readings(command, table)?;
    let parts = names(command, table, command.part.as_ref())?;
    let operators = names(command, table, command.operator.as_ref())?;
    let study = Study {
        cells: cells(&parts, &operators, &values),
        parts: different(&parts),
        operators: different(&operators),
    };
    let met_once =
        study.cells.iter().all(|row| row.iter().filter(|cell| !cell.is_empty()).count() == 1);
    if met_once && study.operators.len() > 1 {
        // A part that one operator alone has met (a test that uses it up) is
        // nested in that operator.
        return nested::gauge(command, &operators, &parts, &values);
    }
    complete(command, &study)?;
    let analysis = crossed(&study.cells)?;
    let gauge = from_crossed(&analysis, command.pool_interaction)?;
    let other = from_crossed(&analysis, !command.pool_interaction)?;
    let ranges = average_and_range(&study.cells).ok();
    let interval = if command.pool_interaction { gauge_variance_pooled } else { gauge_variance };
    let interval = interval(&analysis, command.confidence).ok();
    let components = components_of(command, &analysis);
    let mut notes = from_statistics(gauge.notes.clone());
    notes.push(study::Note::caution(
        "few-operators",
        format!(
            "{} operators leave {} degrees of freedom for the spread between them, however many \
             parts they met",
            study.operators.len(),
            study.operators.len() - 1
        ),
        "add operators rather than repeats",
    ));
    let statement = Statement {
        told: std::iter::once(told("gauge study", &gauge).without_note("few-appraisers"))
            .chain(
                ranges
                    .iter()
                    .map(|r| told("averages and ranges", r).without_note("few-appraisers")),
            )
            .collect(),
        text: text(command, &gauge, &other, ranges.as_ref(), interval, &components),
        json: json(command, &study, &analysis, &gauge, interval, &components),
        assumptions: Vec::new(),
        wording: wording(&study, &gauge),
        notes,
    };
    statement.finish(&command.figure, || figure::gauge(command, &study, &components))
}

fn cells(parts: &[&str], operators: &[&str], values: &[f64]) -> Vec<Vec<Vec<f64>>> {
    let (rows, columns) = (different(parts), different(operators));
    let mut cells = vec![vec![Vec::new(); columns.len()]; rows.len()];
    for ((part, operator), value) in parts.iter().zip(operators).zip(values) {
        let row = rows.iter().position(|name| name == part).unwrap_or(0);
        let column = columns.iter().position(|name| name == operator).unwrap_or(0);
        cells[row][column].push(*value);
    }
    cells
}

fn complete(command: &Precision, study: &Study) -> Result<(), Fault> {
    let wanted = study.cells[0][0].len();
    for (row, part) in study.cells.iter().zip(&study.parts) {
        for (cell, operator) in row.iter().zip(&study.operators) {
            if cell.len() != wanted || wanted == 0 {
                return Err(Fault::users(
                    format!(
                        "`{}`: part {part} was read {} times by {operator}, and part {} {wanted} \
                         times by {}: a crossed study needs equal numbers",
                        command.table.display(),
                        cell.len(),
                        study.parts[0],
                        study.operators[0]
                    ),
                    "complete the readings, leave the part out (--where), or take the study as it is with \
                     --random PART,OPERATOR,PART:OPERATOR (the columns of part and operator)",
                ));
            }
        }
    }
    Ok(())
}

fn components_of(command: &Precision, analysis: &Crossed) -> Vec<Component> {
    let of = |key, name: &str, variance| Component { key, name: name.to_owned(), variance };
    if command.pool_interaction {
        let (part, operator, error) = analysis.pooled;
        vec![
            of("part_variance", "between parts", part),
            of("operator_variance", "between operators", operator),
            of("repeatability_variance", "repeatability, interaction pooled", error),
        ]
    } else {
        let (part, operator, interaction, error) = analysis.kept;
        vec![
            of("part_variance", "between parts", part),
            of("operator_variance", "between operators", operator),
            of("interaction_variance", "part by operator", interaction),
            of("repeatability_variance", "repeatability", error),
        ]
    }
}

fn text(
    command: &Precision,
    gauge: &Gauge,
    other: &Gauge,
    ranges: Option<&Gauge>,
    interval: Option<(f64, f64, f64)>,
    components: &[Component],
) -> String {
    let mut rows = vec![
        ("gauge, of the total variation", format!("{} %", plain(gauge.percent_gauge, 4))),
        ("repeatability", digits(gauge.repeatability, 5)),
        ("reproducibility", digits(gauge.reproducibility, 5)),
        ("gauge: both together", digits(gauge.gauge, 5)),
        ("between parts", digits(gauge.part, 5)),
        ("total", digits(gauge.total, 5)),
        ("categories told apart", digits(gauge.distinct_categories, 3)),
    ];
    if let Some((_, low, high)) = interval {
        rows.push((
            "gauge, interval",
            format!("{} to {}", digits(low.max(0.0).sqrt(), 4), digits(high.sqrt(), 4)),
        ));
    }
    if let Some(tolerance) = command.tolerance {
        let share = 600.0 * gauge.gauge / tolerance;
        rows.push(("six gauges, of the tolerance", format!("{} %", plain(share, 3))));
    }
    rows.push(("method", gauge.method.to_owned()));
    let mut text = pairs(&rows);
    text.push('\n');
    text.push_str(&components::text(components));
    let line = |name: &str, gauge: &Gauge| {
        vec![
            name.to_owned(),
            digits(gauge.repeatability, 4),
            digits(gauge.reproducibility, 4),
            digits(gauge.gauge, 4),
            format!("{} %", plain(gauge.percent_gauge, 4)),
        ]
    };
    let name = |gauge: &Gauge| {
        if gauge.interaction_pooled { "interaction pooled" } else { "interaction kept" }
    };
    let mut lines = vec![line(name(gauge), gauge), line(name(other), other)];
    lines.extend(ranges.map(|ranges| line("averages and ranges", ranges)));
    text.push_str("\nthe treatment of the interaction changes the result:\n");
    text.push_str(&table(
        &["analysis", "repeatability", "reproducibility", "gauge", "of total"],
        &lines,
    ));
    text
}

fn json(
    command: &Precision,
    study: &Study,
    analysis: &Crossed,
    gauge: &Gauge,
    interval: Option<(f64, f64, f64)>,
    components: &[Component],
) -> Value {
    let (parts, operators, repeats) = analysis.sizes;
    json!({
        "design": "crossed",
        "method": gauge.method,
        "interaction_pooled": gauge.interaction_pooled,
        "components": components::json(components),
        "repeatability_sd": number(gauge.repeatability),
        "reproducibility_sd": number(gauge.reproducibility),
        "gauge_sd": number(gauge.gauge),
        "part_sd": number(gauge.part),
        "total_sd": number(gauge.total),
        "percent_of_total_variation": number(gauge.percent_gauge),
        "percent_of_tolerance":
            optional(command.tolerance.map(|tolerance| 600.0 * gauge.gauge / tolerance)),
        "distinct_categories": number(gauge.distinct_categories),
        "gauge_variance": interval.map_or(Value::Null, |(estimate, low, high)| json!({
            "estimate": number(estimate),
            "lower": number(low),
            "upper": number(high),
        })),
        "interaction": analysis.interaction.map_or(Value::Null, |(f, p)| json!({
            "f": number(f),
            "p_value": number(p),
        })),
        "parts": parts,
        "operators": operators,
        "repeats": repeats,
        "n": study.operators.len(),
        "confidence": number(command.confidence),
    })
}

fn wording(study: &Study, gauge: &Gauge) -> String {
    format!(
        "{} parts were read by {} operators, each {} times; the gauge (repeatability {}, \
         reproducibility {}) makes up {} % of the total variation ({}, interaction {}).",
        study.parts.len(),
        study.operators.len(),
        study.cells[0][0].len(),
        digits(gauge.repeatability, 3),
        digits(gauge.reproducibility, 3),
        plain(gauge.percent_gauge, 3),
        gauge.method,
        if gauge.interaction_pooled { "pooled" } else { "kept" }
    )
}
