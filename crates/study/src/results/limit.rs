//! Reject limit from negative controls: product-filled units without a leak.
//! Blanks and dummies diagnose the rig and never enter here.

use statistics::summaries::GroupSummary;
use statistics::tolerance_limits::random_lots::{self, Pivot};
use statistics::tolerance_limits::upper_limit_from_values;

use super::{DayFigures, RejectLimit, units};
use crate::case_input::CaseInput;
use crate::notes::Note;
use crate::runs::{Run, RunClass};

pub(super) fn from_negative_controls(
    input: &CaseInput,
    runs: &[Run],
    notes: &mut Vec<Note>,
) -> Option<RejectLimit> {
    let purpose = &input.profile.purpose;
    let all: Vec<&Run> = runs.iter().filter(|run| run.class == RunClass::NegativeControl).collect();
    let censored = all.iter().filter(|run| run.ended.by_limit()).count();
    if censored > 0 {
        notes.push(Note::caution(
            "negative-control-ended-by-limit",
            format!("{censored} negative controls were ended by a limit and have no rise"),
            "find out whether these units leak before the limit is used",
        ));
    }
    let read = |run: &Run| run.features.is_some();
    let controls = units::first_of_each(all.into_iter(), read, "negative controls", notes);
    let rises: Vec<f64> =
        controls.iter().filter_map(|run| run.features.as_ref()).map(|f| f.rise_pa).collect();
    let content = 1.0 - purpose.tolerable_false_reject.fraction();
    let confidence = purpose.confidence.fraction();
    let limit = match upper_limit_from_values(&rises, content, confidence) {
        Ok(limit) => limit,
        Err(error) => {
            notes.push(Note::refusal(
                "no-limit",
                format!("no reject limit can be said: {error}"),
                "test more negative controls, over several days and lots",
            ));
            return None;
        }
    };
    notes.extend(limit.notes.into_iter().map(Note::from));
    let by_day = by_day(&controls);
    warn_about_days(&by_day, &controls, (content, confidence), notes);
    Some(RejectLimit {
        limit_pa: limit.limit,
        method: limit.method,
        n: limit.n,
        mean_pa: limit.mean,
        standard_deviation_pa: limit.standard_deviation,
        factor: limit.factor,
        content,
        confidence,
        by_day,
    })
}

fn by_day(controls: &[&Run]) -> Vec<DayFigures> {
    let mut days: std::collections::BTreeMap<u32, Vec<f64>> = std::collections::BTreeMap::new();
    for run in controls {
        if let Some(features) = &run.features {
            days.entry(run.day).or_default().push(features.rise_pa);
        }
    }
    days.into_iter()
        .filter_map(|(day, rises)| {
            Some(DayFigures {
                day,
                mean_pa: digits::sums::mean(&rises)?,
                standard_deviation_pa: digits::sums::standard_deviation(&rises),
                n: rises.len(),
            })
        })
        .collect()
}

/// A limit from pooled days holds for a future day only where days agree.
fn warn_about_days(
    days: &[DayFigures],
    controls: &[&Run],
    (content, confidence): (f64, f64),
    notes: &mut Vec<Note>,
) {
    let groups: Vec<GroupSummary> = days
        .iter()
        .filter_map(|day| {
            Some(GroupSummary {
                label: format!("day {}", day.day),
                mean: day.mean_pa,
                standard_deviation: day.standard_deviation_pa?,
                n: day.n,
            })
        })
        .collect();
    if groups.len() < 2 {
        notes.push(Note::caution(
            "one-day",
            "the negative controls come from one day, so the spread between days is unknown",
            "repeat on at least two more days and lots before the limit is fixed",
        ));
        return;
    }
    if let Ok(test) = statistics::summaries::groups_differ(&groups)
        && test.p_value < 0.05
    {
        notes.push(Note::caution(
            "days-differ",
            format!(
                "days differ (p = {}): a limit from pooled days promises more than it holds{}",
                crate::wording::rounded(test.p_value),
                future_day(controls, content, confidence)
            ),
            "add days or lots; more units on the same days do not help",
        ));
    }
}

/// The limit for a unit of a day to come, days taken as drawn at random, as the
/// end of a sentence; nothing where some day holds a single unit.
fn future_day(controls: &[&Run], content: f64, confidence: f64) -> String {
    let mut days: std::collections::BTreeMap<u32, Vec<f64>> = std::collections::BTreeMap::new();
    for run in controls {
        days.entry(run.day).or_default().extend(run.features.as_ref().map(|f| f.rise_pa));
    }
    let lots: Vec<Vec<f64>> = days.into_values().collect();
    match random_lots::upper_limit(&lots, content, confidence, Pivot::Graded) {
        Ok(found) => format!(
            "; for a unit of a day to come, the {} days taken as drawn at random, the limit is {} Pa",
            found.lots,
            crate::wording::rounded(found.limit)
        ),
        Err(_) => String::new(),
    }
}
