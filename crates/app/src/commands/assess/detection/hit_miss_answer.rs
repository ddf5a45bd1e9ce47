//! The hit/miss curve as text, JSON and words.

use serde_json::{Value, json};

use super::by_size::{by_size_json, by_size_table};
use super::hit_miss::Found;
use super::tested::Tested;
use super::{Detection, bayes, figure};
use crate::answer::{Answer, number, optional};
use crate::commands::assess::statement::Statement;
use crate::commands::assess::told::{Told, told};
use crate::fault::Fault;
use crate::table_text::{digits, digits_or_dash, pairs, table};

/// Turns what was found into the answer.
pub fn answer(command: &Detection, mut found: Found) -> Result<Answer, Fault> {
    let statement = Statement {
        told: accounts(command, &found),
        text: text(command, &found),
        json: json(command, &found),
        assumptions: Vec::new(),
        wording: wording(command, &found),
        notes: std::mem::take(&mut found.notes),
    };
    statement.finish(&command.figure, || vec![figure::curve(command, &found)])
}

fn accounts(command: &Detection, found: &Found) -> Vec<Told> {
    let mut curve = told("curve", &found.fit);
    if found.small_sample.is_some() {
        // Those notes speak of the bound that is not the one shown.
        curve.notes.clear();
    }
    let mut list = vec![curve];
    let units = statistics::Account::counted(&found.fit);
    list.push(Told::own("a90/95", &method_of_bound(command, found), units, Vec::new()));
    if let (true, Some(penalised)) = (found.small_sample.is_none(), &found.fit.penalised) {
        list.push(told("penalised curve", penalised));
    }
    list.extend(found.posterior.as_ref().map(|posterior| told("Bayesian curve", posterior)));
    list
}

fn method_of_bound(command: &Detection, found: &Found) -> String {
    match found.small_sample {
        Some(_) => format!(
            "signed root of the likelihood against {} simulated samples, seed {}",
            command.samples, command.seed
        ),
        None => "no upper bound exists".to_owned(),
    }
}

fn text(command: &Detection, found: &Found) -> String {
    let fit = &found.fit;
    let mut rows = vec![
        ("separation", fit.separation.word().to_owned()),
        ("units", fit.n_units.to_string()),
        ("link", fit.link.word().to_owned()),
        ("intercept", digits_or_dash(fit.intercept, 6)),
        ("slope", digits_or_dash(fit.slope, 6)),
        ("deviance", digits_or_dash(fit.deviance, 5)),
        ("a50", digits_or_dash(fit.a50, 4)),
        ("a90", digits_or_dash(fit.a90, 4)),
        ("a90/95", digits_or_dash(found.small_sample, 4)),
        (
            "largest miss, smallest hit",
            fit.bracket.map_or_else(
                || "-".to_owned(),
                |(miss, hit)| format!("{}, {}", digits(miss, 4), digits(hit, 4)),
            ),
        ),
        ("method", fit.method.to_owned()),
        ("method of the bound", method_of_bound(command, found)),
    ];
    if let Some(posterior) = &found.posterior {
        rows.push((
            "Bayesian a90 and its bound",
            format!(
                "{}, {}",
                digits_or_dash(bayes::a90(command, posterior, 0.5), 4),
                digits_or_dash(bayes::a90(command, posterior, command.confidence), 4)
            ),
        ));
        rows.push(("prior", posterior.method.clone()));
    }
    let mut text = pairs(&rows);
    text.push_str("\nbounds of a90 beside it, which cover less in small samples:\n");
    text.push_str(&table(
        &["bound", "size"],
        &[
            vec!["simulated, small sample".into(), digits_or_dash(found.small_sample, 4)],
            vec!["profile likelihood".into(), digits_or_dash(fit.a90_95, 4)],
            vec!["Wald".into(), digits_or_dash(fit.a90_95_wald, 4)],
        ],
    ));
    if let Some(firth) = &fit.penalised {
        text.push_str("\npenalised curve (Firth), an aid for planning and no claim:\n");
        text.push_str(&pairs(&[
            ("intercept", digits(firth.intercept, 6)),
            ("slope", digits(firth.slope, 6)),
            ("a50", digits_or_dash(firth.a50, 4)),
            ("a90", digits_or_dash(firth.a90, 4)),
        ]));
    }
    if fit.deviance.is_some() {
        let rows: Vec<Vec<String>> = found
            .links
            .iter()
            .map(|link| {
                vec![
                    link.link.word().to_owned(),
                    digits_or_dash(link.deviance, 5),
                    digits_or_dash(link.a50, 4),
                    digits_or_dash(link.a90, 4),
                    digits_or_dash(link.a90_95, 4),
                ]
            })
            .collect();
        text.push_str("\nthe choice of link is part of the uncertainty:\n");
        text.push_str(&table(&["link", "deviance", "a50", "a90", "profile bound"], &rows));
    }
    text.push_str("\nby size, exact one-sided lower bound:\n");
    text.push_str(&by_size_table(&found.by_size));
    text
}

fn json(command: &Detection, found: &Found) -> Value {
    let fit = &found.fit;
    json!({
        "route": "hit/miss",
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
        "a90_95": optional(found.small_sample),
        "a90_95_method": method_of_bound(command, found),
        "a90_95_profile": optional(fit.a90_95),
        "a90_95_wald": optional(fit.a90_95_wald),
        "bracket": fit.bracket.map_or(Value::Null, |(a, b)| json!([number(a), number(b)])),
        "penalised": fit.penalised.as_ref().map_or(Value::Null, |firth| json!({
            "intercept": number(firth.intercept),
            "slope": number(firth.slope),
            "a50": optional(firth.a50),
            "a90": optional(firth.a90),
            "a90_95": optional(firth.a90_95),
            "method": firth.method,
        })),
        "links": found.links.iter().map(|link| json!({
            "link": link.link.word(),
            "deviance": optional(link.deviance),
            "a50": optional(link.a50),
            "a90": optional(link.a90),
            "a90_95_profile": optional(link.a90_95),
            "a90_95_wald": optional(link.a90_95_wald),
        })).collect::<Value>(),
        "bayesian": found.posterior.as_ref()
            .map_or(Value::Null, |posterior| bayes::json(command, posterior)),
        "n": fit.n_units,
        "blanks": fit.blank_units,
        "blank_hits": fit.blank_hits,
        "confidence": number(fit.confidence),
        "method": fit.method,
        "by_size": by_size_json(&found.by_size),
    })
}

fn wording(command: &Detection, found: &Found) -> String {
    let fit = &found.fit;
    let percent = command.confidence * 100.0;
    // A size that nobody tested is no claim, however the curve goes on.
    let tested = Tested::of(found.by_size.iter().map(|(size, _)| *size));
    let bound = match found.small_sample {
        None => format!("no size can be stated that is found with probability 0.9 at {percent} %"),
        Some(bound) => tested.bound(bound, percent, "are found with probability 0.9"),
    };
    match (fit.a50, fit.a90) {
        (Some(a50), Some(a90)) => format!(
            "By the curve from {} units ({} link, {} size) half of the units are found at size \
             {}, and nine in ten at size {}; {bound} ({}).",
            fit.n_units,
            fit.link.word(),
            if fit.log_size { "log" } else { "linear" },
            tested.estimate(a50),
            tested.estimate(a90),
            method_of_bound(command, found)
        ),
        _ => format!(
            "Hits and misses of {} units do not determine a curve (separation: {}); {bound} ({}). \
             What each size proves by itself is given by its exact bound.",
            fit.n_units,
            fit.separation.word(),
            method_of_bound(command, found)
        ),
    }
}
