//! The next size as text, JSON and words.

use serde_json::{Value, json};
use statistics::Assumption;
use statistics::adaptive_study::Phase;
use statistics::detection::Separation;
use study::Note;

use super::stopping::Outcome;
use super::{Found, NextSizeCommand, figure};
use crate::answer::{Answer, number, optional};
use crate::commands::assess::statement::Statement;
use crate::commands::assess::told::{Told, told};
use crate::fault::Fault;
use crate::table_text::{digits, digits_or_dash, pairs, plain, table};

const METHOD: &str = "next size by the gap, then by information; stop on the upper bound by profile \
                      likelihood";

fn phase(found: &Found) -> &'static str {
    match found.next.phase {
        Phase::Bracket => "bracket",
        Phase::Curve => "curve",
        Phase::Target => "target",
    }
}

/// Turns what was found into the answer.
pub fn answer(command: &NextSizeCommand, found: &Found, notes: Vec<Note>) -> Result<Answer, Fault> {
    let statement = Statement {
        told: accounts(found),
        text: text(command, found),
        json: json(command, found),
        assumptions: assumptions(found),
        wording: wording(command, found),
        notes,
    };
    statement.finish(&command.figure, || vec![figure::panel(command, found)])
}

fn accounts(found: &Found) -> Vec<Told> {
    let mut list = vec![told("next size", &found.next)];
    list.extend(found.fit.as_ref().map(|fit| told("curve so far", fit)));
    list.extend(
        found
            .simulated
            .iter()
            .map(|row| told(format!("rule at {} times the critical size", row.ratio), &row.found)),
    );
    list
}

fn assumptions(found: &Found) -> Vec<Assumption> {
    let overlap = found.fit.as_ref().map(|fit| fit.separation == Separation::None);
    let rising = found.fit.as_ref().and_then(|fit| fit.slope).map(|slope| slope > 0.0);
    vec![
        Assumption {
            name: "hits and misses overlap",
            test: "separation, exact",
            p_value: None,
            held: overlap,
            finding: match overlap {
                None => "Not checked: fewer than two sizes are tested.".to_owned(),
                Some(true) => "There is a curve.".to_owned(),
                Some(false) => {
                    "They are separated: there is a bracket and no curve yet.".to_owned()
                }
            },
        },
        Assumption {
            name: "larger leaks are found more often",
            test: "sign of the slope",
            p_value: None,
            held: rising,
            finding: match rising {
                None => "Not checked: there is no curve yet.".to_owned(),
                Some(true) => "The curve rises.".to_owned(),
                Some(false) => "The curve does not rise.".to_owned(),
            },
        },
    ]
}

fn text(command: &NextSizeCommand, found: &Found) -> String {
    let wanted = plain(command.probability, 3);
    let mut rows = vec![
        ("outcome", found.outcome.word().to_owned()),
        ("next size", plain(found.next.size, 6)),
        ("because", found.next.reason.clone()),
        ("phase", phase(found).to_owned()),
        ("units so far", format!("{} of at most {}", found.units, command.most_units)),
    ];
    if found.outcome != Outcome::GoOn {
        rows[1].0 = "next size, if any";
    }
    let estimate = found.fit.as_ref().and_then(|fit| fit.a90);
    if command.probability == 0.9 {
        rows.push(("a90", digits_or_dash(estimate, 4)));
    }
    let bounds = format!(
        "{} (profile likelihood, the rule), {} (simulated reference)",
        digits_or_dash(found.bound, 4),
        digits_or_dash(found.small_sample, 4)
    );
    rows.push(("upper bound of the size found", bounds));
    rows.push(("to be shown", format!("{} of size {} found", wanted, plain(command.critical, 5))));
    rows.push(("method", METHOD.to_owned()));
    let mut text = pairs(&rows);
    if !found.simulated.is_empty() {
        text.push_str(&format!("\nthe rule over {} simulated studies each:\n", command.studies));
        let lines: Vec<Vec<String>> = found
            .simulated
            .iter()
            .map(|row| {
                vec![
                    plain(row.found.true_size, 4),
                    digits(row.found.passed, 3),
                    if row.found.passing_is_wrong { "wrong" } else { "right" }.to_owned(),
                    digits(row.found.mean_units, 3),
                ]
            })
            .collect();
        let head = format!("size truly found with {wanted}");
        text.push_str(&table(&[&head, "ends with yes", "yes is", "units"], &lines));
    }
    text
}

fn json(command: &NextSizeCommand, found: &Found) -> Value {
    json!({
        "outcome": found.outcome.word(),
        "stop": found.outcome != Outcome::GoOn,
        "next_size": number(found.next.size),
        "phase": phase(found),
        "because": found.next.reason,
        "n": found.units,
        "most_units": command.most_units,
        "critical_size": number(command.critical),
        "probability": number(command.probability),
        "confidence": number(command.confidence),
        "estimate": optional(found.fit.as_ref().and_then(|fit| {
            let (intercept, slope) = (fit.intercept?, fit.slope.filter(|slope| *slope > 0.0)?);
            let place = (fit.link.line(command.probability) - intercept) / slope;
            Some(digits::scalar::exp(place))
        })),
        "upper_bound": optional(found.bound),
        "upper_bound_small_sample": optional(found.small_sample),
        "method": METHOD,
        "by_size": found.results.iter().map(|row| json!({
            "size": number(row.size),
            "hits": row.hits,
            "of": row.of,
        })).collect::<Value>(),
        "simulated": found.simulated.iter().map(|row| json!({
            "ratio_to_critical": number(row.ratio),
            "true_size": number(row.found.true_size),
            "passed": number(row.found.passed),
            "standard_error": number(row.found.standard_error),
            "passing_is_wrong": row.found.passing_is_wrong,
            "mean_units": number(row.found.mean_units),
            "without_curve": number(row.found.without_curve),
            "studies": row.found.studies,
        })).collect::<Value>(),
    })
}

fn wording(command: &NextSizeCommand, found: &Found) -> String {
    let mut words =
        format!("After {} units the rule says: {}. ", found.units, found.outcome.word());
    match (found.outcome, found.bound) {
        (Outcome::GoOn, _) => words.push_str(&format!(
            "The next unit is to have size {} ({} phase).",
            plain(found.next.size, 5),
            phase(found)
        )),
        (Outcome::Shown, Some(bound)) => words.push_str(&format!(
            "The size found with probability {} is at most {} with {} % confidence (profile \
             likelihood), the critical size being {}.",
            plain(command.probability, 3),
            digits(bound, 3),
            plain(command.confidence * 100.0, 3),
            plain(command.critical, 4)
        )),
        _ => words.push_str("The units planned are used and the claim was not shown."),
    }
    if let Some(worst) = found
        .simulated
        .iter()
        .filter(|row| row.found.passing_is_wrong)
        .max_by(|a, b| a.found.passed.total_cmp(&b.found.passed))
    {
        words.push_str(&format!(
            " By simulation the rule wrongly ends with yes in {} % of studies where the true size \
             is {}.",
            digits(worst.found.passed * 100.0, 2),
            plain(worst.found.true_size, 4)
        ));
    }
    words
}
