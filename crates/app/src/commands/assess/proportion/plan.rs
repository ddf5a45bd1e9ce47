//! What a sampling plan lets through.

use report::figure::{Axis, Dash, Figure, Ink};
use serde_json::{Value, json};
use statistics::proportions::acceptance::{
    acceptance_probability, finite_acceptance_probability, outgoing_quality_limit,
    quality_at_acceptance,
};
use statistics::proportions::single_plans::single_plan;
use statistics::{Assumption, Counted};
use study::Note;

use super::{Proportion, percent};
use crate::answer::{Answer, from_statistics, number, optional};
use crate::commands::assess::drawing::{level, line, places, upright, values, words};
use crate::commands::assess::statement::Statement;
use crate::commands::assess::told::Told;
use crate::fault::Fault;
use crate::table_text::{digits, pairs, table};

/// Runs on a plan, or on a lot size and a quality limit.
pub fn run(command: &Proportion) -> Result<Answer, Fault> {
    let mut notes = Vec::new();
    let mut letters = None;
    let (n, c) = match (command.sample, command.accept, command.quality_limit) {
        (Some(n), Some(c), None) => (n, c),
        (_, _, Some(limit)) => {
            let lot = command.lot_size.unwrap_or(0);
            let plan = single_plan(lot, command.level.level(), limit)?;
            notes.extend(from_statistics(plan.notes.clone()));
            letters = Some((plan.code_letter, plan.plan_letter, limit));
            (plan.n, plan.acceptance_number)
        }
        _ => {
            return Err(Fault::users(
                "no plan was given",
                "give --sample and --accept, or --lot-size and --quality-limit",
            ));
        }
    };
    let limits = [0.95, 0.5, 0.1]
        .map(|share| quality_at_acceptance(n, c, share).map(|quality| (share, quality)));
    let limits = limits.into_iter().collect::<Result<Vec<_>, _>>()?;
    let worst = limits[2].1;
    let shown: Vec<f64> = (1..=12).map(|i| worst * 1.4 * f64::from(i) / 12.0).collect();
    let curve = shown
        .iter()
        .map(|p| acceptance_probability(n, c, *p).map(|chance| (*p, chance)))
        .collect::<Result<Vec<_>, _>>()?;
    let outgoing = command.lot_size.map(|lot| outgoing_quality_limit(lot, n, c)).transpose()?;
    let finite = command.lot_size.map(|lot| finite_curve(lot, n, c, worst)).transpose()?;
    notes.push(Note::caution(
        "protection-is-the-tenth",
        format!(
            "a single lot is protected only by the share that the plan accepts one time in ten: {}",
            percent(worst)
        ),
        "choose the plan by that share; for container integrity a sampling plan replaces neither \
         design nor process control",
    ));
    let mut rows = vec![("units to test", n.to_string()), ("bad units allowed", c.to_string())];
    if let Some((code, plan, limit)) = letters {
        rows.push(("code letter, plan letter", format!("{code}, {plan}")));
        rows.push(("acceptance quality limit", format!("{limit} %")));
    }
    for (share, quality) in &limits {
        let name = match share {
            s if *s > 0.9 => "accepted 95 times in 100",
            s if *s > 0.4 => "accepted every other time",
            _ => "accepted one time in ten",
        };
        rows.push((name, format!("{} bad", percent_fine(*quality))));
    }
    if let Some((quality, at)) = outgoing {
        rows.push((
            "average outgoing quality limit",
            format!("{} (at {} incoming)", percent_fine(quality), percent_fine(at)),
        ));
    }
    rows.push(("method", METHOD.to_owned()));
    let mut text = pairs(&rows);
    text.push_str("\nchance of acceptance:\n");
    let rows: Vec<Vec<String>> =
        curve.iter().map(|(p, chance)| vec![percent_fine(*p), percent(*chance)]).collect();
    text.push_str(&table(&["bad units", "accepted"], &rows));
    let json = json!({
        "sample": n,
        "accept": c,
        "lot_size": command.lot_size,
        "code_letter": letters.map(|l| l.0.to_string()),
        "plan_letter": letters.map(|l| l.1.to_string()),
        "quality_limit_percent": optional(letters.map(|l| l.2)),
        "quality_at_acceptance": limits.iter().map(|(share, quality)| json!({
            "accepted": number(*share),
            "bad": number(*quality),
        })).collect::<Value>(),
        "outgoing_quality_limit": optional(outgoing.map(|o| o.0)),
        "curve": curve.iter().map(|(p, chance)| json!({
            "bad": number(*p),
            "accepted": number(*chance),
        })).collect::<Value>(),
        "finite_lot_curve": finite.as_ref().map_or(Value::Null, |curve| curve.iter()
            .map(|(p, chance)| json!({ "bad": number(*p), "accepted": number(*chance) }))
            .collect()),
        "method": METHOD,
    });
    let wording = format!(
        "The plan tests {n} units and accepts the lot with at most {c} bad ones; lots with {} bad \
         units are accepted 95 times in 100, lots with {} one time in ten.",
        percent_fine(limits[0].1),
        percent_fine(worst)
    );
    let statement = Statement {
        told: vec![Told::own(
            "plan",
            METHOD,
            Counted::stated(format!("{n} units of each lot, as planned; nothing is tested yet")),
            vec![Assumption::unchecked(
                "units drawn at random from the lot",
                "from the plan",
                "state how the units are drawn",
            )],
        )],
        text,
        json,
        assumptions: Vec::new(),
        wording,
        notes,
    };
    statement.finish(&command.figure, || vec![figure(n, c, &limits, finite.as_deref())])
}

