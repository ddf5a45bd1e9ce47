//! The claim on one page: sentence, conditions, what it leaves out, ladder.

use study::Case;

use super::signing::lines;
use super::wording::sentence;
use super::{Edition, answer};
use crate::document::{Block, Column, DataTable, KeyValue, Section, Verdict, VerdictKind, Words};
use crate::ladder_figure::ladder_figure;

/// Height of the ladder before it is scaled, points.
const LADDER_HEIGHT: f64 = 250.0;
/// Width of the ladder on the page, points.
const LADDER_WIDTH: f64 = 330.0;

pub(super) fn sections(case: &Case, edition: &Edition) -> Vec<Section> {
    let claim = case.claim();
    let ladder = case.ladder();
    let (kind, word) = answer::outcome(case, &ladder);
    let verdict = match &claim.sentence {
        Some(text) => Verdict {
            kind,
            word,
            question: case.input.question.clone(),
            answer: text.clone(),
            details: Vec::new(),
        },
        None => Verdict {
            kind: VerdictKind::Open,
            word: "nothing claimed".to_string(),
            question: case.input.question.clone(),
            answer: "Nothing is claimed.".to_string(),
            details: claim.refusals.iter().map(|note| Words::from(sentence(&note.text))).collect(),
        },
    };
    let mut figure = ladder_figure(&ladder, "ladder", LADDER_HEIGHT);
    figure.width_pt = LADDER_WIDTH;
    let mut opening = Section::new("claim", "").with(Block::Verdict(verdict));
    opening = opening.with(Block::Figure(figure));
    let mut facts = vec![KeyValue::new("Holds for", sentence(&claim.conditions.join("; ")))];
    facts.push(KeyValue::new("Does not cover", sentence(&claim.not_covered.join("; "))));
    let register = &edition.records.register;
    facts.push(KeyValue::new(
        "Controls and standards",
        if register.is_empty() {
            "none in the register: age and last check of the positive controls are not known"
                .to_string()
        } else {
            format!(
                "{} registered, {} of them checked and usable",
                register.len(),
                edition.records.kept(None).checked_items
            )
        },
    ));
    facts.push(KeyValue::new("Signatures", signed(edition)));
    opening = opening.with(Block::KeyValues(facts));
    if !claim.refusals.is_empty() {
        let mut table = DataTable::new(
            "refused",
            "What is refused, and what would support it",
            vec![Column::words("Refused", 1.2), Column::words("Would be supported by", 1.0)],
        );
        for note in &claim.refusals {
            table.push([sentence(&note.text), sentence(&note.next_step)]);
        }
        opening = opening.with(Block::Table(table));
    }
    vec![opening.with(lines([
        ("Author", "drew the claim from the study"),
        ("Reviewer", "checked it against the study report"),
        ("Quality unit", "agrees to its use as stated"),
    ]))]
}

fn signed(edition: &Edition) -> String {
    let records = &edition.records;
    if let Some(first) = records.findings.first() {
        return format!("not signed: the benchbook is not as it was written ({first})");
    }
    match records.standing() {
        0 => "not signed in the benchbook".to_string(),
        _ => {
            let names: Vec<String> = records
                .signatures
                .iter()
                .filter(|signature| signature.stands)
                .map(|signature| {
                    format!("{} by {} at {}", signature.meaning, signature.name, signature.at)
                })
                .collect();
            names.join("; ")
        }
    }
}
