//! False rejection and missed leaks of a limit, and its guard band.

use serde_json::{Value, json};
use statistics::tolerance_limits::two_errors::{
    Population, ShareAbove, TwoErrors, balanced_limit, guarded_limit, judge_limit,
};
use study::Note;

use super::Limit;
use super::result::Found;
use crate::answer::{from_statistics, number};
use crate::fault::Fault;
use crate::table_text::{digits, plain, table};

/// Both errors at the limit, and at the limit that balances them.
pub struct Judged {
    /// Both errors at the limit.
    pub at_limit: TwoErrors,
    balanced: Option<TwoErrors>,
    confidence: f64,
}

/// Judges the limit by both errors, where the units with a leak were given.
pub fn judge(command: &Limit, found: &mut Found) -> Result<Option<Judged>, Fault> {
    let (Some(mean), Some(standard_deviation), Some(n)) =
        (command.leak_mean, command.leak_sd, command.leak_n)
    else {
        return Ok(None);
    };
    if !found.plain_scale {
        return Err(Fault::users(
            "both errors are judged on the scale of the readings, and this limit is on another",
            "use --method normal, or leave out --leak-mean",
        ));
    }
    let good =
        Population { mean: found.mean, standard_deviation: found.standard_deviation, n: found.n };
    let leaking = Population { mean, standard_deviation, n };
    let at_limit = judge_limit(found.limit, good, leaking, command.confidence)?;
    found.notes.extend(from_statistics(at_limit.notes.clone()));
    if found.lots.is_some() {
        found.notes.push(Note::caution(
            "errors-pool-lots",
            "the false-rejection share beside the limit takes all negative controls as one \
             population; the limit itself allows for lots",
            "read the share as that of the lots tested",
        ));
    }
    let balanced = match balanced_limit(good, leaking, command.confidence) {
        Ok(balanced) => Some(balanced),
        Err(refusal) => {
            found.notes.push(Note::refusal(
                "no-balanced-limit",
                refusal.to_string(),
                refusal.next_step(),
            ));
            None
        }
    };
    Ok(Some(Judged { at_limit, balanced, confidence: command.confidence }))
}

/// The limit drawn in by a guard band.
pub fn guarded(command: &Limit, limit: f64) -> Result<Option<f64>, Fault> {
    match command.uncertainty {
        None => Ok(None),
        Some(u) => Ok(Some(guarded_limit(limit, u, command.guard_risk)?)),
    }
}

fn percent(share: f64) -> String {
    format!("{} %", plain(share * 100.0, 3))
}

/// A share near 1 rounded down, so that no bound claims certainty.
fn lower_percent(share: f64) -> String {
    if share <= 0.99 {
        return percent(share);
    }
    if share > 0.999_999 {
        return "99.9999 %".to_owned();
    }
    format!("{:.4} %", (share * 1e6).floor() / 1e4)
}

impl Judged {
    fn rows(&self) -> Vec<(&'static str, &TwoErrors)> {
        let mut rows = vec![("this limit", &self.at_limit)];
        rows.extend(self.balanced.as_ref().map(|balanced| ("balanced limit", balanced)));
        rows
    }

    /// A table of both limits.
    pub fn text(&self) -> String {
        let rows: Vec<Vec<String>> = self
            .rows()
            .iter()
            .map(|(name, errors)| {
                vec![
                    (*name).to_owned(),
                    digits(errors.limit, 4),
                    percent(errors.false_rejection.share),
                    percent(errors.false_rejection.upper),
                    lower_percent(errors.detection.share),
                    lower_percent(errors.detection.lower),
                ]
            })
            .collect();
        table(&["", "limit", "false reject", "at most", "leaks found", "at least"], &rows)
    }

    /// As JSON.
    pub fn json(&self) -> Value {
        let share = |share: &ShareAbove| {
            json!({
                "share": number(share.share),
                "lower": number(share.lower),
                "upper": number(share.upper),
            })
        };
        let of = |errors: &TwoErrors| {
            json!({
                "limit": number(errors.limit),
                "false_rejection": share(&errors.false_rejection),
                "detection": share(&errors.detection),
            })
        };
        json!({
            "at_limit": of(&self.at_limit),
            "balanced": self.balanced.as_ref().map_or(Value::Null, of),
        })
    }

    /// One sentence for a report.
    pub fn wording(&self) -> String {
        format!(
            " At this limit at most {} of good units are rejected and at least {} of units with \
             the leak stated are found, each with {} confidence.",
            percent(self.at_limit.false_rejection.upper),
            lower_percent(self.at_limit.detection.lower),
            percent(self.confidence),
        )
    }
}
