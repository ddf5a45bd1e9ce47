//! Answers: the same answer as text for people and as JSON for machines.

use std::io::Write;
use std::process::ExitCode;
use std::sync::Arc;

use serde_json::Value;
use study::{Note, Weight};

use crate::later_runs::{MARK, Waiting};

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
    /// Runs of long files that wait outside of memory, and the number of the first.
    later: Arc<(Vec<Waiting>, u64)>,
}

impl Answer {
    /// An answer whose notes are also put into its JSON object.
    pub fn new(text: impl Into<String>, json: Value, notes: Vec<Note>) -> Self {
        let mut json = json;
        if let Value::Object(object) = &mut json {
            object.insert("notes".to_owned(), notes_json(&notes));
        }
        Self { text: text.into(), json, notes, is_no: false, later: Arc::default() }
    }

    /// The same answer with further notes.
    pub fn with_notes(mut self, further: Vec<Note>) -> Self {
        self.notes.extend(further);
        if let Value::Object(object) = &mut self.json {
            object.insert("notes".to_owned(), notes_json(&self.notes));
        }
        self
    }

    /// The same answer with exit code 3: it is no.
    pub fn with_answer_no(mut self) -> Self {
        self.is_no = true;
        self
    }

    /// The same answer with runs that are printed where the text and the list of
    /// runs hold [`MARK`].
    pub fn with_later_runs(mut self, later: Vec<Waiting>, first: u64) -> Self {
        self.later = Arc::new((later, first));
        self
    }

    fn write_json(&self, out: &mut impl Write) -> std::io::Result<()> {
        let text = serde_json::to_string_pretty(&self.json).map_err(std::io::Error::other)?;
        let mark = serde_json::to_string(MARK).map_err(std::io::Error::other)?;
        let Some((before, after)) = text.split_once(&mark).filter(|_| !self.later.0.is_empty())
        else {
            return writeln!(out, "{text}");
        };
        out.write_all(before.as_bytes())?;
        let mut comma = "";
        self.each_later(|run| {
            write!(out, "{comma}{run}")?;
            comma = ",\n    ";
            Ok(())
        })?;
        writeln!(out, "{after}")
    }

    fn write_text(&self, out: &mut impl Write) -> std::io::Result<()> {
        let Some((before, after)) = self.text.split_once(MARK) else {
            return write!(out, "{}", crate::fault::clean(&self.text));
        };
        write!(out, "{}", crate::fault::clean(before))?;
        self.each_later(|run| {
            let word = |key: &str| run[key].as_str().unwrap_or("-").to_owned();
            let digits = |key: &str, n| crate::table_text::digits_or_dash(run[key].as_f64(), n);
            let line = format!(
                "{}  {}  {}  {}  {}  {}\n",
                run["number"],
                word("unit"),
                word("ended"),
                run["samples"],
                digits("rise_pa", 4),
                digits("slope_pa_per_s", 3)
            );
            write!(out, "{}", crate::fault::clean(&line))
        })?;
        write!(out, "{}", crate::fault::clean(after))
    }

    fn each_later(
        &self,
        mut take: impl FnMut(&Value) -> std::io::Result<()>,
    ) -> std::io::Result<()> {
        let (later, mut first) = (&self.later.0, self.later.1);
        for waiting in later {
            waiting.each(first, &mut take)?;
            first += waiting.n;
        }
        Ok(())
    }

    /// Prints the answer: the data on standard output, notes on standard error.
    pub fn print(&self, json: bool) -> ExitCode {
        let mut out = std::io::BufWriter::new(std::io::stdout().lock());
        let written = if json { self.write_json(&mut out) } else { self.write_text(&mut out) };
        let written = written.and_then(|()| out.flush());
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
