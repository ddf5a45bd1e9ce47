//! Answers: the same answer as text for people and as JSON for machines.

use std::io::Write;
use std::process::ExitCode;

use serde_json::Value;
use study::{Note, Weight};

/// What a command has to say.
#[derive(Debug, Clone)]
pub struct Answer {
    /// Text for people, ending with a line break.
    pub text: String,
    /// One JSON object; keys carry units.
    pub json: Value,
    /// Notes: printed on standard error, and part of the JSON object.
    pub notes: Vec<Note>,
    /// The answer is no: exit code 3.
    is_no: bool,
}

impl Answer {
    /// An answer whose notes are also put into its JSON object.
    pub fn new(text: impl Into<String>, json: Value, notes: Vec<Note>) -> Self {
        let mut json = json;
        if let Value::Object(object) = &mut json {
            object.insert("notes".to_owned(), notes_json(&notes));
        }
        Self { text: text.into(), json, notes, is_no: false }
    }

    /// The same answer with exit code 3: it is no.
    pub fn with_answer_no(mut self) -> Self {
        self.is_no = true;
        self
    }

    /// Prints the answer: the data on standard output, notes on standard error.
    pub fn print(&self, json: bool) -> ExitCode {
        let mut out = std::io::stdout().lock();
        let written = if json {
            serde_json::to_string_pretty(&self.json)
                .map_err(std::io::Error::other)
                .and_then(|text| writeln!(out, "{text}"))
        } else {
            write!(out, "{}", crate::fault::clean(&self.text))
        };
        // A reader that closed the pipe has what it wanted.
        let code = if self.is_no { ExitCode::from(3) } else { ExitCode::SUCCESS };
        if written.is_err() {
            return code;
        }
        if !json && !self.notes.is_empty() {
            let _ = out.flush();
            let mut err = std::io::stderr().lock();
            let _ = writeln!(err);
            for note in &self.notes {
                let _ = write!(err, "{}", crate::fault::clean(&note_text(note)));
            }
        }
        code
    }
}

/// A note as lines of text.
pub fn note_text(note: &Note) -> String {
    let mut text = format!("{} [{}]: {}\n", note.weight.word(), note.code, note.text);
    if !note.next_step.is_empty() {
        text.push_str(&format!("  next: {}\n", note.next_step));
    }
    text
}

/// Notes as JSON.
pub fn notes_json(notes: &[Note]) -> Value {
    notes
        .iter()
        .map(|note| {
            serde_json::json!({
                "code": note.code,
                "weight": match note.weight {
                    Weight::Remark => "remark",
                    Weight::Caution => "caution",
                    Weight::Refusal => "refusal",
                },
                "text": note.text,
                "next_step": note.next_step,
            })
        })
        .collect()
}

/// A number for JSON: null where it cannot be said, never NaN.
pub fn number(value: f64) -> Value {
    serde_json::Number::from_f64(value).map_or(Value::Null, Value::Number)
}

/// An optional number for JSON.
pub fn optional(value: Option<f64>) -> Value {
    value.map_or(Value::Null, number)
}

/// Turns statistical notes into notes of the study.
pub fn from_statistics(notes: Vec<statistics::note::Note>) -> Vec<Note> {
    notes.into_iter().map(Note::from).collect()
}
