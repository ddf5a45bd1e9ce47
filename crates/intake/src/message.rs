//! What a reader says about a file: a code, what it saw, where, what it did
//! with it, and what the user can do.
//!
//! Nothing is repaired silently: every interpretation that a reader makes is
//! a message, and a refusal is one too.

use core::fmt;

/// How much a message matters.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Severity {
    /// The file was read; this is how.
    Remark,
    /// The file was read, but the user should look before trusting it.
    Warning,
    /// The file, or this part of it, was not read.
    Refused,
}

impl Severity {
    /// The word that is printed.
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            Self::Remark => "remark",
            Self::Warning => "warning",
            Self::Refused => "refused",
        }
    }
}

/// Where in a file something was seen; what is not known stays empty.
#[derive(Debug, Clone, PartialEq, Eq, Default, Hash)]
pub struct Place {
    /// Line, counted from 1.
    pub line: Option<u64>,
    /// Column of a table, counted from 1; in plain text the character.
    pub column: Option<u64>,
    /// Name of the column, as the file writes it.
    pub column_name: Option<String>,
    /// Byte, counted from 0.
    pub byte: Option<u64>,
    /// Sheet of a workbook: line and column are then its row and column.
    pub sheet: Option<String>,
    /// Row of a Parquet file, counted from 1 over all row groups; it has no lines.
    pub row: Option<u64>,
    /// Row group of a Parquet file, counted from 1.
    pub row_group: Option<u64>,
}

impl Place {
    /// A whole line.
    #[must_use]
    pub fn line(line: u64) -> Self {
        Self { line: Some(line), ..Self::default() }
    }

    /// The place in a sheet of a workbook, whose text began at a column.
    #[must_use]
    pub fn in_sheet(mut self, sheet: &str, columns_before: u64) -> Self {
        self.column = self.column.map(|column| column + columns_before);
        // What stands in the text made of the sheet stands nowhere in the file.
        self.byte = None;
        self.sheet = Some(sheet.to_owned());
        self
    }

    /// The place in a Parquet file whose row groups have so many rows; the text
    /// made of it has a header line before them.
    #[must_use]
    pub fn in_row_groups(mut self, row_groups: &[u64]) -> Self {
        self.byte = None;
        let Some(row) = self.line.take().and_then(|line| line.checked_sub(1)) else { return self };
        let mut before = 0;
        for (number, n_rows) in row_groups.iter().enumerate() {
            before += n_rows;
            if row >= 1 && row <= before {
                self.row = Some(row);
                self.row_group = Some(number as u64 + 1);
                break;
            }
        }
        self
    }

    /// True where nothing is known of the place.
    #[must_use]
    pub fn is_unknown(&self) -> bool {
        *self == Self::default()
    }
}

impl fmt::Display for Place {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let mut parts = Vec::new();
        if let Some(sheet) = &self.sheet {
            parts.push(format!("sheet \"{sheet}\""));
            if let (Some(line), Some(column)) = (self.line, self.column) {
                parts.push(format!("cell {}{line}", column_letters(column)));
            }
        }
        if let Some(line) = self.line {
            let word = if self.sheet.is_some() { "row" } else { "line" };
            parts.push(format!("{word} {line}"));
        }
        if let (Some(group), Some(row)) = (self.row_group, self.row) {
            parts.push(format!("row group {group}, row {row}"));
        }
        if let Some(column) = self.column {
            parts.push(format!("column {column}"));
        }
        if let Some(name) = &self.column_name {
            parts.push(format!("\"{name}\""));
        }
        if let Some(byte) = self.byte {
            parts.push(format!("byte {byte}"));
        }
        f.write_str(&parts.join(", "))
    }
}

/// Letters of a column, as spreadsheets count: A to Z, AA and on.
fn column_letters(column: u64) -> String {
    let mut letters = Vec::new();
    let mut left = column;
    while left > 0 {
        left -= 1;
        letters.push(char::from(b'A' + (left % 26) as u8));
        left /= 26;
    }
    letters.iter().rev().collect()
}

