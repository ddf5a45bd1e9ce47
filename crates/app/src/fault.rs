//! Faults: what happened, whose fault it is, and one thing to do next.

use std::io::Write;
use std::process::ExitCode;

/// Whose fault it is; sets the exit code.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Kind {
    /// Something in the program: exit code 1.
    Ours,
    /// Something in what the user gave: exit code 2.
    Users,
    /// The answer is no: exit code 3.
    AnswerIsNo,
}

/// A fault as a person reads it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Fault {
    /// Whose fault it is.
    pub kind: Kind,
    /// What happened, with values.
    pub message: String,
    /// Further lines: one for each thing that is wrong.
    pub details: Vec<String>,
    /// One thing to do next; empty where there is none.
    pub hint: String,
}

impl Fault {
    /// The user can mend it.
    pub fn users(message: impl Into<String>, hint: impl Into<String>) -> Self {
        Self { kind: Kind::Users, message: message.into(), details: Vec::new(), hint: hint.into() }
    }

    /// The program is at fault.
    pub fn ours(message: impl Into<String>) -> Self {
        Self {
            kind: Kind::Ours,
            message: message.into(),
            details: Vec::new(),
            hint: "this should not happen; please report it with the command and the input"
                .to_owned(),
        }
    }

    /// The same fault with a line for each thing that is wrong.
    pub fn with_details(mut self, details: Vec<String>) -> Self {
        self.details = details;
        self
    }

    /// A file that could not be read.
    pub fn cannot_read(path: &std::path::Path, error: &std::io::Error) -> Self {
        Self::users(
            format!("cannot read `{}`: {error}", path.display()),
            "check the name and the permissions of the file",
        )
    }

    /// A file that could not be written.
    pub fn cannot_write(path: &std::path::Path, error: &std::io::Error) -> Self {
        Self::users(
            format!("cannot write `{}`: {error}", path.display()),
            "check that the folder exists, that it may be written and that the disk has room",
        )
    }

    /// Prints the fault on standard error and gives its exit code.
    pub fn print(&self, json: bool) -> ExitCode {
        let mut out = std::io::stderr().lock();
        // A closed standard error leaves nowhere to say so.
        let _ = if json {
            writeln!(out, "{}", self.json())
        } else {
            let mut text = format!("error: {}\n", clean(&self.message));
            for detail in &self.details {
                text.push_str(&format!("  - {}\n", clean(detail)));
            }
            if !self.hint.is_empty() {
                text.push_str(&format!("hint: {}\n", clean(&self.hint)));
            }
            write!(out, "{text}")
        };
        ExitCode::from(match self.kind {
            Kind::Ours => 1,
            Kind::Users => 2,
            Kind::AnswerIsNo => 3,
        })
    }

    fn json(&self) -> serde_json::Value {
        serde_json::json!({
            "error": self.message,
            "details": self.details,
            "hint": self.hint,
        })
    }
}

/// Control characters of a stranger's text must not steer the terminal.
pub fn clean(text: &str) -> String {
    text.chars().map(|c| if c.is_control() && c != '\n' { '\u{FFFD}' } else { c }).collect()
}

impl From<intake::written_quantity::QuantityError> for Fault {
    fn from(error: intake::written_quantity::QuantityError) -> Self {
        Self::users(format!("`{}`: {}", error.text, error.what), error.hint)
    }
}

impl From<physics::leak_paths::LeakPathError> for Fault {
    fn from(error: physics::leak_paths::LeakPathError) -> Self {
        Self::users(error.to_string(), "check the sizes, pressures and temperature")
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn escape_sequences_do_not_reach_the_terminal() {
        assert!(!clean("a\u{1b}[31mb").contains('\u{1b}'));
        assert_eq!(clean("two\nlines"), "two\nlines");
    }
}
