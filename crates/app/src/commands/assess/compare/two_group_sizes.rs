//! How many units two groups of their own need.

use serde_json::{Value, json};
use statistics::comparison::power_two_groups::{
    TwoGroups, two_group_equivalence_power, two_group_power, two_group_sample_size,
};
use study::Note;

use super::{Compare, figure};
use crate::answer::{Answer, number, optional};
use crate::commands::assess::statement::Statement;
use crate::commands::assess::told::told;
use crate::fault::Fault;
use crate::table_text::{digits, digits_or_dash, pairs, plain, table};

/// Chances at one size of the groups.
pub struct Chance {
    /// Units in both groups.
    pub units: (usize, usize),
    /// Chance that equivalence is shown, where a margin was given.
    pub equivalence: Option<f64>,
    /// Chance that the true difference is seen, where there is one.
    pub difference: Option<f64>,
}

/// Runs the plan.
pub fn run(command: &Compare, deviations: (f64, f64)) -> Result<Answer, Fault> {
    let (truth, alpha) = (command.true_difference, command.alpha);
    let size = |power: f64| {
        let (ratio, margin) = (command.allocation, command.margin);
        two_group_sample_size(deviations, ratio, truth, margin, alpha, power)
    };
    let plan = size(command.power)?;
    let at = |first: usize| -> Result<Chance, Fault> {
        let second = ((first as f64 * command.allocation - 1e-9).ceil().max(2.0)) as usize;
        let groups = TwoGroups { units: (first, second), standard_deviations: deviations };
        let equivalence = match command.margin {
            Some(margin) => Some(two_group_equivalence_power(&groups, truth, margin, alpha)?),
            None => None,
        };
        let difference =
            if truth == 0.0 { None } else { Some(two_group_power(&groups, truth, alpha)?) };
        Ok(Chance { units: groups.units, equivalence, difference })
    };
    let n = plan.units.0;
    let last = (2 * n).max(12);
    let step = (last / 30).max(1);
    let curve: Vec<Chance> = (2..=last).step_by(step).map(at).collect::<Result<_, _>>()?;
    let mut shown: Vec<usize> =
        [n / 2, 3 * n / 4, n, 5 * n / 4, 3 * n / 2].into_iter().filter(|n| *n >= 2).collect();
    shown.dedup();
    let shown: Vec<Chance> = shown.into_iter().map(at).collect::<Result<_, _>>()?;
    let notes = vec![
        Note::remark(
            "groups-planned",
            "the numbers are for two groups of units of their own, with the standard deviation of \
             a unit in each",
            "where the same units can be read twice, pairs need fewer; take the standard \
             deviations from a pilot, at their upper bounds",
        ),
        Note::caution(
            "plan-on-the-true-difference",
            "the chance holds for the true difference given",
            "plan for the difference that is likely, not for zero (--true-difference)",
        ),
    ];
    let statement = Statement {
        told: vec![told("plan of two groups", &plan)],
        text: text(command, deviations, &plan, &shown),
        json: json(command, deviations, &plan, &shown),
        assumptions: Vec::new(),
        wording: wording(command, deviations, &plan),
        notes,
    };
    statement.finish(&command.figure, || vec![figure::two_groups(command, &curve, n)])
}

fn aim(command: &Compare) -> &'static str {
    if command.margin.is_some() { "equivalence" } else { "difference" }
}

fn method(command: &Compare) -> &'static str {
    if command.margin.is_some() {
        "two one-sided tests of two groups after Welch, exact power"
    } else {
        "two-sided test of two groups after Welch, exact power"
    }
}

fn text(command: &Compare, (a, b): (f64, f64), plan: &TwoGroups, shown: &[Chance]) -> String {
    let rows: Vec<Vec<String>> = shown
        .iter()
        .map(|c| {
            vec![
                format!("{}, {}", c.units.0, c.units.1),
                digits_or_dash(c.equivalence, 3),
                digits_or_dash(c.difference, 3),
            ]
        })
        .collect();
    pairs(&[
        ("units needed, first and second group", format!("{}, {}", plan.units.0, plan.units.1)),
        ("margin", command.margin.map_or_else(|| "-".to_owned(), |m| plain(m, 5))),
        ("standard deviations of a unit", format!("{}, {}", plain(a, 5), plain(b, 5))),
        ("true difference", plain(command.true_difference, 5)),
        ("power, alpha", format!("{}, {}", command.power, command.alpha)),
        ("method", method(command).to_owned()),
    ]) + "\nchance by number of units:\n"
        + &table(&["units", "equivalence is shown", "the difference is seen"], &rows)
}

fn json(command: &Compare, (a, b): (f64, f64), plan: &TwoGroups, shown: &[Chance]) -> Value {
    json!({
        "design": "plan of two groups",
        "aim": aim(command),
        "method": method(command),
        "units": [plan.units.0, plan.units.1],
        "n": plan.units.0 + plan.units.1,
        "standard_deviations": [number(a), number(b)],
        "margin": optional(command.margin),
        "true_difference": number(command.true_difference),
        "power": number(command.power),
        "alpha": number(command.alpha),
        "allocation": number(command.allocation),
        "chances": shown.iter().map(|c| json!({
            "units": [c.units.0, c.units.1],
            "equivalence_shown": optional(c.equivalence),
            "difference_seen": optional(c.difference),
        })).collect::<Value>(),
    })
}

fn wording(command: &Compare, (a, b): (f64, f64), plan: &TwoGroups) -> String {
    let what = match command.margin {
        Some(margin) => format!("show equivalence within {}", plain(margin, 4)),
        None => format!("see a difference of {}", plain(command.true_difference, 4)),
    };
    format!(
        "{} and {} units {what} with a chance of at least {} % ({}, alpha {}), if the true \
         difference is {} and the standard deviations of a unit are {} and {}.",
        plan.units.0,
        plan.units.1,
        digits(command.power * 100.0, 3),
        method(command),
        command.alpha,
        plain(command.true_difference, 4),
        plain(a, 4),
        plain(b, 4)
    )
}
