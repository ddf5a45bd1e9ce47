//! Stages of the cycle, where a column of the file names them.

use study::trace::{Stage, StageSpan};

use super::rows::Rows;
use crate::codes;
use crate::message::{Message, Refusal, quoted};
use crate::reading_plan::{ReadingPlan, StagePlan};

/// The stages of the rows of one run. A stage lasts until the next begins; a
/// new tier begins with each evacuation that follows a measurement.
pub(super) fn spans(
    plan: &ReadingPlan,
    rows: &Rows,
    seconds: &[f64],
    range: core::ops::Range<usize>,
) -> Result<Vec<StageSpan>, Refusal> {
    let Some(stage_plan) = &plan.stage else { return Ok(Vec::new()) };
    let mut spans: Vec<StageSpan> = Vec::new();
    let mut tier = 1;
    // The word in force at the first row of the run, and every later one.
    let begun = rows.stages.partition_point(|(row, _)| *row <= range.start).saturating_sub(1);
    for (row, word) in rows.stages.iter().skip(begun).take_while(|(row, _)| *row < range.end) {
        let start_s = seconds[(*row).max(range.start)];
        if let Some(last) = spans.last_mut() {
            last.end_s = start_s;
        }
        let stage = meaning(stage_plan, word)
            .ok_or_else(|| unknown_word(stage_plan, word, rows.lines.of(*row)))?;
        let follows_measure = spans.last().is_some_and(|last| last.stage == Stage::Measure);
        if stage == Stage::Evacuate && follows_measure {
            tier += 1;
        }
        spans.push(StageSpan { stage, tier, start_s, end_s: seconds[range.end - 1] });
    }
    Ok(spans)
}

fn meaning(plan: &StagePlan, word: &str) -> Option<Stage> {
    plan.words.iter().find(|(known, _)| known.eq_ignore_ascii_case(word)).map(|&(_, stage)| stage)
}

fn unknown_word(plan: &StagePlan, word: &str, line: u64) -> Refusal {
    let known: Vec<String> = plan.words.iter().map(|(word, _)| quoted(word)).collect();
    let mut message = Message::refused(codes::UNKNOWN_TOKEN, format!("{} is not a stage", quoted(word)))
        .at_line(line)
        .done("Nothing was read.")
        .next(format!("The reading plan knows {}; state what the word means, such as stage = {{ column = {}, settle = {} }}.", known.join(", "), quoted(&plan.column), quoted(word)));
    message.place.column_name = Some(plan.column.clone());
    message.into()
}