const METHOD: &str = "operating characteristic, binomial; hypergeometric for a lot of known size";

/// Chances of acceptance of a lot with whole numbers of bad units.
fn finite_curve(lot: u64, n: u64, c: u64, worst: f64) -> Result<Vec<(f64, f64)>, Fault> {
    let most = ((worst * 1.5 * lot as f64) as u64).clamp(1, lot);
    let step = (most / 24).max(1);
    (0..=most)
        .step_by(usize::try_from(step).unwrap_or(1))
        .map(|bad| {
            let chance = finite_acceptance_probability(lot, bad, n, c)?;
            Ok((bad as f64 / lot as f64, chance))
        })
        .collect()
}

fn percent_fine(share: f64) -> String {
    format!("{} %", digits(share * 100.0, 3))
}

fn figure(n: u64, c: u64, limits: &[(f64, f64)], finite: Option<&[(f64, f64)]>) -> Figure {
    let worst = limits.last().map_or(0.5, |limit| limit.1);
    let high = (worst * 150.0).min(100.0);
    let x = places(0.0, high);
    let y = values(&x, |p| acceptance_probability(n, c, p / 100.0).unwrap_or(f64::NAN));
    let mut figure = Figure::new(
        "plan",
        format!("Operating characteristic: {n} units, {c} allowed"),
        Axis::linear("bad units in the lot", "%", 0.0, high),
        Axis::linear("chance of acceptance", "", 0.0, 1.0),
    )
    .with(level("", 0.95, Ink::Grey, Dash::Dotted))
    .with(level("", 0.1, Ink::Grey, Dash::Dotted))
    .with(line("large lot (binomial)", &x, &y, Ink::Slate, Dash::Solid));
    if let Some(finite) = finite {
        let (x, y): (Vec<f64>, Vec<f64>) =
            finite.iter().map(|(p, chance)| (p * 100.0, *chance)).unzip();
        figure = figure.with(line("lot of the size given", &x, &y, Ink::Rust, Dash::Dashed));
    }
    for (share, quality) in limits.iter().filter(|limit| limit.0 != 0.5) {
        let label = format!("{} % accepted: {} %", share * 100.0, digits(quality * 100.0, 3));
        figure = figure.with(upright("", quality * 100.0, Ink::Plum, Dash::DashDot)).with(words(
            &label,
            quality * 100.0,
            if *share > 0.5 { 0.85 } else { 0.62 },
        ));
    }
    figure.described(
        "The steepness is what the number of units buys: only more units bring the two marked \
         shares together.",
        "Operating characteristic of the plan.",
    )
}