/// One coded message about a file.
///
/// The code stays the same for ever; the wording may improve. Codes are
/// listed in [`crate::codes`].
///
/// # Example
/// ```
/// use intake::message::Message;
/// let message = Message::refused("INT-010", "Both \",\" and \".\" mark decimals")
///     .at_line(7)
///     .in_column(2, "p [mbar]")
///     .done("Nothing was read.")
///     .next("Export the file again with one decimal mark.");
/// assert_eq!(
///     message.to_string(),
///     "INT-010 refused: Both \",\" and \".\" mark decimals (line 7, column 2, \"p [mbar]\"). \
///      Nothing was read. Export the file again with one decimal mark."
/// );
/// ```
#[derive(Debug, Clone, PartialEq, Eq, Hash)]
pub struct Message {
    /// Stable code, such as `INT-012`.
    pub code: &'static str,
    /// How much it matters.
    pub severity: Severity,
    /// What was seen.
    pub what: String,
    /// Where it was seen.
    pub place: Place,
    /// What the reader did with it.
    pub done: String,
    /// What the user can do.
    pub next_step: String,
}

impl Message {
    fn new(code: &'static str, severity: Severity, what: impl Into<String>) -> Self {
        Self {
            code,
            severity,
            what: what.into(),
            place: Place::default(),
            done: String::new(),
            next_step: String::new(),
        }
    }

    /// A message that stops the reading.
    #[must_use]
    pub fn refused(code: &'static str, what: impl Into<String>) -> Self {
        Self::new(code, Severity::Refused, what)
    }

    /// A message that asks the user to look.
    #[must_use]
    pub fn warning(code: &'static str, what: impl Into<String>) -> Self {
        Self::new(code, Severity::Warning, what)
    }

    /// A message that says how the file was read.
    #[must_use]
    pub fn remark(code: &'static str, what: impl Into<String>) -> Self {
        Self::new(code, Severity::Remark, what)
    }

    /// Adds the line, counted from 1.
    #[must_use]
    pub fn at_line(mut self, line: u64) -> Self {
        self.place.line = Some(line);
        self
    }

    /// Adds the character within the line, counted from 1.
    #[must_use]
    pub fn at_column(mut self, column: u64) -> Self {
        self.place.column = Some(column);
        self
    }

    /// Adds the column of a table, counted from 1, with its name.
    #[must_use]
    pub fn in_column(mut self, column: u64, name: &str) -> Self {
        self.place.column = Some(column);
        if !name.is_empty() {
            self.place.column_name = Some(name.to_owned());
        }
        self
    }

    /// The same at another place.
    #[must_use]
    pub fn placed(mut self, place: impl Fn(Place) -> Place) -> Self {
        self.place = place(self.place);
        self
    }

    /// Adds the byte, counted from 0.
    #[must_use]
    pub fn at_byte(mut self, byte: u64) -> Self {
        self.place.byte = Some(byte);
        self
    }

    /// Says what the reader did, as a whole sentence.
    #[must_use]
    pub fn done(mut self, done: impl Into<String>) -> Self {
        self.done = done.into();
        self
    }

    /// Says what the user can do, as a whole sentence.
    #[must_use]
    pub fn next(mut self, next_step: impl Into<String>) -> Self {
        self.next_step = next_step.into();
        self
    }

    /// True where the message stops the reading.
    #[must_use]
    pub fn is_refusal(&self) -> bool {
        self.severity == Severity::Refused
    }
}

impl fmt::Display for Message {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{} {}: {}", self.code, self.severity.word(), self.what)?;
        if !self.place.is_unknown() {
            write!(f, " ({})", self.place)?;
        }
        f.write_str(".")?;
        for sentence in [&self.done, &self.next_step] {
            if !sentence.is_empty() {
                write!(f, " {sentence}")?;
            }
        }
        Ok(())
    }
}

/// Why something was not read: one message or several, the first that
/// refuses leads.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Refusal {
    messages: Vec<Message>,
}

