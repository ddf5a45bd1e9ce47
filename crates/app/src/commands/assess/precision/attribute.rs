//! Agreement of operators on verdicts, beyond chance.

use intake::result_table::Table;
use report::figure::{Axis, Figure, Ink, Marker};
use serde_json::{Value, json};
use statistics::variance_components::agreement::{Kappa, cohen, fleiss};
use study::Note;

use super::Precision;
use super::columns::{different, names};
use crate::answer::{Answer, number};
use crate::commands::assess::drawing::{intervals, level};
use crate::commands::assess::statement::Statement;
use crate::commands::assess::told::told;
use crate::fault::Fault;
use crate::table_text::{digits, pairs, table};

/// Verdicts of one part, operator by operator, repeats in order.
type Verdicts = Vec<Vec<Vec<usize>>>;

/// Runs on verdicts.
pub fn run(command: &Precision, table_read: &Table, verdict: &str) -> Result<Answer, Fault> {
    let parts = names(command, table_read, command.part.as_ref())?;
    let operators = names(command, table_read, command.operator.as_ref())?;
    let words = names(command, table_read, Some(&verdict.to_owned()))?;
    let (known_parts, known_operators, categories) =
        (different(&parts), different(&operators), different(&words));
    let mut verdicts: Verdicts = vec![vec![Vec::new(); known_operators.len()]; known_parts.len()];
    for ((part, operator), word) in parts.iter().zip(&operators).zip(&words) {
        let place = |known: &[String], name: &str| known.iter().position(|k| k == name);
        if let (Some(p), Some(o), Some(c)) =
            (place(&known_parts, part), place(&known_operators, operator), place(&categories, word))
        {
            verdicts[p][o].push(c);
        }
    }
    let all = together(&verdicts, categories.len(), command.confidence)?;
    let mut pairs_found = Vec::new();
    for first in 0..known_operators.len() {
        for second in first + 1..known_operators.len() {
            let result = pair(&verdicts, first, second, categories.len(), command.confidence)?;
            pairs_found.push((
                format!("{} and {}", known_operators[first], known_operators[second]),
                result,
            ));
        }
    }
    let mut rows = vec![("all operators", &all)];
    rows.extend(pairs_found.iter().map(|(name, kappa)| (name.as_str(), kappa)));
    let mut text = pairs(&[
        ("kappa of all operators", digits(all.kappa, 4)),
        ("interval", format!("{} to {}", digits(all.interval.0, 3), digits(all.interval.1, 3))),
        ("verdicts that agree", format!("{:.1} %", all.observed * 100.0)),
        ("by chance alone", format!("{:.1} %", all.expected * 100.0)),
        ("parts: the number that counts", all.items.to_string()),
        ("method", all.method.to_owned()),
    ]);
    text.push_str("\nby pair:\n");
    let lines: Vec<Vec<String>> = rows
        .iter()
        .map(|(name, kappa)| {
            vec![
                (*name).to_owned(),
                digits(kappa.kappa, 4),
                format!("{:.1} %", kappa.observed * 100.0),
            ]
        })
        .collect();
    text.push_str(&table(&["operators", "kappa", "agree"], &lines));
    let of = |name: &str, kappa: &Kappa| {
        json!({
            "operators": name,
            "kappa": number(kappa.kappa),
            "lower": number(kappa.interval.0),
            "upper": number(kappa.interval.1),
            "observed": number(kappa.observed),
            "expected": number(kappa.expected),
        })
    };
    let json = json!({
        "method": all.method,
        "kappa": number(all.kappa),
        "lower": number(all.interval.0),
        "upper": number(all.interval.1),
        "observed": number(all.observed),
        "expected": number(all.expected),
        "categories": categories,
        "pairs": pairs_found.iter().map(|(name, kappa)| of(name, kappa)).collect::<Value>(),
        "n": all.items,
        "confidence": number(command.confidence),
    });
    let wording = format!(
        "{} operators judged {} parts; they agreed on {:.1} % of pairs of verdicts, {:.1} % would \
         by chance (kappa {}, {} to {} at {} % confidence).",
        known_operators.len(),
        all.items,
        all.observed * 100.0,
        all.expected * 100.0,
        digits(all.kappa, 3),
        digits(all.interval.0, 3),
        digits(all.interval.1, 3),
        command.confidence * 100.0
    );
    let notes = vec![Note::caution(
        "agreement-is-not-truth",
        "operators may agree and be wrong together; the interval is a large-sample one",
        "compare the verdicts with verified leaks (isobar assess detection)",
    )];
    let statement = Statement {
        told: vec![told("kappa", &all)],
        text,
        json,
        assumptions: Vec::new(),
        wording,
        notes,
    };
    statement.finish(&command.figure, || vec![drawn(&rows)])
}

/// Fleiss's kappa over all verdicts of a part.
fn together(verdicts: &Verdicts, categories: usize, confidence: f64) -> Result<Kappa, Fault> {
    let ratings: Vec<Vec<u64>> = verdicts
        .iter()
        .map(|part| {
            let mut counts = vec![0; categories];
            for category in part.iter().flatten() {
                counts[*category] += 1;
            }
            counts
        })
        .collect();
    Ok(fleiss(&ratings, confidence)?)
}

/// Cohen's kappa of two operators, repeats matched in order.
fn pair(
    verdicts: &Verdicts,
    first: usize,
    second: usize,
    categories: usize,
    confidence: f64,
) -> Result<Kappa, Fault> {
    let mut counts = vec![vec![0; categories]; categories];
    for part in verdicts {
        for (a, b) in part[first].iter().zip(&part[second]) {
            counts[*a][*b] += 1;
        }
    }
    Ok(cohen(&counts, confidence)?)
}

fn drawn(rows: &[(&str, &Kappa)]) -> Figure {
    let names: Vec<String> = rows.iter().map(|(name, _)| (*name).to_owned()).collect();
    let x: Vec<f64> = (0..rows.len()).map(|i| i as f64 + 0.5).collect();
    let y: Vec<f64> = rows.iter().map(|(_, kappa)| kappa.kappa).collect();
    let ends: Vec<(f64, f64)> = rows.iter().map(|(_, kappa)| kappa.interval).collect();
    let low = ends.iter().map(|ends| ends.0).fold(0.0, f64::min);
    Figure::new(
        "agreement",
        "Agreement beyond chance",
        Axis::named("", names),
        Axis::linear("kappa", "", (low * 5.0).floor() / 5.0, 1.0),
    )
    .with(level("agreement by chance", 0.0, Ink::Grey, report::figure::Dash::Dotted))
    .with(intervals("", &x, &y, &ends, Marker::Disc, Ink::Slate))
    .described("1 is full agreement. Bars: large-sample intervals.", "Kappa by pair.")
}
