//! `isobar assess detection`: probability of detection from hits and misses.

use std::path::PathBuf;

use clap::{Args, ValueEnum};
use serde_json::{Value, json};
use statistics::detection::{HitMiss, Link, fit_hit_miss};
use statistics::proportions::clopper_pearson;

use super::tables;
use crate::answer::{Answer, from_statistics, number, optional};
use crate::fault::Fault;
use crate::table_text::{digits, digits_or_dash, pairs, plain, table};

/// Probability of detection.
#[derive(Args)]
#[command(after_help = "Example:
  isobar assess detection examples/positive_controls.csv --size verified_um --hit found")]
pub struct Detection {
    /// Table with a row for each unit, or for each size with --of.
    table: PathBuf,
    /// Column with the size, always the same unit.
    #[arg(long)]
    size: String,
    /// Column with the outcome: 1 or 0, hit or miss; a number of hits with --of.
    #[arg(long)]
    hit: String,
    /// Column with the number tested, where --hit counts hits.
    #[arg(long)]
    of: Option<String>,
    /// Link of the curve.
    #[arg(long, value_enum, default_value = "logit")]
    link: LinkName,
    /// Whether the curve runs in the size or in its logarithm.
    #[arg(long, value_enum, default_value = "log")]
    scale: Scale,
    /// Keep only rows with this value in this column; may be given again.
    #[arg(long = "where", value_name = "COLUMN=VALUE")]
    conditions: Vec<String>,
    /// Confidence of the bounds.
    #[arg(long, default_value_t = 0.95)]
    confidence: f64,
}

/// Links that can be asked for.
#[derive(Clone, Copy, ValueEnum)]
enum LinkName {
    /// Logistic.
    Logit,
    /// Normal.
    Probit,
    /// Complementary log-log.
    Cloglog,
}

/// Scale of the size.
#[derive(Clone, Copy, PartialEq, ValueEnum)]
enum Scale {
    /// Natural logarithm of the size.
    Log,
    /// The size itself.
    Linear,
}

/// Runs the command.
pub fn run(command: &Detection) -> Result<Answer, Fault> {
    let table = tables::open(&command.table, &command.conditions)?;
    let sizes = tables::numbers(&command.table, &table, &command.size)?;
    let data = match &command.of {
        None => {
            let hits = table
                .hits(&command.hit)
                .map_err(|refusal| tables::refused(&command.table, &refusal))?;
            sizes
                .iter()
                .zip(hits)
                .map(|(&size, hit)| HitMiss { size, hits: u64::from(hit), of: 1 })
                .collect::<Vec<_>>()
        }
        Some(of) => {
            let hits = counts(command, &table, &command.hit)?;
            let of = counts(command, &table, of)?;
            let rows = sizes.iter().zip(hits.iter().zip(of));
            rows.map(|(&size, (&hits, of))| HitMiss { size, hits, of }).collect()
        }
    };
    let link = match command.link {
        LinkName::Logit => Link::Logit,
        LinkName::Probit => Link::Probit,
        LinkName::Cloglog => Link::Cloglog,
    };
    let fit = fit_hit_miss(&data, link, command.scale == Scale::Log, command.confidence)?;
    let notes = from_statistics(fit.notes.clone());
    let by_size = by_size(&data, command.confidence)?;
    let mut text = pairs(&[
        ("separation", fit.separation.word().to_owned()),
        ("units", fit.n_units.to_string()),
        ("link", fit.link.word().to_owned()),
        ("intercept", digits_or_dash(fit.intercept, 6)),
        ("slope", digits_or_dash(fit.slope, 6)),
        ("deviance", digits_or_dash(fit.deviance, 5)),
        ("a50", digits_or_dash(fit.a50, 4)),
        ("a90", digits_or_dash(fit.a90, 4)),
        ("a90/95", digits_or_dash(fit.a90_95, 4)),
        (
            "largest miss, smallest hit",
            fit.bracket.map_or_else(
                || "-".to_owned(),
                |(miss, hit)| format!("{}, {}", digits(miss, 4), digits(hit, 4)),
            ),
        ),
        ("method", fit.method.to_owned()),
        ("method of the bound", fit.a90_95_method.to_owned()),
    ]);
    let rows: Vec<Vec<String>> = by_size
        .iter()
        .map(|(size, hits, of, lower)| {
            vec![plain(*size, 4), format!("{hits} of {of}"), format!("{:.1} %", lower * 100.0)]
        })
        .collect();
    text.push_str("\nby size, exact one-sided lower bound:\n");
    text.push_str(&self::table(&["size", "found", "lower bound"], &rows));
    let json = json!({
        "separation": fit.separation.word(),
        "link": fit.link.word(),
        "log_size": fit.log_size,
        "intercept": optional(fit.intercept),
        "slope": optional(fit.slope),
        "standard_errors": fit.standard_errors
            .map_or(Value::Null, |(a, b)| json!([number(a), number(b)])),
        "deviance": optional(fit.deviance),
        "residual_df": fit.residual_df,
        "a50": optional(fit.a50),
        "a90": optional(fit.a90),
        "a90_95": optional(fit.a90_95),
        "a90_95_method": fit.a90_95_method,
        "a90_95_wald": optional(fit.a90_95_wald),
        "bracket": fit.bracket.map_or(Value::Null, |(a, b)| json!([number(a), number(b)])),
        "n": fit.n_units,
        "blanks": fit.blank_units,
        "blank_hits": fit.blank_hits,
        "confidence": number(fit.confidence),
        "method": fit.method,
        "by_size": by_size.iter().map(|(size, hits, of, lower)| json!({
            "size": number(*size),
            "hits": hits,
            "of": of,
            "one_sided_lower": number(*lower),
        })).collect::<Value>(),
    });
    Ok(Answer::new(text, json, notes))
}

fn counts(
    command: &Detection,
    table: &intake::result_table::Table,
    column: &str,
) -> Result<Vec<u64>, Fault> {
    tables::numbers(&command.table, table, column)?
        .into_iter()
        .zip(&table.lines)
        .map(|(value, line)| {
            if value >= 0.0 && value.fract() == 0.0 && value < 1e12 {
                Ok(value as u64)
            } else {
                Err(Fault::users(
                    format!(
                        "`{}`, line {line}, column `{column}`: {value} is not a whole number",
                        command.table.display()
                    ),
                    "write how many units were found and tested",
                ))
            }
        })
        .collect()
}

/// Hits by size in the order of size: (size, hits, of, lower bound).
fn by_size(data: &[HitMiss], confidence: f64) -> Result<Vec<(f64, u64, u64, f64)>, Fault> {
    let mut rows: Vec<(f64, u64, u64)> = Vec::new();
    let mut sorted: Vec<&HitMiss> = data.iter().collect();
    sorted.sort_by(|a, b| a.size.total_cmp(&b.size));
    for row in sorted {
        match rows.last_mut() {
            Some(last) if last.0 == row.size => {
                last.1 += row.hits;
                last.2 += row.of;
            }
            _ => rows.push((row.size, row.hits, row.of)),
        }
    }
    rows.into_iter()
        .map(|(size, hits, of)| {
            let bounds = clopper_pearson(hits, of, confidence)?;
            Ok((size, hits, of, bounds.one_sided_lower))
        })
        .collect()
}
