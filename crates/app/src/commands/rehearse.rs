//! `isobar rehearse`: the chance that a planned study shows what it must.

use clap::Args;
use serde_json::{Value, json};
use study::rehearsal::{Rehearsal, RehearsalSettings, chance_interval};
use study::{CaseInput, rehearse};

use super::case_source::CaseSource;
use super::plan::{Units, planned};
use crate::answer::{Answer, number};
use crate::fault::Fault;
use crate::table_text::{digits, pairs, table};

/// The chance that a planned study shows what it must.
#[derive(Args)]
#[command(after_help = "Example:
  isobar rehearse examples/lyophilised_vial.toml --rehearsals 200

The shares of the background spread that are common to a day, a lot and a rig are working values; lots
and rigs vary where more than one is planned. Half and twice of each part of the plan say which is
under-powered and which over-powered.")]
pub struct RehearseStudy {
    #[command(flatten)]
    source: CaseSource,
    /// How often the study is done on paper.
    #[arg(long, default_value_t = 1000)]
    rehearsals: usize,
    #[command(flatten)]
    units: Units,
}

/// Runs the command.
pub fn run(command: &RehearseStudy) -> Result<Answer, Fault> {
    let source = command.source.find(None)?;
    let (forecast, plan) = planned(&source, &command.units)?;
    let input = source.input().clone();
    source.close();
    let settings = RehearsalSettings { seed: plan.seed, n: command.rehearsals };
    let bar = crate::progress::bar(&format!("rehearse {}", input.id), settings.n);
    let rehearsal = rehearse(&input, &forecast, &plan, &settings, &|done, _| {
        bar.set_position(done as u64);
    });
    bar.finish_and_clear();
    let rehearsal = rehearsal.map_err(|error| {
        Fault::users(
            format!("case `{}`: {error}", input.id),
            "ask for more rehearsals, or check the rig, the headspace and the cycle of the case",
        )
    })?;
    Ok(Answer::new(
        text(&input, plan.runs.len(), &rehearsal),
        json_of(&input, plan.runs.len(), &rehearsal),
        rehearsal.notes.clone(),
    ))
}

fn percent(share: f64) -> String {
    format!("{:.1} %", 100.0 * share)
}

fn text(input: &CaseInput, runs: usize, rehearsal: &Rehearsal) -> String {
    let mut text = format!("{} ({})\n{}\n\n", input.title, input.id, input.question);
    if input.invented {
        text.push_str("Invented scenario: no figure is of a real product.\n\n");
    }
    text.push_str(&format!("The study of {runs} runs, done {} times on paper:\n\n", rehearsal.n));
    let rows: Vec<Vec<String>> = rehearsal
        .chances
        .iter()
        .map(|chance| {
            vec![
                chance.criterion.code.clone(),
                percent(chance.probability_met),
                interval(chance.probability_met, rehearsal.n),
            ]
        })
        .collect();
    text.push_str(&table(&["criterion", "met in", "95 % interval"], &rows));
    text.push_str(&format!(
        "\nAll criteria met in {} (95 % interval {}, {} rehearsals).\n\n",
        percent(rehearsal.probability_all_met),
        interval(rehearsal.probability_all_met, rehearsal.n),
        rehearsal.n
    ));
    let spread = |values: Option<[f64; 3]>, unit: &str| {
        values.map_or_else(
            || "none".to_owned(),
            |[low, middle, high]| {
                format!(
                    "{} {unit} (90 % of the rehearsals {} to {})",
                    digits(middle, 3),
                    digits(low, 3),
                    digits(high, 3)
                )
            },
        )
    };
    text.push_str(&pairs(&[
        ("reject limit to expect", spread(rehearsal.limit_pa, "Pa")),
        (
            "limit holds for other days, lots, rigs",
            format!(
                "{} (95 % interval {})",
                percent(rehearsal.limit_holds),
                interval(rehearsal.limit_holds, rehearsal.n)
            ),
        ),
        ("detection bound to expect", spread(rehearsal.bound_um, "µm flow-equivalent")),
        ("detection bound from the readings", percent(rehearsal.bound_by_readings)),
        ("without a detection bound", percent(rehearsal.without_bound)),
    ]));
    let rows: Vec<Vec<String>> = rehearsal
        .variants
        .iter()
        .map(|variant| {
            vec![
                variant.change.clone(),
                variant.runs.to_string(),
                percent(variant.probability_all_met),
                interval(variant.probability_all_met, rehearsal.n),
                percent(variant.limit_holds),
            ]
        })
        .collect();
    text.push_str("\nThe same study with other numbers (blanks not counted):\n");
    let heads =
        ["change", "runs", "all criteria met in", "95 % interval", "limit holds for others in"];
    text.push_str(&table(&heads, &rows));
    text.push_str("\nWhich part is more or less than is needed:\n");
    text.push_str(&table(
        &["part", "judged by", "half", "as planned", "twice", "verdict"],
        &parts_rows(rehearsal),
    ));
    if let Some(arm) = &rehearsal.adaptive {
        text.push_str(&format!(
            "\nEach next positive control chosen from the results so far ({} rehearsals), to a bound \
             of {} µm:\n",
            arm.n,
            digits(arm.at_most_um, 3)
        ));
        text.push_str(&pairs(&[
            ("bound reached in", with_interval(arm.probability_met, arm.n)),
            ("as planned", with_interval(arm.planned_probability_met, arm.n)),
            ("positive controls on average", digits(arm.mean_units, 3)),
            ("as planned, positive controls", arm.planned_units.to_string()),
        ]));
    }
    text
}

