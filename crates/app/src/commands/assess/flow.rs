//! `isobar assess flow`: reading against known flow, and back.

use std::path::PathBuf;

use clap::Args;
use serde_json::{Value, json};
use statistics::regression::{detection_limit, straight_line};
use study::Note;

use super::tables;
use crate::answer::{Answer, from_statistics, number, optional};
use crate::fault::Fault;
use crate::table_text::{digits, digits_or_dash, pairs};

/// Flow calibration.
#[derive(Args)]
#[command(after_help = "Example:
  isobar assess flow examples/flow_challenge.csv --flow flow_sccm_at_0c \\
      --reading rise_pa --invert 40")]
pub struct Flow {
    /// Table with a row for each challenge.
    table: PathBuf,
    /// Column with the known flow.
    #[arg(long)]
    flow: String,
    /// Column with the reading.
    #[arg(long)]
    reading: String,
    /// Reading to turn into a flow.
    #[arg(long, allow_hyphen_values = true)]
    invert: Option<f64>,
    /// Keep only rows with this value in this column; may be given again.
    #[arg(long = "where", value_name = "COLUMN=VALUE")]
    conditions: Vec<String>,
    /// Confidence of the intervals.
    #[arg(long, default_value_t = 0.95)]
    confidence: f64,
}

/// Runs the command.
pub fn run(command: &Flow) -> Result<Answer, Fault> {
    let table = tables::open(&command.table, &command.conditions)?;
    let flows = tables::numbers(&command.table, &table, &command.flow)?;
    let readings = tables::numbers(&command.table, &table, &command.reading)?;
    let line = straight_line(&flows, &readings)?;
    let mut notes = from_statistics(line.notes.clone());
    let error = 1.0 - command.confidence;
    let limit = match detection_limit(&line, 1, error, error) {
        Ok(limit) => {
            notes.extend(from_statistics(limit.notes.clone()));
            Some(limit)
        }
        Err(refusal) => {
            notes.push(Note::refusal(
                "no-detection-limit",
                refusal.to_string(),
                refusal.next_step(),
            ));
            None
        }
    };
    let inverse = match command.invert {
        None => None,
        Some(reading) => match line.inverse(reading, 1, command.confidence) {
            Ok(inverse) => Some(inverse),
            Err(refusal) => {
                notes.push(Note::refusal("no-inverse", refusal.to_string(), refusal.next_step()));
                None
            }
        },
    };
    let slope = line.slope_interval(command.confidence).ok();
    let mut rows = vec![
        (
            "slope",
            format!(
                "{}{}",
                digits(line.slope, 6),
                slope.as_ref().map_or_else(String::new, |slope| format!(
                    " ({} to {})",
                    digits(slope.lower, 5),
                    digits(slope.upper, 5)
                ))
            ),
        ),
        ("intercept", digits(line.intercept, 6)),
        ("residual standard deviation", digits(line.residual_sd, 5)),
        ("challenges", line.n.to_string()),
        ("critical value of flow", digits_or_dash(limit.as_ref().map(|l| l.critical_value), 4)),
        (
            "minimum detectable flow",
            digits_or_dash(limit.as_ref().map(|l| l.minimum_detectable_value), 4),
        ),
        ("method", line.method.to_owned()),
    ];
    if let Some(reading) = command.invert {
        rows.push((
            "flow for the reading",
            inverse.as_ref().map_or_else(
                || format!("not defined for {reading}"),
                |inverse| {
                    format!(
                        "{} ({} to {})",
                        digits(inverse.x, 5),
                        digits(inverse.lower, 5),
                        digits(inverse.upper, 5)
                    )
                },
            ),
        ));
    }
    let json = json!({
        "slope": number(line.slope),
        "intercept": number(line.intercept),
        "residual_sd": number(line.residual_sd),
        "n": line.n,
        "critical_value": optional(limit.as_ref().map(|l| l.critical_value)),
        "detection_limit": optional(limit.as_ref().map(|l| l.minimum_detectable_value)),
        "inverse": command.invert.map_or(Value::Null, |reading| json!({
            "reading": number(reading),
            "estimate": optional(inverse.as_ref().map(|i| i.x)),
            "lower": optional(inverse.as_ref().map(|i| i.lower)),
            "upper": optional(inverse.as_ref().map(|i| i.upper)),
        })),
        "confidence": number(command.confidence),
        "method": line.method,
    });
    Ok(Answer::new(pairs(&rows), json, notes))
}