impl Refusal {
    /// From messages of which at least one refuses; where none does, the
    /// reading was stopped without a reason and that is said.
    #[must_use]
    pub fn of(mut messages: Vec<Message>) -> Self {
        if !messages.iter().any(Message::is_refusal) {
            messages.push(Message::refused("INT-013", "The reading was stopped"));
        }
        Self { messages }
    }

    /// Every message, in the order in which things were seen.
    #[must_use]
    pub fn messages(&self) -> &[Message] {
        &self.messages
    }

    /// Gives the messages away.
    #[must_use]
    pub fn into_messages(self) -> Vec<Message> {
        self.messages
    }

    /// The same with other places, for text that was made of something else.
    #[must_use]
    pub fn placed(self, place: impl Fn(Place) -> Place) -> Self {
        Self { messages: self.messages.into_iter().map(|message| message.placed(&place)).collect() }
    }

    /// Puts what was noticed before in front.
    #[must_use]
    pub fn after(mut self, mut noticed: Vec<Message>) -> Self {
        noticed.append(&mut self.messages);
        Self { messages: noticed }
    }

    /// The first message that refuses.
    #[must_use]
    pub fn first(&self) -> &Message {
        self.messages.iter().find(|message| message.is_refusal()).unwrap_or(&self.messages[0])
    }

    /// The code of the first message that refuses.
    #[must_use]
    pub fn code(&self) -> &'static str {
        self.first().code
    }
}

impl From<Message> for Refusal {
    fn from(message: Message) -> Self {
        Self::of(vec![message])
    }
}

impl fmt::Display for Refusal {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let refusals = self.messages.iter().filter(|message| message.is_refusal());
        for (index, message) in refusals.enumerate() {
            if index > 0 {
                f.write_str("\n")?;
            }
            write!(f, "{message}")?;
        }
        Ok(())
    }
}

impl core::error::Error for Refusal {}

/// Text of the file, cut to a length that a message can carry, with control
/// characters made visible so that a file cannot write to the terminal.
#[must_use]
pub fn quoted(text: &str) -> String {
    const LONGEST: usize = 60;
    let mut shown: String = text
        .chars()
        .take(LONGEST)
        .flat_map(|c| {
            let hidden = c.is_control() || matches!(c, '\u{200b}'..='\u{200f}' | '\u{2028}'..='\u{202e}' | '\u{2066}'..='\u{2069}' | '\u{feff}');
            let parts: Vec<char> =
                if hidden { c.escape_unicode().collect() } else { vec![c] };
            parts
        })
        .collect();
    if text.chars().nth(LONGEST).is_some() {
        shown.push_str("...");
    }
    format!("\"{shown}\"")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_message_without_a_place_has_no_brackets() {
        let text = Message::remark("INT-001", "A mark was stripped").to_string();
        assert_eq!(text, "INT-001 remark: A mark was stripped.");
    }

    #[test]
    fn a_file_cannot_send_commands_to_the_terminal() {
        assert_eq!(quoted("a\u{1b}[2Jb"), "\"a\\u{1b}[2Jb\"");
        assert_eq!(quoted("\u{202e}txt"), "\"\\u{202e}txt\"");
        assert_eq!(quoted(&"x".repeat(100)).len(), 60 + 3 + 2);
    }

    #[test]
    fn places_of_sheets_and_row_groups() {
        let at = |line| Place { line: Some(line), column: Some(28), ..Place::default() };
        let cell = at(7).in_sheet("runs", 0).to_string();
        assert_eq!(cell, "sheet \"runs\", cell AB7, row 7, column 28");
        // Line 4 is the third row, the first of the second group.
        let row = at(4).in_row_groups(&[2, 5]).to_string();
        assert_eq!(row, "row group 2, row 3, column 28");
        // The header stands in no row group.
        assert_eq!(at(1).in_row_groups(&[2]).to_string(), "column 28");
    }

    #[test]
    fn a_refusal_outranks_a_warning() {
        assert!(Severity::Refused > Severity::Warning && Severity::Warning > Severity::Remark);
    }
}