/// How well so many rehearsals know a chance.
pub fn interval(share: f64, n: usize) -> String {
    let (low, high) = chance_interval(share, n);
    format!("{} to {}", percent(low), percent(high))
}

fn with_interval(share: f64, n: usize) -> String {
    format!("{} (95 % interval {})", percent(share), interval(share, n))
}

/// The parts of the plan as rows of a table.
pub fn parts_rows(rehearsal: &Rehearsal) -> Vec<Vec<String>> {
    rehearsal
        .parts
        .iter()
        .map(|part| {
            vec![
                part.part.clone(),
                part.judged_by.to_owned(),
                percent(part.half),
                percent(part.planned),
                percent(part.twice),
                part.power.word().to_owned(),
            ]
        })
        .collect()
}

/// The rehearsals as JSON.
pub fn json_of(input: &CaseInput, runs: usize, rehearsal: &Rehearsal) -> Value {
    let spread = |values: Option<[f64; 3]>| {
        values.map_or(Value::Null, |values| values.iter().map(|value| number(*value)).collect())
    };
    let pair = |share: f64, n: usize| {
        let (low, high) = chance_interval(share, n);
        json!([number(low), number(high)])
    };
    json!({
        "case": input.id,
        "title": input.title,
        "invented": input.invented,
        "seed": rehearsal.seed,
        "rehearsals": rehearsal.n,
        "planned_runs": runs,
        "criteria": rehearsal.chances.iter().map(|chance| json!({
            "code": chance.criterion.code,
            "sentence": chance.criterion.sentence,
            "probability_met": number(chance.probability_met),
            "standard_error": number(chance.standard_error),
            "interval_95": pair(chance.probability_met, rehearsal.n),
        })).collect::<Value>(),
        "probability_all_met": number(rehearsal.probability_all_met),
        "all_met_interval_95": pair(rehearsal.probability_all_met, rehearsal.n),
        "limit_holds": number(rehearsal.limit_holds),
        "limit_holds_interval_95": pair(rehearsal.limit_holds, rehearsal.n),
        "reject_limit_pa": spread(rehearsal.limit_pa),
        "detection_bound_um": spread(rehearsal.bound_um),
        "share_without_bound": number(rehearsal.without_bound),
        "share_bound_by_readings": number(rehearsal.bound_by_readings),
        "variants": rehearsal.variants.iter().map(|variant| json!({
            "change": variant.change,
            "runs": variant.runs,
            "probability_all_met": number(variant.probability_all_met),
            "all_met_interval_95": pair(variant.probability_all_met, rehearsal.n),
            "limit_holds": number(variant.limit_holds),
        })).collect::<Value>(),
        "parts": rehearsal.parts.iter().map(|part| json!({
            "part": part.part,
            "judged_by": part.judged_by,
            "half": number(part.half),
            "as_planned": number(part.planned),
            "twice": number(part.twice),
            "verdict": part.power.word(),
        })).collect::<Value>(),
        "adaptive": rehearsal.adaptive.as_ref().map(|arm| json!({
            "rehearsals": arm.n,
            "at_most_um": number(arm.at_most_um),
            "probability_met": number(arm.probability_met),
            "interval_95": pair(arm.probability_met, arm.n),
            "planned_probability_met": number(arm.planned_probability_met),
            "mean_units": number(arm.mean_units),
            "planned_units": arm.planned_units,
        })),
    })
}
