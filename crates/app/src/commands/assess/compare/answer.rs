//! The comparison as text, JSON and words.

use serde_json::{Value, json};
use statistics::Assumption;
use statistics::comparison::Equivalence;
use study::Note;

use super::groups::Groups;
use super::pairs::Pairs;
use super::{Compare, figure};
use crate::answer::{Answer, number};
use crate::commands::assess::statement::Statement;
use crate::commands::assess::told::{Told, told};
use crate::fault::Fault;
use crate::table_text::{digits, pairs, plain, table};

/// Without a margin nothing is said about equality.
pub fn no_margin() -> Note {
    Note::caution(
        "no-margin",
        "no margin was given, so nothing is said about equality: that no difference was seen is no \
         proof that there is none",
        "fix the largest difference that would not matter and give it as --margin",
    )
}

fn percent(share: f64) -> String {
    format!("{} %", plain(share * 100.0, 3))
}

fn equivalence_rows(found: &Equivalence) -> Vec<(&'static str, String)> {
    vec![
        ("difference", digits(found.difference, 4)),
        (
            "its interval",
            format!(
                "{} to {} at {} confidence",
                digits(found.interval.0, 4),
                digits(found.interval.1, 4),
                percent(1.0 - 2.0 * found.alpha)
            ),
        ),
        ("margin", format!("±{}", plain(found.margin, 5))),
        ("p", digits(found.p_value, 3)),
        ("equivalence", if found.equivalent { "shown" } else { "not shown" }.to_owned()),
        ("method", found.method.to_owned()),
    ]
}

fn equivalence_json(found: &Equivalence) -> Value {
    json!({
        "difference": number(found.difference),
        "standard_error": number(found.standard_error),
        "degrees_of_freedom": number(found.degrees_of_freedom),
        "p_value": number(found.p_value),
        "lower": number(found.interval.0),
        "upper": number(found.interval.1),
        "margin": number(found.margin),
        "alpha": number(found.alpha),
        "equivalent": found.equivalent,
        "method": found.method,
    })
}

fn equivalence_words(found: &Equivalence) -> String {
    format!(
        "The mean difference was {} ({} interval {} to {}); equivalence within ±{} was {} ({}, p = \
         {}).",
        digits(found.difference, 3),
        percent(1.0 - 2.0 * found.alpha),
        digits(found.interval.0, 3),
        digits(found.interval.1, 3),
        plain(found.margin, 4),
        if found.equivalent { "shown" } else { "not shown" },
        found.method,
        digits(found.p_value, 2)
    )
}

fn pair_accounts(found: &Pairs<'_>) -> Vec<Told> {
    let mut list = Vec::new();
    list.extend(found.equivalence.as_ref().map(|result| told("equivalence", result)));
    list.push(told("agreement", &found.agreement));
    list.extend(found.deming.as_ref().map(|line| told("line", line)));
    list.extend(found.ranks.as_ref().map(|line| told("line by ranks", line)));
    list
}

/// The answer on pairs.
pub fn of_pairs(
    command: &Compare,
    found: &Pairs<'_>,
    assumptions: Vec<Assumption>,
    notes: Vec<Note>,
) -> Result<Answer, Fault> {
    let agreement = &found.agreement;
    let mut rows = vec![("pairs", agreement.n.to_string())];
    if let Some(equivalence) = &found.equivalence {
        rows.extend(equivalence_rows(equivalence));
    }
    let mut text = pairs(&rows);
    text.push_str(&format!(
        "\n{} less {} ({}):\n",
        found.first_name, found.second_name, agreement.method
    ));
    text.push_str(&pairs(&[
        (
            "bias",
            format!(
                "{} ({} to {})",
                digits(agreement.bias, 4),
                digits(agreement.bias_interval.0, 4),
                digits(agreement.bias_interval.1, 4)
            ),
        ),
        (
            "limits of agreement",
            format!(
                "{} and {}, each ±{}",
                digits(agreement.limits.0, 4),
                digits(agreement.limits.1, 4),
                digits(agreement.limit_half_width, 3)
            ),
        ),
        ("standard deviation of differences", digits(agreement.standard_deviation, 4)),
    ]));
    let mut lines = Vec::new();
    if let Some(line) = &found.deming {
        let with =
            |value: f64, error: f64| format!("{} (se {})", digits(value, 4), digits(error, 2));
        lines.push(vec![
            line.method.to_owned(),
            with(line.slope, line.standard_errors.1),
            with(line.intercept, line.standard_errors.0),
        ]);
    }
    if let Some(line) = &found.ranks {
        let with = |value: f64, ends: (f64, f64)| {
            format!("{} ({} to {})", digits(value, 4), digits(ends.0, 4), digits(ends.1, 4))
        };
        lines.push(vec![
            line.method.to_owned(),
            with(line.slope, line.slope_interval),
            with(line.intercept, line.intercept_interval),
        ]);
    }
    if !lines.is_empty() {
        text.push_str(&format!("\n{} against {}:\n", found.second_name, found.first_name));
        text.push_str(&table(&["line", "slope", "intercept"], &lines));
    }
    let statement = Statement {
        told: pair_accounts(found),
        text,
        json: pairs_json(command, found),
        assumptions,
        wording: pairs_words(command, found),
        notes,
    };
    statement.finish(&command.figure, || figure::of_pairs(found))
}

