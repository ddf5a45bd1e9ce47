//! Probability of detection from readings against a threshold.

use std::collections::BTreeMap;
use std::path::Path;

use intake::result_table::Table;
use serde_json::{Value, json};
use statistics::Assumption;
use statistics::detection::signal_response::{
    CensoredLine, LikelihoodRatio, Signal, SignalResponse, Spread, censored_line, kinds_agree,
    signal_response,
};
use statistics::regression::lack_of_fit;
use study::Note;

use super::tested::Tested;
use super::{Detection, Scale, signal_figure};
use crate::answer::{Answer, from_statistics, number, optional};
use crate::commands::assess::statement::Statement;
use crate::commands::assess::told::told;
use crate::commands::assess::{checks, repeats, tables};
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
    /// Which units were only judged: a hit or a miss, no reading.
    pub judged: Vec<bool>,
}

impl Readings {
    fn judged_units(&self) -> usize {
        self.judged.iter().filter(|judged| **judged).count()
    }
}

/// The line with the sizes that it gives.
pub struct Found {
    /// Readings on the axes of the fit.
    pub readings: Readings,
    /// Unit of each reading, where units were named.
    pub units: Option<Vec<usize>>,
    /// The line.
    pub fit: SignalResponse,
    /// Size found with probability 0.5.
    pub a50: Option<f64>,
    /// Size found with probability 0.9.
    pub a90: Option<f64>,
    /// Its upper bound.
    pub a90_95: Option<f64>,
    /// How that bound was found; nothing where no size can be said.
    pub bound_method: &'static str,
    /// The same by the delta method, optimistic with few units.
    pub a90_95_wald: Option<f64>,
    /// Where some units were only judged: whether they tell the same curve.
    pub kinds: Option<Kinds>,
}

/// Whether units read and units judged tell one curve.
pub struct Kinds {
    test: Option<LikelihoodRatio>,
    outcome: Assumption,
}

fn kinds_of(readings: &Readings, units: Option<&[usize]>, spread: Spread) -> Kinds {
    let name = "units read and units judged tell the same curve";
    let test = "likelihood ratio against a curve for each";
    if spread != Spread::Constant {
        let reason = "the check supposes one scatter at every size";
        return Kinds { test: None, outcome: Assumption::unchecked(name, test, reason) };
    }
    match kinds_agree(&readings.x, &readings.signals, units, &readings.judged) {
        Ok(found) => {
            let LikelihoodRatio { ratio, p_value } = found.test;
            let finding = format!("Ratio {ratio:.3}, p = {p_value:.4}.");
            let outcome = Assumption::tested(name, test, p_value, 0.05, finding);
            Kinds { test: Some(found.test), outcome }
        }
        Err(refusal) => Kinds { test: None, outcome: Assumption::refused(name, test, &refusal) },
    }
}

/// Whether a size has a place on the axis: a blank (size zero) has no logarithm.
fn on_scale(command: &Detection, size: f64) -> bool {
    command.scale != Scale::Log || size > 0.0
}

/// Runs on readings.
pub fn run(command: &Detection, table: &Table, reading: &str) -> Result<Answer, Fault> {
    let readings = readings(command, table, reading)?;
    let sizes = tables::numbers(&command.table, table, &command.size)?;
    let left_out = sizes.len() - readings.x.len();
    let units = match &command.unit {
        None => None,
        Some(column) => {
            let names = tables::words(&command.table, table, column)?;
            let mut known: Vec<&str> = Vec::new();
            let mut places = Vec::with_capacity(names.len());
            for (row, name) in names.into_iter().enumerate() {
                if !on_scale(command, sizes[row]) {
                    continue;
                }
                let place = known.iter().position(|other| *other == name).unwrap_or(known.len());
                if place == known.len() {
                    known.push(name);
                }
                places.push(place);
            }
            Some(places)
        }
    };
    let spread = command.spread.spread();
    let fit = signal_response(&readings.x, &readings.signals, units.as_deref(), spread)?;
    let mut notes = from_statistics(fit.notes.clone());
    let size = |place: f64| {
        let size = if command.scale == Scale::Log { ::digits::scalar::exp(place) } else { place };
        size.is_finite().then_some(size)
    };
    let place =
        |probability: f64| fit.place_detected(readings.threshold, probability, command.confidence);
    let (a50, a90, a90_95, bound_method) = match (place(0.5), place(0.9)) {
        (Ok(half), Ok(most)) => {
            if most.upper.is_none() {
                notes.push(Note::caution(
                    "no-upper-bound",
                    "the readings put no upper bound on the size found nine times in ten",
                    "add units at the larger sizes",
                ));
            }
            (size(half.estimate), size(most.estimate), most.upper.and_then(size), most.method)
        }
        (Err(refusal), _) | (_, Err(refusal)) => {
            notes.push(Note::refusal("no-a90", refusal.to_string(), refusal.next_step()));
            (None, None, None, "none: no size can be said")
        }
    };
    let a90_95_wald = wald(command, &readings, units.as_deref()).and_then(size);
    note_extrapolation(command, &readings, a90_95, &mut notes);
    if left_out > 0 {
        notes.push(Note::caution(
            "blanks-left-out",
            format!("{left_out} rows of size zero or less have no logarithm and were left out"),
            "give the mean of the blanks with --blank, or use --scale linear",
        ));
    }
    if command.unit.is_none() {
        let used: Vec<&str> = [Some(command.size.as_str()), Some(reading), command.hit.as_deref()]
            .into_iter()
            .flatten()
            .collect();
        let next = |unit: &str| format!("add --unit {unit}, so that units count and not readings");
        repeats::note_repeats(table, &used, next, &mut notes)?;
    }
    if fit.spread_test.is_some_and(|test| test.p_value < 0.05) && fit.spread == Spread::Constant {
        notes.push(Note::caution(
            "unequal-spread",
            "the scatter of readings changes with size, and one scatter was fitted for all",
            "add --spread size, or --spread power with --reading-scale linear",
        ));
    }
    if command.unit.is_none() {
        notes.push(Note::caution(
            "units-unknown",
            "every row was taken as a unit of its own; readings on the same unit repeat one leak",
            "add --unit with the column that names the unit",
        ));
    }
    let kinds =
        (readings.judged_units() > 0).then(|| kinds_of(&readings, units.as_deref(), fit.spread));
    if let Some(Kinds { test: Some(test), .. }) = &kinds
        && test.p_value < 0.05
    {
        notes.push(Note::caution(
            "kinds-disagree",
            format!(
                "units only judged follow another curve than those read (likelihood ratio {}, p = \
                 {:.4}), so one curve for both is not warranted",
                digits(test.ratio, 4),
                test.p_value
            ),
            "look for another threshold or operator behind the judgements, or give two curves",
        ));
    }
    let found = Found { readings, units, fit, a50, a90, a90_95, bound_method, a90_95_wald, kinds };
    let statement = Statement {
        told: vec![told(told_as(&found), &found.fit)],
        text: text(command, &found),
        json: json(command, &found),
        assumptions: assumptions(&found),
        wording: wording(command, &found),
        notes,
    };
    statement.finish(&command.figure, || signal_figure::panels(command, &found))
}

