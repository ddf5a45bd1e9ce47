//! The claim on one page: sentence, conditions, what it leaves out, ladder.

use study::Case;

use super::claim::linked;
use super::signing::lines;
use super::wording::sentence;
use super::{Edition, RegisteredItem, answer, claim_evidence};
use crate::document::{Block, Column, DataTable, KeyValue, Section, Verdict, VerdictKind, Words};
use crate::ladder_figure::ladder_figure;

/// Height of the ladder before it is scaled, points.
const LADDER_HEIGHT: f64 = 172.0;
/// Width of the ladder on the page, points.
const LADDER_WIDTH: f64 = 300.0;

pub(super) fn sections(case: &Case, edition: &Edition) -> Vec<Section> {
    let claim = case.claim();
    let ladder = case.ladder();
    let (kind, word) = answer::outcome(case, &ladder);
    let verdict = match &claim.sentence {
        Some(_) => Verdict {
            kind,
            word,
            question: case.input.question.clone(),
            answer: linked(&claim.parts, claim_evidence::row_for),
            details: Vec::new(),
        },
        None => Verdict {
            kind: VerdictKind::Open,
            word: "nothing claimed".to_string(),
            question: case.input.question.clone(),
            answer: "Nothing is claimed.".into(),
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
            registered(edition)
        },
    ));
    facts.push(KeyValue::new("Signatures", signed(edition)));
    opening = opening.with(Block::KeyValues(facts));
    if let Some(table) = claim_evidence::table(case, &claim) {
        opening = opening.with(Block::Table(table));
    }
    if !claim.refusals.is_empty() {
        let mut table = DataTable::new(
            "refused",
            "What is refused, and what would support it",
            vec![Column::words("Refused", 1.0), Column::words("Would be supported by", 1.5)],
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

/// How the register stands, and how old the last checks are: the claim is for
/// controls and standards that are no older.
fn registered(edition: &Edition) -> String {
    let register = &edition.records.register;
    let usable: Vec<&RegisteredItem> =
        register.iter().filter(|item| item.is_checked_and_usable()).collect();
    let mut text =
        format!("{} registered, {} of them checked and usable", register.len(), usable.len());
    if let Some(oldest) = usable.iter().filter_map(|item| item.check_age_days).max() {
        text.push_str(&match oldest {
            0 => "; checked on the day of this page: the claim holds for none checked before"
                .to_string(),
            1 => "; last checks up to 1 day old: the claim holds for none older".to_string(),
            n => format!("; last checks up to {n} days old: the claim holds for none older"),
        });
    }
    text
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
