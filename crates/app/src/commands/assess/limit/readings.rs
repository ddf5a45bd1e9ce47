//! A limit from single readings taken as one population.

use std::path::Path;

use statistics::tolerance_limits::{
    nonparametric, transformed, two_sided_normal_factor, upper_limit_from_values,
};
use study::Note;

use super::result::{Found, answer};
use super::{Limit, Method, lots};
use crate::answer::{Answer, from_statistics};
use crate::commands::assess::told::told;
use crate::commands::assess::{checks, repeats, tables};
use crate::fault::Fault;

/// Runs on a table of readings.
pub fn run(command: &Limit, path: &Path) -> Result<Answer, Fault> {
    let table = command.rows.of(path)?;
    let Some(column) = &command.column else {
        return Err(Fault::users(
            "the column with the readings was not named",
            format!("add --column; the table has: {}", table.columns.join(", ")),
        ));
    };
    let values = tables::numbers(path, &table, column)?;
    let coded = command.abort_code.map_or(0, |code| values.iter().filter(|v| **v == code).count());
    if coded > 0 {
        return Err(Fault::users(
            format!("{coded} readings are the code for runs ended by a limit: they have no value"),
            "find out whether these units leak; a limit needs negative controls that all read",
        ));
    }
    let mut found = match &command.lot {
        Some(lot) => {
            let names = tables::words(path, &table, lot)?;
            lots::found(command, column, &values, &names)?
        }
        None => {
            let mut found = one_population(command, column, &values)?;
            note_unused_lots(&table.columns, &mut found.notes);
            found
        }
    };
    let used = [Some(column.as_str()), command.lot.as_deref()];
    let used: Vec<&str> = used.into_iter().flatten().collect();
    let next = |unit: &str| match command.lot {
        None => format!("add --lot {unit}, so that units count and not their readings"),
        Some(_) => "keep one reading of each unit, or the mean of its readings".to_owned(),
    };
    repeats::note_repeats(&table, &used, next, &mut found.notes)?;
    answer(command, found)
}

fn one_population(command: &Limit, column: &str, values: &[f64]) -> Result<Found, Fault> {
    let (content, confidence) = (command.content, command.confidence);
    let base = upper_limit_from_values(values, content, confidence)?;
    let mut assumptions = base.assumptions.clone();
    checks::further(values, &mut assumptions);
    let order_only = |assumption: &statistics::Assumption| {
        !assumption.name.starts_with("normal") && !assumption.name.contains("outlier")
    };
    let mut lower = None;
    let (limit, plain_scale) = match command.method {
        Method::Normal => (base, true),
        Method::TwoSided => {
            let mut limit = base;
            limit.factor = two_sided_normal_factor(limit.n, content, confidence)?;
            lower = Some(limit.mean - limit.factor * limit.standard_deviation);
            limit.limit = limit.mean + limit.factor * limit.standard_deviation;
            limit.method = "two-sided normal tolerance limits, exact factor".into();
            (limit, true)
        }
        Method::Nonparametric => {
            assumptions.retain(order_only);
            (nonparametric::upper_limit(values, content, confidence)?, true)
        }
        Method::Lognormal => {
            let limit = transformed::lognormal_upper_limit(values, content, confidence)?;
            (limit, false)
        }
        Method::BoxCox => (transformed::box_cox_upper_limit(values, content, confidence)?, false),
    };
    if !plain_scale {
        // The scale of the method is the one whose shape matters.
        assumptions.retain(order_only);
        assumptions.splice(
            0..0,
            limit
                .assumptions
                .iter()
                .filter(|a| !assumptions.iter().any(|kept| kept.name == a.name))
                .cloned()
                .collect::<Vec<_>>(),
        );
    }
    let mut notes = from_statistics(limit.notes.clone());
    if command.method == Method::Nonparametric {
        notes.retain(|note| note.code != "not-normal" && note.code != "skewed");
    }
    Ok(Found {
        told: told("reject limit", &limit),
        method: limit.method,
        basis: column.to_owned(),
        n: limit.n,
        mean: limit.mean,
        standard_deviation: limit.standard_deviation,
        factor: (command.method != Method::Nonparametric).then_some(limit.factor),
        lower,
        limit: limit.limit,
        groups: Vec::new(),
        lots: None,
        readings: values.iter().map(|value| (*value, String::new())).collect(),
        plain_scale,
        assumptions,
        notes,
    })
}

/// A column that looks like lots and was not used.
fn note_unused_lots(columns: &[String], notes: &mut Vec<Note>) {
    let word = |column: &&String| {
        let name = column.to_lowercase();
        ["lot", "batch", "day", "rig", "site", "station"]
            .iter()
            .any(|word| name.split(['_', ' ']).any(|part| part == *word))
    };
    if let Some(column) = columns.iter().find(word) {
        notes.push(Note::caution(
            "lots-not-used",
            format!(
                "the values were taken as one population, and the table has a column `{column}`: \
                 pooled lots that differ turn 95 % confidence into 60 to 80 %"
            ),
            format!("add --lot {column}"),
        ));
    }
}
