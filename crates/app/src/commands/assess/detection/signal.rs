//! Probability of detection from readings against a threshold.

use intake::result_table::Table;
use serde_json::{Value, json};
use statistics::Assumption;
use statistics::assumptions::shapiro_wilk::shapiro_wilk;
use statistics::detection::signal_response::{CensoredLine, Signal, censored_line};
use statistics::regression::lack_of_fit;
use study::Note;

use super::{Detection, Scale, signal_figure};
use crate::answer::{Answer, from_statistics, number, optional};
use crate::commands::assess::statement::Statement;
use crate::commands::assess::told::told;
use crate::commands::assess::{checks, tables};
use crate::fault::Fault;
use crate::table_text::{digits, digits_or_dash, pairs};

/// Readings on the axes of the fit.
pub struct Readings {
    /// Size, or its logarithm.
    pub x: Vec<f64>,
    /// What is known of the reading.
    pub signals: Vec<Signal>,
    /// The threshold on the same scale.
    pub threshold: f64,
}

/// The line with the sizes that it gives.
pub struct Found {
    /// Readings on the axes of the fit.
    pub readings: Readings,
    /// The line.
    pub fit: CensoredLine,
    /// Sizes found with probability 0.5 and 0.9, and the bound of the latter.
    pub a50: Option<f64>,
    /// Size found with probability 0.9.
    pub a90: Option<f64>,
    /// Its upper bound.
    pub a90_95: Option<f64>,
}

/// Runs on readings.
pub fn run(command: &Detection, table: &Table, reading: &str) -> Result<Answer, Fault> {
    let readings = readings(command, table, reading)?;
    let columns: Vec<Vec<f64>> = readings.x.iter().map(|x| vec![1.0, *x]).collect();
    let units = match &command.unit {
        None => None,
        Some(column) => {
            let names = tables::words(&command.table, table, column)?;
            let mut known: Vec<&str> = Vec::new();
            let mut places = Vec::with_capacity(names.len());
            for name in names {
                let place = known.iter().position(|other| *other == name).unwrap_or(known.len());
                if place == known.len() {
                    known.push(name);
                }
                places.push(place);
            }
            Some(places)
        }
    };
    let fit = censored_line(&columns, &readings.signals, units.as_deref())?;
    let mut notes = from_statistics(fit.notes.clone());
    let size = |place: f64| {
        let size = if command.scale == Scale::Log { ::digits::scalar::exp(place) } else { place };
        size.is_finite().then_some(size)
    };
    let place =
        |probability: f64| fit.place_detected(readings.threshold, probability, command.confidence);
    let (a50, a90, a90_95) = match (place(0.5), place(0.9)) {
        (Ok(half), Ok(most)) => (size(half.0), size(most.0), size(most.1)),
        (Err(refusal), _) | (_, Err(refusal)) => {
            notes.push(Note::refusal("no-a90", refusal.to_string(), refusal.next_step()));
            (None, None, None)
        }
    };
    note_extrapolation(command, &readings, a90_95, &mut notes);
    if command.unit.is_none() {
        notes.push(Note::caution(
            "units-unknown",
            "every row was taken as a unit of its own; readings on the same unit repeat one leak",
            "add --unit with the column that names the unit",
        ));
    }
    let found = Found { readings, fit, a50, a90, a90_95 };
    let statement = Statement {
        told: vec![told("line of the readings", &found.fit)],
        text: text(command, &found),
        json: json(command, &found),
        assumptions: assumptions(&found),
        wording: wording(command, &found),
        notes,
    };
    statement.finish(&command.figure, || signal_figure::panels(command, &found))
}

fn readings(command: &Detection, table: &Table, column: &str) -> Result<Readings, Fault> {
    let path = &command.table;
    let sizes = tables::numbers(path, table, &command.size)?;
    let cells =
        table.optional_numbers(column).map_err(|refusal| tables::refused(path, &refusal))?;
    let hits = match &command.hit {
        None => None,
        Some(hit) => Some(table.hits(hit).map_err(|refusal| tables::refused(path, &refusal))?),
    };
    let blank = command.blank.unwrap_or(0.0);
    let log = command.reading_scale == Scale::Log;
    let at = |row: usize, what: String, hint: &str| {
        Fault::users(
            format!("`{}`, line {}, {what}", path.display(), table.lines[row]),
            hint.to_owned(),
        )
    };
    let scaled = |row: Option<usize>, value: f64| -> Result<f64, Fault> {
        let net = value - blank;
        if !log {
            return Ok(net);
        }
        if net > 0.0 {
            return Ok(::digits::scalar::ln(net));
        }
        let hint = "use --reading-scale linear, a smaller --blank, or a --floor above the blank";
        Err(match row {
            Some(row) => {
                at(row, format!("column `{column}`: {value} less the blank has no logarithm"), hint)
            }
            None => Fault::users(format!("{value} less the blank has no logarithm"), hint),
        })
    };
    let threshold = scaled(None, command.threshold.unwrap_or(f64::NAN))?;
    let mut x = Vec::new();
    let mut signals = Vec::new();
    for (row, (&size, cell)) in sizes.iter().zip(&cells).enumerate() {
        if command.scale == Scale::Log && size <= 0.0 {
            continue;
        }
        x.push(if command.scale == Scale::Log { ::digits::scalar::ln(size) } else { size });
        signals.push(match (cell, &hits) {
            (Some(value), _) => match (command.floor, command.ceiling) {
                (Some(floor), _) if *value <= floor => Signal::Below(scaled(Some(row), floor)?),
                (_, Some(most)) if *value >= most => Signal::Above(scaled(Some(row), most)?),
                _ => Signal::Read(scaled(Some(row), *value)?),
            },
            (None, Some(hits)) if hits[row] => Signal::Above(threshold),
            (None, Some(_)) => Signal::Below(threshold),
            (None, None) => {
                return Err(at(
                    row,
                    format!("column `{column}`: the cell is empty"),
                    "add --hit with the column of outcomes, or complete the reading",
                ));
            }
        });
    }
    Ok(Readings { x, signals, threshold })
}

