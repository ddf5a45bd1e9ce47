//! How many units a claim needs.

use report::figure::{Axis, Figure};
use serde_json::{Value, json};
use statistics::proportions::{acceptance, sample_size};
use statistics::{Assumption, Counted};
use study::Note;

use super::{Proportion, percent};
use crate::answer::{Answer, number};
use crate::commands::assess::drawing::{group_style, line, places, upright, values, words};
use crate::commands::assess::statement::Statement;
use crate::commands::assess::told::Told;
use crate::fault::Fault;
use crate::table_text::{pairs, table};
use report::figure::{Dash, Ink};

/// True shares at which the chance of passing is shown.
const TRUE_SHARES: [f64; 5] = [0.9, 0.95, 0.98, 0.99, 0.999];

/// Runs on a reliability to claim.
pub fn run(command: &Proportion, reliability: f64) -> Result<Answer, Fault> {
    let confidence = command.confidence;
    let most = command.failures.max(3).min(command.failures + 3);
    let sizes = (0..=most)
        .map(|failures| {
            sample_size::demonstration_sample_size(reliability, confidence, failures)
                .map(|n| (failures, n))
        })
        .collect::<Result<Vec<_>, _>>()?;
    let n = sizes.iter().find(|size| size.0 == command.failures).map_or(0, |size| size.1);
    let chances = TRUE_SHARES
        .iter()
        .filter(|share| **share >= reliability)
        .map(|share| {
            sizes
                .iter()
                .map(|(c, n)| acceptance::acceptance_probability(*n, *c, 1.0 - share))
                .collect::<Result<Vec<_>, _>>()
                .map(|row| (*share, row))
        })
        .collect::<Result<Vec<_>, _>>()?;
    let mut text = pairs(&[
        ("units to test", n.to_string()),
        ("failures allowed", command.failures.to_string()),
        ("reliability", format!("{reliability}")),
        ("confidence", format!("{confidence}")),
        ("method", METHOD.to_owned()),
    ]);
    let rows: Vec<Vec<String>> =
        sizes.iter().map(|(c, n)| vec![c.to_string(), n.to_string()]).collect();
    text.push_str("\nunits by failures allowed:\n");
    text.push_str(&table(&["failures", "units"], &rows));
    let head: Vec<String> = sizes.iter().map(|(c, n)| format!("{c} of {n}")).collect();
    let mut names = vec!["true share"];
    names.extend(head.iter().map(String::as_str));
    let rows: Vec<Vec<String>> = chances
        .iter()
        .map(|(share, row)| {
            let mut cells = vec![format!("{share}")];
            cells.extend(row.iter().map(|chance| percent(*chance)));
            cells
        })
        .collect();
    text.push_str("\nchance that such a study passes:\n");
    text.push_str(&table(&names, &rows));
    let json = json!({
        "n": n,
        "failures": command.failures,
        "reliability": number(reliability),
        "confidence": number(confidence),
        "method": METHOD,
        "sizes": sizes.iter().map(|(failures, n)| json!({
            "failures": failures,
            "n": n,
        })).collect::<Value>(),
        "chance_of_passing": chances.iter().map(|(share, row)| json!({
            "true_share": number(*share),
            "by_size": row.iter().map(|chance| number(*chance)).collect::<Value>(),
        })).collect::<Value>(),
    });
    let wording = format!(
        "{n} units with {} show a reliability of at least {reliability} with {} % \
         confidence; the number of failures allowed was fixed beforehand.",
        failures(command.failures),
        confidence * 100.0
    );
    let notes = vec![Note::caution(
        "failures-fixed-first",
        "the number of failures allowed is part of the claim: raising it after the first miss \
         makes the confidence untrue",
        "write it into the protocol before testing",
    )];
    let statement = Statement {
        told: vec![Told::own(
            "number of units",
            METHOD,
            Counted::stated("a stated reliability and confidence; nothing is tested yet"),
            vec![
                Assumption::unchecked(
                    "units independent, with one probability",
                    "from the plan",
                    "state how the units are drawn; count units and not readings",
                ),
                Assumption::unchecked(
                    "a verdict without error",
                    "verified leaks among the units",
                    "a missed leak counts as a pass; use units whose leak is verified",
                ),
            ],
        )],
        text,
        json,
        assumptions: Vec::new(),
        wording,
        notes,
    };
    statement.finish(&command.figure, || vec![figure(&sizes, reliability)])
}

fn failures(count: u64) -> String {
    match count {
        0 => "no failure".to_owned(),
        1 => "at most 1 failure".to_owned(),
        _ => format!("at most {count} failures"),
    }
}

const METHOD: &str = "smallest number with binomial probability of so few failures at most 1 - \
                      confidence";

fn figure(sizes: &[(u64, u64)], reliability: f64) -> Figure {
    let worst = (3.0 * (1.0 - reliability)).min(1.0);
    let x = places(0.0, worst);
    let mut figure = Figure::new(
        "sizes",
        "Chance that the study passes",
        Axis::linear("true share not found", "", 0.0, worst),
        Axis::linear("chance of passing", "", 0.0, 1.0),
    );
    let dashes = [Dash::Solid, Dash::Dashed, Dash::DashDot, Dash::Dotted, Dash::Long];
    for (index, (c, n)) in sizes.iter().enumerate() {
        let y = values(&x, |p| acceptance::acceptance_probability(*n, *c, p).unwrap_or(f64::NAN));
        let label = format!("{n} units, {}", failures(*c));
        figure =
            figure.with(line(&label, &x, &y, group_style(index).1, dashes[index % dashes.len()]));
    }
    figure
        .with(upright("", 1.0 - reliability, Ink::Plum, Dash::Dotted))
        .with(words("share claimed", 1.0 - reliability, 0.8))
        .described(
            "At the share claimed each study passes with at most 1 − confidence. Left of it: what \
             the producer can hope for.",
            "Operating characteristics of the studies.",
        )
}
