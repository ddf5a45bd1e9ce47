//! The budget as text, JSON and words.

use serde_json::{Value, json};
use statistics::Assumption;
use study::Note;

use super::{Found, Uncertainty, figure};
use crate::answer::{Answer, number};
use crate::commands::assess::statement::Statement;
use crate::commands::assess::told::told;
use crate::fault::Fault;
use crate::table_text::{digits, pairs, plain, table};

/// Share of the variance of each input, without correlations.
pub fn shares(found: &Found) -> Vec<f64> {
    let total: f64 = found.first_order.contributions.iter().sum();
    found.first_order.contributions.iter().map(|part| part / total).collect()
}

/// Turns what was found into the answer.
pub fn answer(command: &Uncertainty, found: &Found, notes: Vec<Note>) -> Result<Answer, Fault> {
    let statement = Statement {
        told: std::iter::once(told("law of propagation", &found.first_order))
            .chain(found.simulated.iter().map(|simulated| told("simulation", simulated)))
            .collect(),
        text: text(found),
        json: json(found),
        assumptions: assumptions(found),
        wording: wording(found),
        notes,
    };
    statement.finish(&command.figure, || figure::panels(found))
}

fn assumptions(found: &Found) -> Vec<Assumption> {
    let first = &found.first_order;
    let bend = (first.second_order_uncertainty / first.uncertainty - 1.0).abs();
    let mut list = vec![Assumption {
        name: "a model straight enough over the uncertainties",
        test: "second-order terms",
        p_value: None,
        held: found.file.correlation.is_none().then_some(bend <= 0.05),
        finding: if found.file.correlation.is_some() {
            "Not checked: the second order is derived for independent inputs.".to_owned()
        } else {
            format!("To second order the uncertainty changes by {:.1} %.", bend * 100.0)
        },
    }];
    list.push(Assumption {
        name: "result near normal",
        test: "interval against simulation",
        p_value: None,
        held: found.agree,
        finding: match found.agree {
            Some(true) => "Both intervals agree within half a unit of the second digit.".to_owned(),
            Some(false) => "The intervals differ; the simulated one counts.".to_owned(),
            None => "Not checked: inputs that move as one are not simulated.".to_owned(),
        },
    });
    list
}

fn quantity(found: &Found, value: f64, significant: usize) -> String {
    format!("{} {}", digits(value, significant), found.file.unit).trim_end().to_owned()
}

/// A value with as many digits as its uncertainty has, and two more.
fn value_digits(found: &Found) -> usize {
    let ratio = (found.first_order.value / found.first_order.uncertainty).abs().max(1.0);
    (digits::scalar::log10(ratio) as usize + 3).clamp(3, 15)
}

fn text(found: &Found) -> String {
    let first = &found.first_order;
    let wide = value_digits(found);
    let degrees = if first.degrees_of_freedom.is_finite() {
        digits(first.degrees_of_freedom, 3)
    } else {
        "unlimited".to_owned()
    };
    let percent = format!("{} %", plain(found.coverage * 100.0, 4));
    let mut rows = vec![
        (found.file.quantity.as_str(), quantity(found, first.value, wide)),
        ("standard uncertainty", quantity(found, first.uncertainty, 3)),
        ("degrees of freedom", degrees),
        ("expanded uncertainty", format!("{} ({percent})", quantity(found, found.expanded, 3))),
        ("model", found.file.model_text.clone()),
        ("method", first.method.to_owned()),
    ];
    let interval = |(low, high): (f64, f64)| {
        format!("{} to {}", digits(low, wide), quantity(found, high, wide))
    };
    if let Some(simulated) = &found.simulated {
        rows.extend([
            ("simulated mean", quantity(found, simulated.mean, wide)),
            ("simulated uncertainty", quantity(found, simulated.uncertainty, 3)),
            ("interval, equal tails", interval(simulated.symmetric)),
            ("interval, shortest", interval(simulated.shortest)),
            ("draws, seed", format!("{}, {}", simulated.draws, simulated.seed)),
            ("method of the simulation", simulated.method.to_owned()),
        ]);
    }
    let shares = shares(found);
    let lines: Vec<Vec<String>> = found
        .file
        .inputs
        .iter()
        .enumerate()
        .map(|(i, input)| {
            vec![
                input.name.clone(),
                plain(input.value, 9),
                digits(input.uncertainty, 3),
                found.file.distribution_names[i].clone(),
                digits(first.sensitivities[i], 4),
                format!("{:.1} %", 100.0 * shares[i]),
            ]
        })
        .collect();
    pairs(&rows)
        + "\nbudget:\n"
        + &table(
            &["input", "value", "uncertainty", "distribution", "sensitivity", "of the variance"],
            &lines,
        )
}

fn json(found: &Found) -> Value {
    let first = &found.first_order;
    let shares = shares(found);
    json!({
        "quantity": found.file.quantity,
        "unit": found.file.unit,
        "model": found.file.model_text,
        "method": first.method,
        "n": found.file.inputs.len(),
        "value": number(first.value),
        "uncertainty": number(first.uncertainty),
        "degrees_of_freedom": number(first.degrees_of_freedom),
        "coverage": number(found.coverage),
        "expanded": number(found.expanded),
        "second_order_value": number(first.second_order_value),
        "second_order_uncertainty": number(first.second_order_uncertainty),
        "inputs": found.file.inputs.iter().enumerate().map(|(i, input)| json!({
            "name": input.name,
            "value": number(input.value),
            "uncertainty": number(input.uncertainty),
            "degrees_of_freedom": number(input.degrees_of_freedom),
            "distribution": found.file.distribution_names[i],
            "sensitivity": number(first.sensitivities[i]),
            "share": number(shares[i]),
        })).collect::<Value>(),
        "simulated": found.simulated.as_ref().map(|simulated| json!({
            "mean": number(simulated.mean),
            "uncertainty": number(simulated.uncertainty),
            "lower": number(simulated.symmetric.0),
            "upper": number(simulated.symmetric.1),
            "shortest_lower": number(simulated.shortest.0),
            "shortest_upper": number(simulated.shortest.1),
            "method": simulated.method,
            "draws": simulated.draws,
            "seed": simulated.seed,
        })),
        "agree": found.agree,
    })
}

fn wording(found: &Found) -> String {
    let first = &found.first_order;
    let wide = value_digits(found);
    let percent = plain(found.coverage * 100.0, 4);
    let largest = shares(found)
        .iter()
        .zip(&found.file.inputs)
        .max_by(|a, b| a.0.total_cmp(b.0))
        .map(|(share, input)| {
            format!(" The largest part, {:.0} %, comes from {}.", share * 100.0, input.name)
        })
        .unwrap_or_default();
    let mut words = format!(
        "{}: {} with standard uncertainty {} and expanded uncertainty {} ({percent} % coverage, law \
         of propagation, JCGM 100).",
        found.file.quantity,
        quantity(found, first.value, wide),
        quantity(found, first.uncertainty, 2),
        quantity(found, found.expanded, 2),
    );
    if let Some(simulated) = &found.simulated {
        words.push_str(&format!(
            " By simulation ({} draws, JCGM 101) the {percent} % interval is {} to {}.",
            simulated.draws,
            digits(simulated.symmetric.0, wide),
            quantity(found, simulated.symmetric.1, wide)
        ));
    }
    words + &largest
}
