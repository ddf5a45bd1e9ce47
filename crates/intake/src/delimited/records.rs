//! Lines of a text, where a quoted cell may run over several lines.

use crate::codes;
use crate::message::{Message, Refusal};

/// No line is longer than this: 1 MiB.
pub const LONGEST_LINE_BYTES: usize = 1 << 20;

/// One record: a line, or several that a quoted cell joins.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Record<'a> {
    /// Line on which it begins, counted from 1.
    pub line: u64,
    /// Byte of the decoded text at which it begins.
    pub byte: usize,
    /// The text without its line end.
    pub text: &'a str,
}

impl Record<'_> {
    /// True where nothing but blanks and separators stands on the line.
    #[must_use]
    pub fn is_blank(&self) -> bool {
        self.text.bytes().all(|byte| matches!(byte, b' ' | b'\t' | b',' | b';' | b'|'))
    }
}

/// Walks over the records of a text.
#[derive(Debug, Clone)]
pub struct Records<'a> {
    text: &'a str,
    byte: usize,
    line: u64,
}

impl<'a> Records<'a> {
    /// From the start of a text.
    #[must_use]
    pub fn new(text: &'a str) -> Self {
        Self::from(text, 0, 1)
    }

    /// From a byte of a text that begins a line of the given number.
    #[must_use]
    pub fn from(text: &'a str, byte: usize, line: u64) -> Self {
        Self { text, byte, line }
    }
}

impl<'a> Records<'a> {
    /// What is left of the text, and the number of its first line.
    pub(crate) fn rest(&self) -> (&'a str, u64) {
        (self.text.get(self.byte..).unwrap_or(""), self.line)
    }

    /// Steps over whole lines that were read from [`Self::rest`].
    pub(crate) fn advance(&mut self, n_bytes: usize, n_lines: u64) {
        self.byte += n_bytes;
        self.line += n_lines;
    }
}

impl<'a> Iterator for Records<'a> {
    type Item = Result<Record<'a>, Refusal>;

    fn next(&mut self) -> Option<Self::Item> {
        let rest = self.text.get(self.byte..).filter(|rest| !rest.is_empty())?;
        let mut length = rest.find('\n').unwrap_or(rest.len());
        let mut n_lines = 1;
        if rest[..length].contains('"') {
            while has_open_quote(&rest[..length]) {
                let Some(next) = rest.get(length + 1..).filter(|_| length < LONGEST_LINE_BYTES)
                else {
                    let message =
                        Message::refused(codes::QUOTES, "A quote opens here and never closes")
                            .at_line(self.line)
                            .at_byte(self.byte as u64)
                            .done("Nothing was read.")
                            .next("Close or remove the quote.");
                    self.byte = self.text.len();
                    return Some(Err(message.into()));
                };
                length += 1 + next.find('\n').unwrap_or(next.len());
                n_lines += 1;
            }
        }
        if length > LONGEST_LINE_BYTES {
            let message = Message::refused(
                codes::TOO_LARGE,
                format!("A line has {length} bytes; the limit is {LONGEST_LINE_BYTES}"),
            )
            .at_line(self.line)
            .at_byte(self.byte as u64)
            .done("Nothing was read.")
            .next("Check that this is the right file.");
            self.byte = self.text.len();
            return Some(Err(message.into()));
        }
        let record = Record {
            line: self.line,
            byte: self.byte,
            text: rest[..length].strip_suffix('\r').unwrap_or(&rest[..length]),
        };
        self.byte += length + 1;
        self.line += n_lines;
        Some(Ok(record))
    }
}

/// True where a cell that begins with a quote does not end with one.
/// Quotes within a plain cell (`5" tube`) are ordinary characters.
fn has_open_quote(text: &str) -> bool {
    let mut inside = false;
    let mut at_start = true;
    let mut bytes = text.bytes().peekable();
    while let Some(byte) = bytes.next() {
        if inside {
            if byte == b'"' {
                if bytes.peek() == Some(&b'"') {
                    bytes.next();
                } else {
                    inside = false;
                }
            }
        } else if byte == b'"' && at_start {
            inside = true;
        }
        at_start =
            !inside && (matches!(byte, b',' | b';' | b'\t' | b'|') || (at_start && byte == b' '));
    }
    inside
}

#[cfg(test)]
mod tests {
    use super::*;

    fn texts(text: &str) -> Vec<(u64, &str)> {
        Records::new(text).map(|record| record.map(|r| (r.line, r.text)).unwrap()).collect()
    }

    #[test]
    fn a_quoted_cell_may_run_over_lines() {
        assert_eq!(texts("a,b\r\n\"x\ny\",2\nz"), vec![(1, "a,b"), (2, "\"x\ny\",2"), (4, "z")]);
        assert_eq!(texts("tube 5\" long\nb"), vec![(1, "tube 5\" long"), (2, "b")]);
        assert_eq!(texts("\"a \"\"b\"\"\",c\nd"), vec![(1, "\"a \"\"b\"\"\",c"), (3 - 1, "d")]);
    }

    #[test]
    fn an_open_quote_is_refused_at_its_line() {
        let mut records = Records::new("a\n\"b\nc\nd");
        assert!(records.next().is_some_and(|record| record.is_ok()));
        let refusal = records.next().unwrap().unwrap_err();
        let error = refusal.first();
        assert_eq!((error.code, error.place.line), ("INT-017", Some(2)));
        assert!(records.next().is_none());
    }

    #[test]
    fn an_endless_line_is_refused() {
        let text = "1".repeat(LONGEST_LINE_BYTES + 1);
        assert!(
            Records::new(&text).next().is_some_and(|r| r.is_err_and(|m| m.code() == "INT-047"))
        );
    }
}
