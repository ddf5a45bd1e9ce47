//! The volume as text, JSON and words.

use report::figure::{Axis, Figure, Ink};
use serde_json::{Value, json};
use statistics::Assumption;
use study::Note;

use super::{Found, Volume};
use crate::answer::{Answer, number};
use crate::commands::assess::drawing::bars;
use crate::commands::assess::statement::Statement;
use crate::commands::assess::told::told;
use crate::fault::Fault;
use crate::table_text::{digits, pairs, plain, table};

/// Millilitres of a cubic metre.
const ML: f64 = 1e6;

fn shares(found: &Found) -> Vec<f64> {
    let total: f64 = found.first_order.contributions.iter().sum();
    let total = if total > 0.0 { total } else { 1.0 };
    found.first_order.contributions.iter().map(|part| part / total).collect()
}

/// Turns what was found into the answer.
pub fn answer(command: &Volume, found: &Found, notes: Vec<Note>) -> Result<Answer, Fault> {
    let first = &found.first_order;
    let (low, high) = found.simulated.symmetric;
    let percent = format!("{} %", plain(command.coverage * 100.0, 4));
    let shares = shares(found);
    let rows: Vec<Vec<String>> = found
        .inputs
        .iter()
        .zip(&shares)
        .map(|(input, share)| {
            vec![
                input.name.clone(),
                digits(input.value, 5),
                digits(input.uncertainty, 2),
                format!("{:.1} %", 100.0 * share),
            ]
        })
        .collect();
    let text = pairs(&[
        ("volume", format!("{} mL", digits(first.value * ML, 4))),
        ("interval", format!("{} to {} mL ({percent})", digits(low * ML, 4), digits(high * ML, 4))),
        ("standard uncertainty", format!("{} mL", digits(first.uncertainty * ML, 2))),
        ("method", found.method.to_owned()),
    ]) + "\nwhere the uncertainty comes from (SI units):\n"
        + &table(&["input", "value", "uncertainty", "of the variance"], &rows);
    let json = json!({
        "volume_m3": number(first.value),
        "lower": number(low),
        "upper": number(high),
        "uncertainty_m3": number(first.uncertainty),
        "coverage": number(command.coverage),
        "route": found.route,
        "method": found.method,
        "n": found.inputs.len(),
        "draws": found.simulated.draws,
        "seed": found.simulated.seed,
        "inputs": found.inputs.iter().zip(&shares).map(|(input, share)| json!({
            "name": input.name,
            "value_si": number(input.value),
            "uncertainty_si": number(input.uncertainty),
            "share": number(*share),
        })).collect::<Value>(),
    });
    let bend = (first.second_order_uncertainty / first.uncertainty - 1.0).abs();
    let assumptions = vec![Assumption {
        name: "a model straight enough over the uncertainties",
        test: "second-order terms",
        p_value: None,
        held: bend.is_finite().then_some(bend <= 0.05),
        finding: format!("To second order the uncertainty changes by {:.1} %.", bend * 100.0),
    }];
    let wording = format!(
        "The volume is {} mL, {percent} interval {} to {} mL ({}; JCGM 101, {} draws).",
        digits(first.value * ML, 4),
        digits(low * ML, 4),
        digits(high * ML, 4),
        found.method,
        found.simulated.draws
    );
    let statement = Statement {
        told: vec![
            told("volume", &found.simulated),
            told("volume to first order", &found.first_order),
        ],
        text,
        json,
        assumptions,
        wording,
        notes,
    };
    statement.finish(&command.figure, || vec![contributions(found)])
}

fn contributions(found: &Found) -> Figure {
    let heights: Vec<f64> = shares(found).iter().map(|share| 100.0 * share).collect();
    let names = found.inputs.iter().map(|input| input.name.clone()).collect();
    let top = heights.iter().copied().fold(1.0, f64::max);
    Figure::new(
        "contributions",
        "Where the uncertainty of the volume comes from",
        Axis::named("", names),
        Axis::holding("share of the variance", "%", [0.0, top]),
    )
    .with(bars(&heights, Ink::Slate))
    .described(
        format!(
            "Volume {} mL; method: {}.",
            report::number::significant(found.first_order.value * ML, 4),
            found.method
        ),
        "Shares of the variance by input.",
    )
}
