//! What so many hits of so many prove.

use std::path::Path;

use report::figure::{Axis, Dash, Figure, Ink, Marker};
use serde_json::{Value, json};
use statistics::proportions::replicates::{EffectiveNumber, effective_number};
use statistics::proportions::{ProportionBounds, bounds, clopper_pearson};
use study::Note;

use super::{Proportion, percent};
use crate::answer::{Answer, from_statistics, number, optional};
use crate::commands::assess::drawing::{intervals, level};
use crate::commands::assess::statement::Statement;
use crate::commands::assess::tables;
use crate::commands::assess::told::told;
use crate::fault::Fault;
use crate::table_text::{digits, pairs, table};

/// Readings per unit that are shown where the number is not known.
const EXAMPLES: [u64; 3] = [2, 3, 5];

/// Bounds from two counts.
pub fn from_counts(command: &Proportion, hits: u64, of: u64) -> Result<Answer, Fault> {
    let (hits, of) = match command.readings_per_unit {
        None => (hits, of),
        Some(per_unit) => units(hits, of, per_unit)?,
    };
    let mut alternatives = Vec::new();
    let mut notes = Vec::new();
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
    answer(command, (hits, of), &alternatives, None, notes)
}

/// Bounds from a table of readings with their unit.
pub fn from_table(command: &Proportion, path: &Path) -> Result<Answer, Fault> {
    let table = command.rows.of(path)?;
    let (Some(unit), Some(hit)) = (&command.unit, &command.hit) else {
        return Err(Fault::users("the columns were not named", "add --unit and --hit"));
    };
    let names = tables::words(path, &table, unit)?;
    let hits = table.hits(hit).map_err(|refusal| tables::refused(path, &refusal))?;
    let by_unit: Vec<(u64, u64)> = tables::grouped(&names, &hits)
        .iter()
        .map(|(_, hits)| (hits.iter().filter(|hit| **hit).count() as u64, hits.len() as u64))
        .collect();
    let effective = effective_number(&by_unit, command.confidence)?;
    let counts = (effective.by_unit.hits, effective.by_unit.of);
    let notes = from_statistics(effective.notes.clone());
    answer(command, counts, &[], Some(&effective), notes)
}

fn answer(
    command: &Proportion,
    (hits, of): (u64, u64),
    alternatives: &[(u64, ProportionBounds)],
    effective: Option<&EffectiveNumber>,
    mut notes: Vec<Note>,
) -> Result<Answer, Fault> {
    let exact = clopper_pearson(hits, of, command.confidence)?;
    let others = [
        bounds::wilson(hits, of, command.confidence)?,
        bounds::jeffreys(hits, of, command.confidence)?,
    ];
    notes.extend(from_statistics(exact.notes.clone()));
    let mut rows = vec![
        ("found", format!("{hits} of {of}")),
        ("one-sided lower bound", percent(exact.one_sided_lower)),
        ("two-sided interval", format!("{} to {}", percent(exact.lower), percent(exact.upper))),
        ("confidence", format!("{}", exact.confidence)),
        ("method", exact.method.to_owned()),
    ];
    if let Some(effective) = effective {
        rows.push(("readings", effective.readings.to_string()));
        rows.push(("units: the number that counts", effective.units.to_string()));
        rows.push(("readings are worth, as trials", digits(effective.effective, 4)));
    }
    let mut text = pairs(&rows);
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
    let methods: Vec<Vec<String>> = std::iter::once(&exact)
        .chain(&others)
        .map(|b| {
            vec![
                b.method.to_owned(),
                percent(b.lower),
                percent(b.upper),
                percent(b.one_sided_lower),
            ]
        })
        .collect();
    text.push_str("\nother intervals, shorter and without guarantee:\n");
    text.push_str(&table(&["method", "lower", "upper", "one-sided lower"], &methods));
    let json = json!({
        "hits": hits,
        "of": of,
        "n": of,
        "lower": number(exact.lower),
        "upper": number(exact.upper),
        "one_sided_lower": number(exact.one_sided_lower),
        "one_sided_upper": number(exact.one_sided_upper),
        "confidence": number(exact.confidence),
        "method": exact.method,
        "others": others.iter().map(|b| json!({
            "method": b.method,
            "lower": number(b.lower),
            "upper": number(b.upper),
            "one_sided_lower": number(b.one_sided_lower),
        })).collect::<Value>(),
        "if_readings_per_unit": alternatives.iter().map(|(per_unit, bounds)| json!({
            "readings_per_unit": per_unit,
            "units": bounds.of,
            "one_sided_lower": number(bounds.one_sided_lower),
        })).collect::<Value>(),
        "effective": effective.map_or(Value::Null, |e| json!({
            "readings": e.readings,
            "units": e.units,
            "correlation": optional(e.correlation),
            "effective": number(e.effective),
        })),
    });
    let wording = format!(
        "{hits} of {of} units were found; with {} % confidence the probability of finding such a \
         unit is at least {} (Clopper-Pearson, exact). The statement holds for units like those \
         tested and for no other size.",
        exact.confidence * 100.0,
        percent(exact.one_sided_lower)
    );
    let statement = Statement {
        told: std::iter::once(told("exact bounds", &exact))
            .chain(effective.map(|effective| told("effective number", effective)))
            .collect(),
        text,
        json,
        assumptions: Vec::new(),
        wording,
        notes,
    };
    statement.finish(&command.figure, || vec![figure(&exact, &others, alternatives)])
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

fn figure(
    exact: &ProportionBounds,
    others: &[ProportionBounds],
    alternatives: &[(u64, ProportionBounds)],
) -> Figure {
    let mut names = vec![format!("exact, {} of {}", exact.hits, exact.of)];
    let mut all = vec![exact];
    for other in others {
        let name = other.method.split([',', ' ']).next().unwrap_or("");
        names.push(name.to_owned());
        all.push(other);
    }
    for (per_unit, bounds) in alternatives {
        names.push(format!("{} units × {per_unit}", bounds.of));
        all.push(bounds);
    }
    let x: Vec<f64> = (0..all.len()).map(|i| i as f64 + 0.5).collect();
    let share: Vec<f64> =
        all.iter().map(|bounds| bounds.hits as f64 / bounds.of.max(1) as f64).collect();
    let two: Vec<(f64, f64)> = all.iter().map(|bounds| (bounds.lower, bounds.upper)).collect();
    let one: Vec<f64> = all.iter().map(|bounds| bounds.one_sided_lower).collect();
    let low = two.iter().map(|ends| ends.0).fold(1.0, f64::min);
    Figure::new(
        "proportion",
        format!("{} of {} found: what that proves", exact.hits, exact.of),
        Axis::named("", names),
        Axis::linear("share found", "", ((low - 0.05).max(0.0) * 10.0).floor() / 10.0, 1.0),
    )
    .with(level("", exact.one_sided_lower, Ink::Plum, Dash::Dotted))
    .with(intervals("two-sided interval", &x, &share, &two, Marker::Disc, Ink::Slate))
    .with(crate::commands::assess::drawing::points(
        "one-sided lower bound",
        &x,
        &one,
        Marker::Triangle,
        Ink::Plum,
    ))
    .described(
        format!(
            "Confidence {}. Only the exact interval is guaranteed. Bars at right show what the \
             same readings prove if several of them came from one unit.",
            report::number::percent(exact.confidence, 0)
        ),
        format!("Exact one-sided lower bound {}.", percent(exact.one_sided_lower)),
    )
}
