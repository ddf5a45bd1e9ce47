//! The limit as text, JSON and words, whatever it came from.

use serde_json::{Value, json};
use statistics::summaries::GroupSummary;
use statistics::tolerance_limits::UpperLimit;
use statistics::tolerance_limits::random_lots::LotLimit;
use statistics::tolerance_limits::two_errors::{SimpleRule, simple_rule};
use study::Note;

use super::two_errors::{self, Judged};
use super::{Limit, figure};
use crate::answer::{Answer, number, optional};
use crate::commands::assess::statement::Statement;
use crate::commands::assess::told::{Told, told};
use crate::fault::Fault;
use crate::table_text::{digits, pairs, plain, table};
use statistics::Assumption;

/// Everything that was found.
pub struct Found {
    /// Name of the method.
    pub method: String,
    /// What the figures rest on.
    pub basis: String,
    /// Values.
    pub n: usize,
    /// Their mean, on the scale of the method.
    pub mean: f64,
    /// Their standard deviation, on the scale of the method.
    pub standard_deviation: f64,
    /// Factor, where the method has one.
    pub factor: Option<f64>,
    /// Lower limit of a two-sided method.
    pub lower: Option<f64>,
    /// The limit.
    pub limit: f64,
    /// Groups with a limit each.
    pub groups: Vec<(GroupSummary, UpperLimit)>,
    /// Random lots.
    pub lots: Option<LotLimit>,
    /// Single readings with the name of their lot, in the order of the table.
    pub readings: Vec<(f64, String)>,
    /// Whether mean and deviation are in the unit of the readings.
    pub plain_scale: bool,
    /// The account of the limit.
    pub told: Told,
    /// Assumptions checked.
    pub assumptions: Vec<Assumption>,
    /// Notes.
    pub notes: Vec<Note>,
}

/// Values behind the rule of thumb whose cost is shown.
const RULE_N: usize = 10;

/// Turns what was found into the answer.
pub fn answer(command: &Limit, mut found: Found) -> Result<Answer, Fault> {
    let judged = two_errors::judge(command, &mut found)?;
    let guarded = two_errors::guarded(command, found.limit)?;
    let rule = simple_rule(RULE_N, 3.0, command.confidence)?;
    let mut accounts = vec![found.told.clone()];
    if let Some(judged) = &judged {
        accounts.push(told("both errors", &judged.at_limit));
    }
    let text = text(command, &found, judged.as_ref(), guarded, &rule);
    let json = json(command, &found, judged.as_ref(), guarded, &rule);
    let statement = Statement {
        told: accounts,
        text,
        json,
        assumptions: std::mem::take(&mut found.assumptions),
        wording: wording(command, &found, judged.as_ref()),
        notes: std::mem::take(&mut found.notes),
    };
    statement.finish(&command.figure, || figure::panels(command, &found, guarded))
}

fn percent(share: f64) -> String {
    format!("{} %", plain(share * 100.0, 3))
}

fn text(
    command: &Limit,
    found: &Found,
    judged: Option<&Judged>,
    guarded: Option<f64>,
    rule: &SimpleRule,
) -> String {
    let mut rows = vec![("limit", digits(found.limit, 4))];
    if let Some(lower) = found.lower {
        rows.push(("lower limit", digits(lower, 4)));
    }
    if let Some(guarded) = guarded {
        rows.push(("limit with guard band", digits(guarded, 4)));
    }
    rows.extend([
        ("basis", found.basis.clone()),
        ("method", found.method.clone()),
        ("values", found.n.to_string()),
    ]);
    if let Some(lots) = &found.lots {
        rows.push(("lots: the number that counts", lots.lots.to_string()));
    }
    rows.extend([
        ("mean", plain(found.mean, 5)),
        ("standard deviation", plain(found.standard_deviation, 4)),
    ]);
    if let Some(factor) = found.factor {
        rows.push(("factor", digits(factor, 5)));
    }
    rows.extend([
        ("content", format!("{}", command.content)),
        ("confidence", format!("{}", command.confidence)),
    ]);
    let mut text = pairs(&rows);
    if !found.groups.is_empty() {
        text.push_str("\nlimit of each group:\n");
        text.push_str(&table(
            &["group", "n", "mean", "sd", "factor", "limit"],
            &group_rows(&found.groups),
        ));
    }
    if let Some(lots) = &found.lots {
        text.push_str("\nlots:\n");
        let mut rows = vec![
            vec!["limit if lots were pooled".to_owned(), digits(lots.pooled_limit, 4)],
            vec![format!("limit for a future lot, {} lots", lots.lots), digits(lots.limit, 4)],
        ];
        for (count, limit) in &lots.with_more_lots {
            rows.push(vec![
                format!("expected with {count} lots, at the variances seen"),
                digits(*limit, 4),
            ]);
        }
        rows.push(vec![
            "lots differ: F, p".to_owned(),
            format!("{}, {}", digits(lots.f, 3), digits(lots.lots_differ_p_value, 2)),
        ]);
        text.push_str(&table(&["", "value"], &rows));
    }
    if let Some(judged) = judged {
        text.push_str("\nboth errors of the limit:\n");
        text.push_str(&judged.text());
    }
    text.push_str(&format!(
        "\n\"mean + 3 s of {RULE_N}\" would reject {} of good units on average, up to {} at {} \
         confidence; {} is what is usually believed.\n",
        percent(rule.mean_false_rejection),
        percent(rule.bound_false_rejection),
        percent(rule.confidence),
        percent(rule.believed_false_rejection),
    ));
    text
}