/// Name of the result.
fn told_as(found: &Found) -> &'static str {
    if found.kinds.is_some() { "line of readings and judgements" } else { "line of the readings" }
}

/// Bound of a90 by the delta method, where the plain line gives one.
fn wald(command: &Detection, readings: &Readings, units: Option<&[usize]>) -> Option<f64> {
    let columns: Vec<Vec<f64>> = readings.x.iter().map(|x| vec![1.0, *x]).collect();
    let line: CensoredLine = censored_line(&columns, &readings.signals, units).ok()?;
    Some(line.place_detected(readings.threshold, 0.9, command.confidence).ok()?.1)
}

fn readings(command: &Detection, table: &Table, column: &str) -> Result<Readings, Fault> {
    let path = &command.table;
    let sizes = tables::numbers(path, table, &command.size)?;
    let cells = tables::optional_numbers(path, table, column)?;
    let hits = match &command.hit {
        None => None,
        Some(hit) => Some(judgements(path, table, hit, &cells)?),
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
    let mut judged = Vec::new();
    for (row, (&size, cell)) in sizes.iter().zip(&cells).enumerate() {
        if !on_scale(command, size) {
            continue;
        }
        x.push(if command.scale == Scale::Log { ::digits::scalar::ln(size) } else { size });
        judged.push(cell.is_none());
        signals.push(match (cell, &hits) {
            (Some(value), _) => match (command.floor, command.ceiling) {
                (Some(floor), _) if *value <= floor => Signal::Below(scaled(Some(row), floor)?),
                (_, Some(most)) if *value >= most => Signal::Above(scaled(Some(row), most)?),
                _ => Signal::Read(scaled(Some(row), *value)?),
            },
            (None, Some(hits)) if hits[row] == Some(true) => Signal::Above(threshold),
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
    Ok(Readings { x, signals, threshold, judged })
}

/// Outcomes of the rows without a reading; those of the others say less than
/// the reading and may be left empty.
fn judgements(
    path: &Path,
    table: &Table,
    column: &str,
    readings: &[Option<f64>],
) -> Result<Vec<Option<bool>>, Fault> {
    let without: Vec<usize> = (0..readings.len()).filter(|row| readings[*row].is_none()).collect();
    let judged = Table {
        rows: without.iter().map(|row| table.rows[*row].clone()).collect(),
        lines: without.iter().map(|row| table.lines[*row]).collect(),
        ..table.clone()
    };
    let hits = judged.hits(column).map_err(|refusal| tables::refused(path, &refusal))?;
    let mut list = vec![None; readings.len()];
    for (row, hit) in without.into_iter().zip(hits) {
        list[row] = Some(hit);
    }
    Ok(list)
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
    // Means of units: repeats on one unit are no repeats of its size.
    let mut means: BTreeMap<usize, (f64, f64, f64)> = BTreeMap::new();
    for (row, (at, signal)) in found.readings.x.iter().zip(&found.readings.signals).enumerate() {
        if let Signal::Read(value) = signal {
            let unit = found.units.as_ref().map_or(row, |units| units[row]);
            let sum = means.entry(unit).or_insert((0.0, 0.0, 0.0));
            *sum = (sum.0 + at, sum.1 + value, sum.2 + 1.0);
        }
    }
    let (x, y): (Vec<f64>, Vec<f64>) =
        means.values().map(|(x, y, count)| (x / count, y / count)).unzip();
    let mut list = vec![checks::one(
        "straight line on these scales",
        "lack of fit against units of one size, read signals",
        0.05,
        lack_of_fit(&x, &y, 1).map(|l| (l.p_value, format!("F = {:.3}", l.f))),
    )];
    list.extend(found.kinds.as_ref().map(|kinds| kinds.outcome.clone()));
    list
}

fn text(command: &Detection, found: &Found) -> String {
    let fit = &found.fit;
    let (read, below, above) = fit.read_below_above;
    let mut rows = vec![
        ("route", route(found).to_owned()),
        ("a50", digits_or_dash(found.a50, 4)),
        ("a90", digits_or_dash(found.a90, 4)),
        ("a90/95", digits_or_dash(found.a90_95, 4)),
        ("a90/95 by Wald, for comparison", digits_or_dash(found.a90_95_wald, 4)),
        ("intercept", digits(fit.intercept, 6)),
        ("slope", digits(fit.slope, 6)),
        ("scatter of one reading of a new unit", digits(fit.total, 5)),
    ];
    if let (Some(between), Some(within)) = (fit.between_units, fit.within_units) {
        rows.push((
            "between units, within units",
            format!("{}, {}", digits(between, 4), digits(within, 4)),
        ));
    }
    if fit.spread != Spread::Constant {
        rows.push((
            "scatter with size",
            format!("{}, exponent {}", fit.spread.word(), digits(fit.spread_exponent, 4)),
        ));
    }
    rows.extend([
        ("readings: read, below, above", format!("{read}, {below}, {above}")),
        ("units only judged, hit or miss", found.readings.judged_units().to_string()),
        ("units: the number that counts", fit.units.to_string()),
        ("threshold", format!("{}", command.threshold.unwrap_or(f64::NAN))),
        ("method", fit.method.clone()),
        ("method of the bound", found.bound_method.to_owned()),
    ]);
    pairs(&rows)
}

/// Which kinds of results stand behind the curve.
fn route(found: &Found) -> &'static str {
    match found.kinds {
        Some(_) => "readings against a threshold, joined with hits and misses",
        None => "readings against a threshold",
    }
}

fn ratio(test: Option<LikelihoodRatio>) -> Value {
    test.map_or(
        Value::Null,
        |test| json!({ "ratio": number(test.ratio), "p_value": number(test.p_value) }),
    )
}

fn json(command: &Detection, found: &Found) -> Value {
    let fit = &found.fit;
    let (read, below, above) = fit.read_below_above;
    json!({
        "route": if found.kinds.is_some() { "readings and hit/miss" } else { "readings" },
        "log_size": command.scale == Scale::Log,
        "log_reading": command.reading_scale == Scale::Log,
        "threshold": optional(command.threshold),
        "intercept": number(fit.intercept),
        "slope": number(fit.slope),
        "standard_deviation": number(fit.total),
        "a50": optional(found.a50),
        "a90": optional(found.a90),
        "a90_95": optional(found.a90_95),
        "a90_95_method": found.bound_method,
        "a90_95_wald": optional(found.a90_95_wald),
        "between_unit_sd": optional(fit.between_units),
        "within_unit_sd": optional(fit.within_units),
        "unit_test": ratio(fit.unit_test),
        "spread": fit.spread.word(),
        "spread_exponent": number(fit.spread_exponent),
        "spread_reference": number(fit.reference),
        "spread_test": ratio(fit.spread_test),
        "repeated_units": fit.repeated_units,
        "judged": found.readings.judged_units(),
        "kinds_agree": ratio(found.kinds.as_ref().and_then(|kinds| kinds.test)),
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
    let judged = found.readings.judged_units();
    let start = match judged {
        0 => format!(
            "Readings of {} units ({read} read, {below} below the floor, {above} above the \
             ceiling) were set against their size",
            found.fit.units
        ),
        _ => format!(
            "Readings and judgements of {} units ({read} read, {judged} only judged as hit or \
             miss, which enter as readings above or below the threshold) were set against their \
             size in one curve",
            found.fit.units
        ),
    };
    let log = command.scale == Scale::Log;
    let size = |place: &f64| if log { ::digits::scalar::exp(*place) } else { *place };
    let tested = Tested::of(found.readings.x.iter().map(size));
    match (found.a90, found.a90_95) {
        (Some(a90), Some(bound)) => format!(
            "{start}; by the line new units of size {} exceed a threshold of {} nine times in \
             ten, and {} ({}; bound by {}).",
            tested.estimate(a90),
            command.threshold.unwrap_or(f64::NAN),
            tested.bound(bound, command.confidence * 100.0, "exceed it nine times in ten"),
            found.fit.method,
            found.bound_method
        ),
        _ => format!("{start}; no size that is found nine times in ten can be stated."),
    }
}
