//! A statement: what every assessment has in common. Text and JSON, the
//! assumptions checked with their outcome, words for a report, notes, and the
//! figure.

use report::figure::Figure;
use serde_json::{Value, json};
use statistics::Assumption;
use study::Note;

use super::figure_option::FigureOption;
use super::told::{Told, joined};
use crate::answer::{Answer, optional};
use crate::fault::Fault;
use crate::table_text::{paragraph, table};

/// An assessment before it becomes an answer.
pub struct Statement {
    /// Accounts of the results, the one that was asked for first.
    pub told: Vec<Told>,
    /// Text for people.
    pub text: String,
    /// One JSON object, without the parts below.
    pub json: Value,
    /// Assumptions that the command checked beside those of the accounts.
    pub assumptions: Vec<Assumption>,
    /// Sentences that can stand in a report as they are.
    pub wording: String,
    /// Notes beside those of the accounts.
    pub notes: Vec<Note>,
}

impl Statement {
    /// The answer, with its figure written where one is wanted.
    pub fn finish(
        self,
        figure: &FigureOption,
        panels: impl FnOnce() -> Vec<Figure>,
    ) -> Result<Answer, Fault> {
        let written = figure.write(panels)?;
        let assumptions = joined(self.assumptions, &self.told);
        let notes = notes(self.notes, &self.told);
        let mut text = self.text;
        if !self.told.is_empty() {
            text.push_str("\nmethod, and the number that counts:\n");
            for told in &self.told {
                let line = format!("{}: {}; {}", told.result, told.method, told.counts());
                text.push_str(&paragraph(&line, 2));
            }
        }
        if !assumptions.is_empty() {
            text.push_str("\nassumptions:\n");
            let rows: Vec<Vec<String>> = assumptions
                .iter()
                .map(|a| vec![format!("{} ({})", a.name, a.test), outcome(a).to_owned()])
                .collect();
            text.push_str(&table(&["assumption and check", "outcome"], &rows));
            for assumption in assumptions.iter().filter(|a| a.held != Some(true)) {
                let line = format!("{}: {}", assumption.name, assumption.finding);
                text.push_str(&paragraph(&line, 2));
            }
        }
        let counts = self
            .told
            .first()
            .map_or_else(String::new, |told| format!(" What counts: {}.", told.counts()));
        let wording =
            format!("{}{counts}{}{}", self.wording, checked(&assumptions), qualified(&notes));
        text.push_str("\nfor a report:\n");
        text.push_str(&paragraph(&wording, 2));
        let mut json = self.json;
        if let Value::Object(object) = &mut json {
            object.insert("assumptions".to_owned(), assumptions_json(&assumptions));
            object.insert("accounts".to_owned(), self.told.iter().map(account_json).collect());
            if let Some(first) = self.told.first() {
                // Commands that answer with a number of their own keep it.
                object.entry("method").or_insert_with(|| Value::from(first.method.clone()));
                object.entry("n").or_insert_with(|| count(first.counted.number));
            }
            object.insert("wording".to_owned(), Value::String(wording));
            if let Some(file) = &written {
                object.insert("figure".to_owned(), Value::String(file.clone()));
            }
        }
        if let Some(file) = &written {
            text.push_str(&format!("\nfigure: {file}\n"));
        }
        Ok(Answer::new(text, json, notes))
    }
}

/// Notes of the command, and of the accounts where the command has none of
/// that code.
fn notes(mut list: Vec<Note>, told: &[Told]) -> Vec<Note> {
    let own: Vec<_> = list.iter().map(|note| note.code.clone()).collect();
    for note in told.iter().flat_map(|told| &told.notes) {
        if !own.contains(&note.code) && !list.contains(note) {
            list.push(note.clone());
        }
    }
    list
}

/// Cautions without which the sentence for a report would claim too much: who
/// pastes it takes them along.
const QUALIFYING: [&str; 9] = [
    "units-repeated",
    "lots-not-used",
    "bound-extrapolated",
    "no-inverse",
    "no-detection-limit",
    "challenges-repeated",
    "extrapolated",
    "repeats-as-error",
    "critical-beyond-sizes",
];

/// These cautions as one sentence; empty where there is none.
fn qualified(notes: &[Note]) -> String {
    let mut texts: Vec<&str> = Vec::new();
    for note in notes.iter().filter(|note| QUALIFYING.contains(&note.code.as_str())) {
        // Two refusals for one reason are one.
        let text = note.text.trim_end_matches('.');
        if !texts.contains(&text) {
            texts.push(text);
        }
    }
    if texts.is_empty() {
        return String::new();
    }
    format!(" Qualified: {}.", texts.join("; "))
}

/// A count without a decimal point where it is a whole number.
fn count(number: Option<f64>) -> Value {
    match number {
        Some(whole) if whole.fract() == 0.0 && whole < 9e15 => Value::from(whole as u64),
        other => optional(other),
    }
}

fn account_json(told: &Told) -> Value {
    json!({
        "result": told.result,
        "method": told.method,
        "counted": count(told.counted.number),
        "of": told.counted.what,
    })
}

fn outcome(assumption: &Assumption) -> &'static str {
    match assumption.held {
        Some(true) => "nothing against it",
        Some(false) => "does not hold",
        None => "not checked",
    }
}

fn assumptions_json(assumptions: &[Assumption]) -> Value {
    assumptions
        .iter()
        .map(|assumption| {
            json!({
                "name": assumption.name,
                "test": assumption.test,
                "p_value": optional(assumption.p_value),
                "held": assumption.held,
                "finding": assumption.finding,
            })
        })
        .collect()
}

/// One sentence on what was checked; empty where nothing was.
fn checked(assumptions: &[Assumption]) -> String {
    let of = |held: Option<bool>| {
        let mut names: Vec<&str> =
            assumptions.iter().filter(|a| a.held == held).map(|a| a.test).collect();
        // One test of two groups is named once.
        names.dedup();
        names.join(", ")
    };
    let (good, bad) = (of(Some(true)), of(Some(false)));
    let open: Vec<&str> = assumptions.iter().filter(|a| a.held.is_none()).map(|a| a.name).collect();
    let mut text = String::new();
    if !good.is_empty() {
        text.push_str(&format!(" Checked without objection: {good}."));
    }
    if !bad.is_empty() {
        text.push_str(&format!(" Objection raised by: {bad}."));
    }
    if !open.is_empty() {
        text.push_str(&format!(" Supposed and not checked: {}.", open.join("; ")));
    }
    text
}
