//! A statement: what every assessment has in common. Text and JSON, the
//! assumptions checked with their outcome, words for a report, notes, and the
//! figure.

use report::figure::Figure;
use serde_json::{Value, json};
use statistics::Assumption;
use study::Note;

use super::figure_option::FigureOption;
use crate::answer::{Answer, optional};
use crate::fault::Fault;
use crate::table_text::{paragraph, table};

/// An assessment before it becomes an answer.
pub struct Statement {
    /// Text for people.
    pub text: String,
    /// One JSON object, without the parts below.
    pub json: Value,
    /// Assumptions with their outcome.
    pub assumptions: Vec<Assumption>,
    /// Sentences that can stand in a report as they are.
    pub wording: String,
    /// Notes.
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
        let mut text = self.text;
        if !self.assumptions.is_empty() {
            text.push_str("\nassumptions:\n");
            let rows: Vec<Vec<String>> = self
                .assumptions
                .iter()
                .map(|a| vec![format!("{} ({})", a.name, a.test), outcome(a).to_owned()])
                .collect();
            text.push_str(&table(&["assumption and check", "outcome"], &rows));
            for assumption in self.assumptions.iter().filter(|a| a.held != Some(true)) {
                text.push_str(&format!("  {}: {}\n", assumption.name, assumption.finding));
            }
        }
        let wording = format!("{}{}", self.wording, checked(&self.assumptions));
        text.push_str("\nfor a report:\n");
        text.push_str(&paragraph(&wording, 2));
        let mut json = self.json;
        if let Value::Object(object) = &mut json {
            object.insert("assumptions".to_owned(), assumptions_json(&self.assumptions));
            object.insert("wording".to_owned(), Value::String(wording));
            if let Some(file) = &written {
                object.insert("figure".to_owned(), Value::String(file.clone()));
            }
        }
        if let Some(file) = &written {
            text.push_str(&format!("\nfigure: {file}\n"));
        }
        Ok(Answer::new(text, json, self.notes))
    }
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
    let mut text = String::new();
    if !good.is_empty() {
        text.push_str(&format!(" Checked without objection: {good}."));
    }
    if !bad.is_empty() {
        text.push_str(&format!(" Objection raised by: {bad}."));
    }
    text
}