fn note_extrapolation(
    command: &Detection,
    readings: &Readings,
    bound: Option<f64>,
    notes: &mut Vec<Note>,
) {
    let (low, high) = (
        readings.x.iter().copied().fold(f64::INFINITY, f64::min),
        readings.x.iter().copied().fold(f64::NEG_INFINITY, f64::max),
    );
    let log = command.scale == Scale::Log;
    let place = bound.map(|bound| if log { ::digits::scalar::ln(bound) } else { bound });
    if place.is_some_and(|place| place > high || place < low) {
        notes.push(Note::caution(
            "bound-extrapolated",
            "a90/95 lies outside the sizes tested: the line is trusted beyond its data",
            "test sizes on both sides of it",
        ));
    }
}

fn assumptions(found: &Found) -> Vec<Assumption> {
    let (mut x, mut y) = (Vec::new(), Vec::new());
    for (at, signal) in found.readings.x.iter().zip(&found.readings.signals) {
        if let Signal::Read(value) = signal {
            x.push(*at);
            y.push(*value);
        }
    }
    let rest: Vec<f64> = x
        .iter()
        .zip(&y)
        .map(|(x, y)| y - found.fit.coefficients[0] - found.fit.coefficients[1] * x)
        .collect();
    vec![
        checks::one(
            "normal scatter of readings",
            "Shapiro-Wilk of residuals",
            0.05,
            shapiro_wilk(&rest).map(|s| (s.p_value, format!("W = {:.4}", s.w))),
        ),
        checks::one(
            "straight line on these scales",
            "lack of fit against repeats, read signals",
            0.05,
            lack_of_fit(&x, &y, 1).map(|l| (l.p_value, format!("F = {:.3}", l.f))),
        ),
    ]
}

fn text(command: &Detection, found: &Found) -> String {
    let fit = &found.fit;
    let (read, below, above) = fit.read_below_above;
    pairs(&[
        ("route", "readings against a threshold".to_owned()),
        ("a50", digits_or_dash(found.a50, 4)),
        ("a90", digits_or_dash(found.a90, 4)),
        ("a90/95", digits_or_dash(found.a90_95, 4)),
        ("intercept", digits(fit.coefficients[0], 6)),
        ("slope", digits(fit.coefficients[1], 6)),
        ("scatter about the line", digits(fit.standard_deviation, 5)),
        ("readings: read, below, above", format!("{read}, {below}, {above}")),
        ("units: the number that counts", fit.units.to_string()),
        ("threshold", format!("{}", command.threshold.unwrap_or(f64::NAN))),
        ("method", fit.method.to_owned()),
    ])
}

fn json(command: &Detection, found: &Found) -> Value {
    let fit = &found.fit;
    let (read, below, above) = fit.read_below_above;
    json!({
        "route": "readings",
        "log_size": command.scale == Scale::Log,
        "log_reading": command.reading_scale == Scale::Log,
        "threshold": optional(command.threshold),
        "intercept": number(fit.coefficients[0]),
        "slope": number(fit.coefficients[1]),
        "standard_deviation": number(fit.standard_deviation),
        "a50": optional(found.a50),
        "a90": optional(found.a90),
        "a90_95": optional(found.a90_95),
        "read": read,
        "below": below,
        "above": above,
        "n": fit.units,
        "confidence": number(command.confidence),
        "method": fit.method,
    })
}

fn wording(command: &Detection, found: &Found) -> String {
    let (read, below, above) = found.fit.read_below_above;
    let start = format!(
        "Readings of {} units ({read} read, {below} below the floor, {above} above the ceiling) \
         were set against their size",
        found.fit.units
    );
    match (found.a90, found.a90_95) {
        (Some(a90), Some(bound)) => format!(
            "{start}; at a threshold of {} units of size {} exceed it nine times in ten, and with \
             {} % confidence those of size {} do.",
            command.threshold.unwrap_or(f64::NAN),
            digits(a90, 3),
            command.confidence * 100.0,
            digits(bound, 3)
        ),
        _ => format!("{start}; no size that is found nine times in ten can be stated."),
    }
}