fn group_rows(groups: &[(GroupSummary, UpperLimit)]) -> Vec<Vec<String>> {
    groups
        .iter()
        .map(|(group, limit)| {
            vec![
                group.label.clone(),
                group.n.to_string(),
                plain(group.mean, 4),
                plain(group.standard_deviation, 4),
                digits(limit.factor, 4),
                digits(limit.limit, 4),
            ]
        })
        .collect()
}

fn json(
    command: &Limit,
    found: &Found,
    judged: Option<&Judged>,
    guarded: Option<f64>,
    rule: &SimpleRule,
) -> Value {
    json!({
        "method": found.method,
        "basis": found.basis,
        "n": found.n,
        "mean": number(found.mean),
        "standard_deviation": number(found.standard_deviation),
        "factor": optional(found.factor),
        "lower_limit": optional(found.lower),
        "limit": number(found.limit),
        "guarded_limit": optional(guarded),
        "content": number(command.content),
        "confidence": number(command.confidence),
        "groups": found.groups.iter().map(|(group, limit)| json!({
            "group": group.label,
            "n": group.n,
            "mean": number(group.mean),
            "standard_deviation": number(group.standard_deviation),
            "factor": number(limit.factor),
            "limit": number(limit.limit),
        })).collect::<Value>(),
        "lots": found.lots.as_ref().map_or(Value::Null, |lots| json!({
            "lots": lots.lots,
            "pooled_limit": number(lots.pooled_limit),
            "between_variance": number(lots.between_variance),
            "within_variance": number(lots.within_variance),
            "f": number(lots.f),
            "p_value": number(lots.lots_differ_p_value),
            "with_more_lots": lots.with_more_lots.iter().map(|(lots, limit)| json!({
                "lots": lots,
                "limit": number(*limit),
            })).collect::<Value>(),
        })),
        "two_errors": judged.map_or(Value::Null, Judged::json),
        "simple_rule": {
            "n": RULE_N,
            "mean_false_rejection": number(rule.mean_false_rejection),
            "bound_false_rejection": number(rule.bound_false_rejection),
            "believed_false_rejection": number(rule.believed_false_rejection),
        },
    })
}

fn wording(command: &Limit, found: &Found, judged: Option<&Judged>) -> String {
    let share = format!(
        "With {} confidence at least {} of the population",
        percent(command.confidence),
        percent(command.content)
    );
    let place = match found.lower {
        Some(lower) => {
            format!("lies between {} and {}", digits(lower, 4), digits(found.limit, 4))
        }
        None => format!("reads below {}", digits(found.limit, 4)),
    };
    let basis = match &found.lots {
        Some(lots) => format!(
            "{} negative controls of {} lots; the statement is for a unit of a future lot",
            found.n, lots.lots
        ),
        None => format!("{} negative controls taken as one population", found.n),
    };
    let errors = judged.map_or_else(String::new, Judged::wording);
    format!("{share} {place} ({}; {basis}).{errors}", found.method)
}
