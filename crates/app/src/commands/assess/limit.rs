//! `isobar assess limit`: reject limit from negative controls.

use std::path::PathBuf;

use clap::Args;
use serde_json::{Value, json};
use statistics::summaries::{GroupSummary, groups_differ, pooled};
use statistics::tolerance_limits::{UpperLimit, upper_limit_from_summary, upper_limit_from_values};
use study::Note;
use study::summary_table;

use super::tables;
use crate::answer::{Answer, from_statistics, number};
use crate::fault::Fault;
use crate::table_text::{digits, pairs, plain, table};

/// Reject limit: a one-sided upper tolerance limit.
#[derive(Args)]
#[command(after_help = "Examples:
  isobar assess limit --mean 13 --sd 4.3 --n 135 --content 0.999 --confidence 0.95
  isobar assess limit examples/negative_controls.csv --column rise_pa
  isobar assess limit examples/three_site_study.csv --summary --where \"population=no leak\" \\
      --mean 13 --sd 4.3 --n 135 --content 0.99")]
pub struct Limit {
    /// Table of readings, or of group summaries with --summary.
    table: Option<PathBuf>,
    /// Column with the readings.
    #[arg(long)]
    column: Option<String>,
    /// The table holds a row of mean, standard deviation and number for each group.
    #[arg(long, requires = "table")]
    summary: bool,
    /// Keep only rows with this value in this column; may be given again.
    #[arg(long = "where", value_name = "COLUMN=VALUE")]
    conditions: Vec<String>,
    /// Printed mean.
    #[arg(long, requires_all = ["sd", "n"], allow_hyphen_values = true)]
    mean: Option<f64>,
    /// Printed standard deviation.
    #[arg(long, requires = "mean")]
    sd: Option<f64>,
    /// Printed number of values.
    #[arg(long, requires = "mean")]
    n: Option<usize>,
    /// Reading by which the table codes runs ended by a limit.
    #[arg(long)]
    abort_code: Option<f64>,
    /// Share of good units to stay below the limit.
    #[arg(long, default_value_t = 0.999)]
    content: f64,
    /// Confidence in that share.
    #[arg(long, default_value_t = 0.95)]
    confidence: f64,
}

/// Runs the command.
pub fn run(command: &Limit) -> Result<Answer, Fault> {
    match (&command.table, command.summary, command.mean) {
        (Some(path), true, _) => from_summaries(command, path),
        (Some(path), false, None) => from_readings(command, path),
        (None, _, Some(mean)) => {
            let limit = printed(command, mean)?;
            Ok(answer(&limit, "printed figures", &[], Vec::new()))
        }
        (Some(_), false, Some(_)) => Err(Fault::users(
            "a table of readings and printed figures were both given",
            "give one of them, or add --summary where the table holds group summaries",
        )),
        (None, _, None) => Err(Fault::users(
            "nothing to assess",
            "name a table and its --column, or give --mean, --sd and --n",
        )),
    }
}

fn printed(command: &Limit, mean: f64) -> Result<UpperLimit, Fault> {
    let sd = command.sd.unwrap_or(f64::NAN);
    let n = command.n.unwrap_or(0);
    Ok(upper_limit_from_summary(mean, sd, n, command.content, command.confidence)?)
}

fn from_readings(command: &Limit, path: &std::path::Path) -> Result<Answer, Fault> {
    let table = tables::open(path, &command.conditions)?;
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
    let limit = upper_limit_from_values(&values, command.content, command.confidence)?;
    Ok(answer(&limit, column, &[], Vec::new()))
}

fn from_summaries(command: &Limit, path: &std::path::Path) -> Result<Answer, Fault> {
    let table = tables::open(path, &command.conditions)?;
    let rows = tables::summary_rows(path, &table)?;
    let populations = tables::populations(&rows);
    if populations.len() > 1 {
        return Err(Fault::users(
            "the table holds several populations, and a limit is for one",
            format!("add --where COLUMN=VALUE; it has: {}", populations.join(", ")),
        ));
    }
    let sorted = summary_table::sort_rows(&rows, command.abort_code);
    let groups = summary_table::groups(&sorted.readings);
    let mut notes = sorted.notes;
    if groups.is_empty() {
        return Err(Fault::users(
            "every row is a code for runs ended by a limit",
            "a limit needs negative controls that all read",
        ));
    }
    let (limit, basis) = match command.mean {
        Some(mean) => (printed(command, mean)?, "printed pooled figures"),
        None => {
            let pooled = pooled(&groups)?;
            let limit = upper_limit_from_summary(
                pooled.mean,
                pooled.standard_deviation,
                pooled.n,
                command.content,
                command.confidence,
            )?;
            (limit, "rows pooled")
        }
    };
    let per_group = groups
        .iter()
        .map(|group| {
            upper_limit_from_summary(
                group.mean,
                group.standard_deviation,
                group.n,
                command.content,
                command.confidence,
            )
            .map(|limit| (group.clone(), limit))
        })
        .collect::<Result<Vec<_>, _>>()?;
    if groups.len() > 1 {
        let test = groups_differ(&groups)?;
        if test.p_value < 0.05 {
            notes.push(Note::caution(
                "groups-differ",
                format!(
                    "the groups differ (F = {}, p = {}): the pooled limit is an arithmetic check \
                     under pooling only, not a limit for any group or for a new one",
                    digits(test.f, 3),
                    digits(test.p_value, 2)
                ),
                "use the limit of each group, or treat groups as random and add groups",
            ));
        }
        notes.extend(from_statistics(test.notes));
    }
    Ok(answer(&limit, basis, &per_group, notes))
}

fn answer(
    limit: &UpperLimit,
    basis: &str,
    groups: &[(GroupSummary, UpperLimit)],
    mut notes: Vec<Note>,
) -> Answer {
    notes.extend(from_statistics(limit.notes.clone()));
    let mut text = pairs(&[
        ("limit", digits(limit.limit, 4)),
        ("basis", basis.to_owned()),
        ("method", limit.method.clone()),
        ("values", limit.n.to_string()),
        ("mean", plain(limit.mean, 5)),
        ("standard deviation", plain(limit.standard_deviation, 4)),
        ("factor", digits(limit.factor, 5)),
        ("content", format!("{}", limit.content)),
        ("confidence", format!("{}", limit.confidence)),
    ]);
    if !groups.is_empty() {
        let rows: Vec<Vec<String>> = groups
            .iter()
            .map(|(group, limit)| {
                vec![
                    group.label.clone(),
                    group.n.to_string(),
                    plain(group.mean, 4),
                    plain(group.standard_deviation, 4),
                    digits(limit.factor, 4),
                    digits(limit.limit, 4),
                ]
            })
            .collect();
        text.push_str("\nlimit of each group:\n");
        text.push_str(&table(&["group", "n", "mean", "sd", "factor", "limit"], &rows));
    }
    let json = json!({
        "method": limit.method,
        "basis": basis,
        "n": limit.n,
        "mean": number(limit.mean),
        "standard_deviation": number(limit.standard_deviation),
        "factor": number(limit.factor),
        "limit": number(limit.limit),
        "content": number(limit.content),
        "confidence": number(limit.confidence),
        "groups": groups.iter().map(|(group, limit)| json!({
            "group": group.label,
            "n": group.n,
            "mean": number(group.mean),
            "standard_deviation": number(group.standard_deviation),
            "factor": number(limit.factor),
            "limit": number(limit.limit),
        })).collect::<Value>(),
    });
    Answer::new(text, json, notes)
}
