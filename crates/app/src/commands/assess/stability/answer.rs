//! Stability as text, JSON and words.

use serde_json::{Value, json};
use statistics::Assumption;
use statistics::Counted;
use study::Note;

use super::{Found, Stability, figure};
use crate::answer::{Answer, number, optional};
use crate::commands::assess::statement::Statement;
use crate::commands::assess::told::{Told, told};
use crate::fault::Fault;
use crate::table_text::{digits, pairs, plain, table};

/// Turns what was found into the answer.
pub fn answer(
    command: &Stability,
    found: &Found,
    assumptions: Vec<Assumption>,
    notes: Vec<Note>,
) -> Result<Answer, Fault> {
    let slope = &found.slope;
    let percent = format!("{} %", plain(command.confidence * 100.0, 3));
    let rows = pairs(&[
        ("slope", format!("{} per second", digits(slope.slope, 4))),
        (
            "its interval",
            format!(
                "{} to {} ({percent})",
                digits(found.slope_interval.0, 4),
                digits(found.slope_interval.1, 4)
            ),
        ),
        ("standard error", digits(slope.standard_error, 3)),
        ("the same if neighbours were independent", digits(slope.naive_standard_error, 3)),
        ("lag-1 autocorrelation", digits(slope.lag_one, 2)),
        ("readings", slope.n.to_string()),
        ("independent values that count", digits(slope.effective_n, 3)),
        ("noise of one reading, from differences", digits(found.noise, 3)),
        ("scatter about the line", digits(slope.residual_sd, 3)),
        ("method", slope.method.to_owned()),
    ]);
    let lines: Vec<Vec<String>> = found
        .deviations
        .iter()
        .map(|(span, value)| {
            vec![
                digits(found.interval_s * *span as f64, 3),
                span.to_string(),
                digits(*value, 4),
                digits(found.deviations[0].1 / (*span as f64).sqrt(), 4),
            ]
        })
        .collect();
    let text = rows
        + &format!("\nAllan deviation, {}:\n", command.kind.word())
        + &table(&["seconds", "readings", "deviation", "if noise were white"], &lines);
    let statement = Statement {
        told: vec![
            told("slope", slope),
            Told::own(
                "Allan deviation",
                &format!("Allan deviation, {}", command.kind.word()),
                Counted::of(slope.n, "readings at equal distances"),
                vec![Assumption::looked_at(
                    "readings evenly spaced",
                    "distance of the times",
                    true,
                    "Within 5 % of their mean distance; others are refused.",
                )],
            ),
        ],
        text,
        json: json(command, found),
        assumptions,
        wording: wording(command, found, &percent),
        notes,
    };
    statement.finish(&command.figure, || figure::panels(command, found))
}

fn json(command: &Stability, found: &Found) -> Value {
    let slope = &found.slope;
    json!({
        "slope": number(slope.slope),
        "intercept": number(slope.intercept),
        "standard_error": number(slope.standard_error),
        "naive_standard_error": number(slope.naive_standard_error),
        "lower": number(found.slope_interval.0),
        "upper": number(found.slope_interval.1),
        "confidence": number(command.confidence),
        "lag_one": number(slope.lag_one),
        "residual_sd": number(slope.residual_sd),
        "noise_sd": number(found.noise),
        "n": slope.n,
        "effective_n": number(slope.effective_n),
        "method": slope.method,
        "interval_s": number(found.interval_s),
        "kind": command.kind.word(),
        "deviations": found.deviations.iter().map(|(span, value)| json!({
            "span": span,
            "seconds": number(found.interval_s * *span as f64),
            "deviation": number(*value),
        })).collect::<Value>(),
        "best_span": found.best.map(|best| best.0),
        "best_seconds": optional(found.best.map(|best| found.interval_s * best.0 as f64)),
        "best_deviation": optional(found.best.map(|best| best.1)),
    })
}

fn wording(command: &Stability, found: &Found, percent: &str) -> String {
    let slope = &found.slope;
    let mut words = format!(
        "{} readings of {} at {} s distance have a slope of {} per second ({percent} interval {} to \
         {}); neighbouring residuals are correlated with {}, so that the record counts as {} \
         independent values.",
        slope.n,
        command.column,
        digits(found.interval_s, 3),
        digits(slope.slope, 3),
        digits(found.slope_interval.0, 3),
        digits(found.slope_interval.1, 3),
        digits(slope.lag_one, 2),
        digits(slope.effective_n, 3)
    );
    if let Some((span, value)) = found.best {
        words.push_str(&format!(
            " The Allan deviation is smallest, {}, at an average over {} s.",
            digits(value, 3),
            digits(found.interval_s * span as f64, 3)
        ));
    }
    words
}