fn pairs_json(command: &Compare, found: &Pairs<'_>) -> Value {
    let agreement = &found.agreement;
    json!({
        "design": "pairs",
        "n": agreement.n,
        "method": agreement.method,
        "confidence": number(command.confidence),
        "equivalence": found.equivalence.as_ref().map(equivalence_json),
        "agreement": {
            "bias": number(agreement.bias),
            "bias_lower": number(agreement.bias_interval.0),
            "bias_upper": number(agreement.bias_interval.1),
            "standard_deviation": number(agreement.standard_deviation),
            "multiplier": number(agreement.multiplier),
            "lower": number(agreement.limits.0),
            "upper": number(agreement.limits.1),
            "limit_half_width": number(agreement.limit_half_width),
        },
        "deming": found.deming.as_ref().map(|line| json!({
            "slope": number(line.slope),
            "intercept": number(line.intercept),
            "slope_standard_error": number(line.standard_errors.1),
            "intercept_standard_error": number(line.standard_errors.0),
            "variance_ratio": number(command.variance_ratio),
        })),
        "passing_bablok": found.ranks.as_ref().map(|line| json!({
            "slope": number(line.slope),
            "slope_lower": number(line.slope_interval.0),
            "slope_upper": number(line.slope_interval.1),
            "intercept": number(line.intercept),
            "intercept_lower": number(line.intercept_interval.0),
            "intercept_upper": number(line.intercept_interval.1),
        })),
    })
}

fn pairs_words(command: &Compare, found: &Pairs<'_>) -> String {
    let agreement = &found.agreement;
    let mut words = format!(
        "{} units were read both ways ({}, {}). ",
        agreement.n, found.first_name, found.second_name
    );
    if let Some(equivalence) = &found.equivalence {
        words.push_str(&equivalence_words(equivalence));
        words.push(' ');
    }
    words.push_str(&format!(
        "Bias {} ({} interval {} to {}), limits of agreement {} and {} (Bland and Altman, {} \
         standard deviations).",
        digits(agreement.bias, 3),
        percent(command.confidence),
        digits(agreement.bias_interval.0, 3),
        digits(agreement.bias_interval.1, 3),
        digits(agreement.limits.0, 3),
        digits(agreement.limits.1, 3),
        plain(agreement.multiplier, 3)
    ));
    if let Some(line) = &found.ranks {
        words.push_str(&format!(
            " Slope {} ({} to {}) and intercept {} ({} to {}) by Passing and Bablok.",
            digits(line.slope, 3),
            digits(line.slope_interval.0, 3),
            digits(line.slope_interval.1, 3),
            digits(line.intercept, 3),
            digits(line.intercept_interval.0, 3),
            digits(line.intercept_interval.1, 3)
        ));
    }
    words
}

/// The answer on two groups.
pub fn of_groups(
    command: &Compare,
    found: &Groups,
    assumptions: Vec<Assumption>,
    notes: Vec<Note>,
) -> Result<Answer, Fault> {
    let rows: Vec<Vec<String>> = found
        .summaries
        .iter()
        .map(|group| {
            vec![
                group.label.clone(),
                group.n.to_string(),
                digits(group.mean, 4),
                digits(group.standard_deviation, 3),
            ]
        })
        .collect();
    let mut text = pairs(&equivalence_rows(&found.equivalence));
    text.push_str("\ngroups:\n");
    text.push_str(&table(&["group", "n", "mean", "sd"], &rows));
    let json = json!({
        "design": "groups",
        "n": found.equivalence.n,
        "method": found.equivalence.method,
        "confidence": number(command.confidence),
        "equivalence": equivalence_json(&found.equivalence),
        "groups": found.summaries.iter().map(|group| json!({
            "group": group.label,
            "n": group.n,
            "mean": number(group.mean),
            "standard_deviation": number(group.standard_deviation),
        })).collect::<Value>(),
    });
    let [first, second] = &found.summaries;
    let wording = format!(
        "{} units of {} and {} of {} were read. {}",
        first.n,
        first.label,
        second.n,
        second.label,
        equivalence_words(&found.equivalence)
    );
    let statement = Statement {
        told: vec![told("equivalence", &found.equivalence)],
        text,
        json,
        assumptions,
        wording,
        notes,
    };
    statement.finish(&command.figure, || figure::of_groups(found))
}
