//! A limit from printed figures: mean, standard deviation and number.

use std::path::Path;

use statistics::summaries::{groups_differ, pooled};
use statistics::tolerance_limits::{UpperLimit, two_sided_normal_factor, upper_limit_from_summary};
use study::{Note, summary_table};

use super::result::{Found, answer};
use super::{Limit, Method};
use crate::answer::{Answer, from_statistics};
use crate::commands::assess::tables;
use crate::commands::assess::told::told;
use crate::fault::Fault;
use crate::table_text::digits;

/// Runs on figures of the command line.
pub fn from_printed(command: &Limit, mean: f64) -> Result<Answer, Fault> {
    let limit = printed(command, mean)?;
    answer(command, found(command, limit, "printed figures", Vec::new())?)
}

fn printed(command: &Limit, mean: f64) -> Result<UpperLimit, Fault> {
    let sd = command.sd.unwrap_or(f64::NAN);
    let n = command.n.unwrap_or(0);
    Ok(upper_limit_from_summary(mean, sd, n, command.content, command.confidence)?)
}

fn found(
    command: &Limit,
    mut limit: UpperLimit,
    basis: &str,
    mut notes: Vec<Note>,
) -> Result<Found, Fault> {
    notes.extend(from_statistics(limit.notes.clone()));
    let mut lower = None;
    match command.method {
        Method::Normal => {}
        Method::TwoSided => {
            limit.factor = two_sided_normal_factor(limit.n, command.content, command.confidence)?;
            lower = Some(limit.mean - limit.factor * limit.standard_deviation);
            limit.limit = limit.mean + limit.factor * limit.standard_deviation;
            limit.method = "two-sided normal tolerance limits, exact factor".into();
        }
        Method::Nonparametric | Method::Lognormal | Method::BoxCox => {
            return Err(Fault::users(
                "this kind of limit needs the single readings",
                "name a table and its --column, or use --method normal",
            ));
        }
    }
    Ok(Found {
        told: told("reject limit", &limit),
        method: limit.method,
        basis: basis.to_owned(),
        n: limit.n,
        mean: limit.mean,
        standard_deviation: limit.standard_deviation,
        factor: Some(limit.factor),
        lower,
        limit: limit.limit,
        groups: Vec::new(),
        lots: None,
        readings: Vec::new(),
        plain_scale: true,
        assumptions: limit.assumptions,
        notes,
    })
}

/// Runs on a table of group summaries.
pub fn run(command: &Limit, path: &Path) -> Result<Answer, Fault> {
    let table = command.rows.of(path)?;
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
    let (content, confidence) = (command.content, command.confidence);
    let (limit, basis) = match command.mean {
        Some(mean) => (printed(command, mean)?, "printed pooled figures"),
        None => {
            let p = pooled(&groups)?;
            let limit =
                upper_limit_from_summary(p.mean, p.standard_deviation, p.n, content, confidence)?;
            (limit, "rows pooled")
        }
    };
    let per_group = groups
        .iter()
        .map(|group| {
            let (mean, sd) = (group.mean, group.standard_deviation);
            upper_limit_from_summary(mean, sd, group.n, content, confidence)
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
    let mut found = found(command, limit, basis, notes)?;
    found.groups = per_group;
    answer(command, found)
}
