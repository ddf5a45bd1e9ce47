//! `isobar assess proportion`: what so many hits of so many prove.

use clap::Args;
use serde_json::{Value, json};
use statistics::proportions::{ProportionBounds, clopper_pearson};
use study::Note;

use crate::answer::{Answer, from_statistics, number};
use crate::fault::Fault;
use crate::table_text::{pairs, table};

/// Exact bounds of a proportion.
#[derive(Args)]
#[command(after_help = "Examples:
  isobar assess proportion --hits 45 --of 45
  isobar assess proportion --hits 45 --of 45 --readings-per-unit 3")]
pub struct Proportion {
    /// How many were found.
    #[arg(long)]
    hits: u64,
    /// How many were tested.
    #[arg(long)]
    of: u64,
    /// Readings taken on the same unit: they are not independent.
    #[arg(long)]
    readings_per_unit: Option<u64>,
    /// Confidence of each bound.
    #[arg(long, default_value_t = 0.95)]
    confidence: f64,
}

/// Readings per unit that are shown where the number is not known.
const EXAMPLES: [u64; 3] = [2, 3, 5];

/// Runs the command.
pub fn run(command: &Proportion) -> Result<Answer, Fault> {
    let (hits, of) = match command.readings_per_unit {
        None => (command.hits, command.of),
        Some(per_unit) => units(command.hits, command.of, per_unit)?,
    };
    let bounds = clopper_pearson(hits, of, command.confidence)?;
    let mut notes = from_statistics(bounds.notes.clone());
    let mut alternatives: Vec<(u64, ProportionBounds)> = Vec::new();
    if command.readings_per_unit.is_none() && hits == of {
        for per_unit in EXAMPLES {
            if of.is_multiple_of(per_unit) && of > per_unit {
                let n = of / per_unit;
                alternatives.push((per_unit, clopper_pearson(n, n, command.confidence)?));
            }
        }
        notes.push(Note::caution(
            "units-unknown",
            "the bound holds only if every reading comes from a unit of its own; readings on the \
             same unit repeat one leak",
            "give --readings-per-unit, or count units instead of readings",
        ));
    }
    let percent = |fraction: f64| format!("{:.1} %", fraction * 100.0);
    let mut text = pairs(&[
        ("found", format!("{hits} of {of}")),
        ("one-sided lower bound", percent(bounds.one_sided_lower)),
        ("two-sided interval", format!("{} to {}", percent(bounds.lower), percent(bounds.upper))),
        ("confidence", format!("{}", bounds.confidence)),
        ("method", bounds.method.to_owned()),
    ]);
    if !alternatives.is_empty() {
        let rows: Vec<Vec<String>> = alternatives
            .iter()
            .map(|(per_unit, bounds)| {
                vec![
                    per_unit.to_string(),
                    format!("{} of {}", bounds.hits, bounds.of),
                    percent(bounds.one_sided_lower),
                ]
            })
            .collect();
        text.push_str("\nif the readings were taken on fewer units:\n");
        text.push_str(&table(&["readings per unit", "units", "lower bound"], &rows));
    }
    let json = json!({
        "hits": hits,
        "of": of,
        "lower": number(bounds.lower),
        "upper": number(bounds.upper),
        "one_sided_lower": number(bounds.one_sided_lower),
        "one_sided_upper": number(bounds.one_sided_upper),
        "confidence": number(bounds.confidence),
        "method": bounds.method,
        "if_readings_per_unit": alternatives.iter().map(|(per_unit, bounds)| json!({
            "readings_per_unit": per_unit,
            "units": bounds.of,
            "one_sided_lower": number(bounds.one_sided_lower),
        })).collect::<Value>(),
    });
    Ok(Answer::new(text, json, notes))
}

/// Units behind readings, where every reading of a unit agrees.
fn units(hits: u64, of: u64, per_unit: u64) -> Result<(u64, u64), Fault> {
    let whole = per_unit > 0 && hits.is_multiple_of(per_unit) && of.is_multiple_of(per_unit);
    if !whole {
        return Err(Fault::users(
            format!("{hits} of {of} readings are not whole units of {per_unit} readings"),
            "count units instead: --hits and --of in units, without --readings-per-unit",
        ));
    }
    Ok((hits / per_unit, of / per_unit))
}
