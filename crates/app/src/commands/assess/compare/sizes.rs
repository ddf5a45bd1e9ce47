//! How many pairs a comparison needs.

use serde_json::{Value, json};
use statistics::comparison::power::{equivalence_power, equivalence_sample_size, one_sample_power};
use statistics::{Assumption, Counted};
use study::Note;

use super::{Compare, figure};
use crate::answer::{Answer, number};
use crate::commands::assess::statement::Statement;
use crate::commands::assess::told::Told;
use crate::fault::Fault;
use crate::table_text::{digits, pairs, plain, table};

/// Power at one number of pairs.
pub struct Power {
    /// Pairs.
    pub n: usize,
    /// Chance that equivalence is shown.
    pub equivalence: f64,
    /// Chance that the plain test sees a true difference as large as the margin.
    pub difference: f64,
}

/// Runs the plan.
pub fn run(command: &Compare, sd: f64, margin: f64) -> Result<Answer, Fault> {
    let (alpha, truth) = (command.alpha, command.true_difference);
    let n = equivalence_sample_size(truth, margin, sd, alpha, command.power)?;
    let at = |n: usize| -> Result<Power, Fault> {
        Ok(Power {
            n,
            equivalence: equivalence_power(n, truth, margin, sd, alpha)?,
            difference: one_sample_power(n, margin, sd, alpha)?,
        })
    };
    let last = (2 * n).max(12);
    let step = (last / 40).max(1);
    let curve: Vec<Power> = (2..=last).step_by(step).map(at).collect::<Result<_, _>>()?;
    let mut shown: Vec<usize> =
        [n / 2, 3 * n / 4, n, 5 * n / 4, 3 * n / 2].into_iter().filter(|n| *n >= 2).collect();
    shown.dedup();
    let shown: Vec<Power> = shown.into_iter().map(at).collect::<Result<_, _>>()?;
    let notes = vec![
        Note::remark(
            "pairs-planned",
            "the number is for pairs: the same units read twice, with the standard deviation of \
             the difference",
            "two groups of units of their own need more: plan them with --second-sd; take the \
             standard deviation from a pilot, at its upper bound",
        ),
        Note::caution(
            "plan-on-the-true-difference",
            "the chance holds for the true difference given; a larger one can need many times the \
             pairs",
            "plan for the difference that is likely, not for zero (--true-difference)",
        ),
    ];
    let rows: Vec<Vec<String>> = shown
        .iter()
        .map(|p| vec![p.n.to_string(), digits(p.equivalence, 3), digits(p.difference, 3)])
        .collect();
    let method = "two one-sided t tests of pairs, power by noncentral t";
    let text = pairs(&[
        ("pairs needed", n.to_string()),
        ("margin", plain(margin, 5)),
        ("standard deviation of a difference", plain(sd, 5)),
        ("true difference", plain(truth, 5)),
        ("power, alpha", format!("{}, {alpha}", command.power)),
        ("method", method.to_owned()),
    ]) + "\nchance by number of pairs:\n"
        + &table(&["pairs", "equivalence is shown", "a difference of the margin is seen"], &rows);
    let json = json!({
        "design": "plan",
        "method": method,
        "n": n,
        "margin": number(margin),
        "sd": number(sd),
        "true_difference": number(truth),
        "power": number(command.power),
        "alpha": number(alpha),
        "chances": shown.iter().map(|p| json!({
            "n": p.n,
            "equivalence_shown": number(p.equivalence),
            "difference_seen": number(p.difference),
        })).collect::<Value>(),
    });
    let wording = format!(
        "{n} pairs show equivalence within {} with a chance of at least {} % ({method}, alpha \
         {alpha}), if the true difference is {} and the standard deviation of a difference {}.",
        plain(margin, 4),
        plain(command.power * 100.0, 3),
        plain(truth, 4),
        plain(sd, 4)
    );
    let statement = Statement {
        told: vec![Told::own(
            "number of pairs",
            method,
            Counted::stated("a stated scatter and difference; nothing is read yet"),
            vec![
                Assumption::unchecked(
                    "the standard deviation of a difference as stated",
                    "a pilot of pairs",
                    "take its upper bound from a pilot",
                ),
                Assumption::unchecked(
                    "normal differences",
                    "Shapiro-Wilk",
                    "there are no readings yet",
                ),
            ],
        )],
        text,
        json,
        assumptions: Vec::new(),
        wording,
        notes,
    };
    statement.finish(&command.figure, || vec![figure::power(command, &curve, n)])
}
