//! What is data in a file, and what stands before and after it.

use std::borrow::Cow;

use super::cell::NumberStyle;
use super::decode::TextEncoding;
use super::fields::{Separator, split_fields};
use super::header::Header;
use super::marks::propose_marks;
use super::records::{Record, Records};
use super::separator::{declared_separator, is_value, propose_separator};
use super::shape::Shape;
use crate::codes;
use crate::message::{Message, Refusal, quoted};

/// Records from the start of a file by which its layout is decided.
const HEAD_RECORDS: usize = 64;
/// Records that are looked at where the data begin later.
const LONG_HEAD_RECORDS: usize = 4096;
/// Bytes from the end of a file by which its layout is decided.
const TAIL_BYTES: usize = 1 << 14;
/// What the user has said about a file; everything else is proposed.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Given {
    /// Encoding of the bytes.
    pub encoding: Option<TextEncoding>,
    /// What parts the cells.
    pub separator: Option<Separator>,
    /// How numbers are written.
    pub style: Option<NumberStyle>,
}

/// A delimited text with its data found.
#[derive(Debug, Clone, PartialEq)]
pub struct DelimitedText<'a> {
    /// What parts the cells.
    pub separator: Separator,
    /// How numbers are written.
    pub style: NumberStyle,
    /// Lines before the header.
    pub preamble: Vec<Record<'a>>,
    /// Names of the columns, made unique; `column 1` where there is no header.
    pub names: Vec<String>,
    /// A second header line that holds units, if there is one.
    pub units_row: Option<Vec<String>>,
    /// Line of the header, if there is one.
    pub header_line: Option<u64>,
    /// Lines after the data.
    pub trailer: Vec<Record<'a>>,
    /// What was noticed.
    pub messages: Vec<Message>,
    pub(crate) shape: Shape,
    text: &'a str,
    data_byte: usize,
    data_line: u64,
    data_end: usize,
}

impl<'a> DelimitedText<'a> {
    /// Walks over the rows of data, blank lines among them.
    #[must_use]
    pub fn rows(&self) -> Records<'a> {
        Records::from(&self.text[..self.data_end], self.data_byte, self.data_line)
    }

    /// Walks over the rows of data and everything that follows them.
    pub(crate) fn rows_and_rest(&self) -> Records<'a> {
        Records::from(self.text, self.data_byte, self.data_line)
    }

    /// Line of the first row of data.
    #[must_use]
    pub fn first_data_line(&self) -> u64 {
        self.data_line
    }

    /// The index of a column by its name.
    #[must_use]
    pub fn column(&self, name: &str) -> Option<usize> {
        self.names.iter().position(|candidate| candidate == name)
    }

    /// True where a row repeats the names of the columns.
    #[must_use]
    pub fn repeats_header(&self, cells: &[Cow<'_, str>]) -> bool {
        self.header_line.is_some()
            && cells.len() == self.names.len()
            && cells
                .iter()
                .zip(&self.names)
                .filter(|(cell, name)| name.as_str() == cell.as_ref())
                .count()
                * 2
                > cells.len()
    }
}

/// Finds the data of a delimited text.
///
/// # Errors
/// Refuses where the separator, the decimal mark or the header cannot be told,
/// and where there is no row of values.
///
/// # Example
/// ```
/// use intake::delimited::{read_delimited, Given, Separator};
/// let text = "logger 7\ntime_s;p [mbar]\n0;1013,25\n1;990,5\nMax;1013,25\n";
/// let file = read_delimited(text, &Given::default()).map_err(|m| m.to_string())?;
/// assert_eq!(file.separator, Separator::Semicolon);
/// assert_eq!(file.names, ["time_s", "p [mbar]"]);
/// assert_eq!((file.preamble.len(), file.trailer.len()), (1, 1));
/// # Ok::<(), String>(())
/// ```
pub fn read_delimited<'a>(text: &'a str, given: &Given) -> Result<DelimitedText<'a>, Refusal> {
    read_with_head(text, given, HEAD_RECORDS).or_else(|refusal| {
        // Many lines may stand before the data.
        let more = text.lines().nth(HEAD_RECORDS).is_some();
        if more { read_with_head(text, given, LONG_HEAD_RECORDS) } else { Err(refusal) }
    })
}

fn read_with_head<'a>(
    text: &'a str,
    given: &Given,
    n_head: usize,
) -> Result<DelimitedText<'a>, Refusal> {
    let (head, head_end) = head_of(text, n_head)?;
    let tail = tail_of(text, head_end);
    let everything: Vec<Record<'a>> =
        head.iter().chain(&tail).filter(|record| !record.is_blank()).copied().collect();
    let sample = spread(&everything);
    if sample.is_empty() {
        return Err(no_rows("The file holds nothing but blank lines").into());
    }
    let separator = match given.separator {
        Some(separator) => separator,
        None => propose_separator(&sample)?,
    };
    let shape = Shape::of(&sample, separator)?;
    let is_data = |record: &Record<'_>| shape.is_data_row(record);
    let first = head
        .iter()
        .position(is_data)
        .ok_or_else(|| no_rows("No row of values was found in the first lines"))?;
    let (data_end, trailer) = end_of_data(text, head[first].byte, &shape);
    let mut messages = Vec::new();
    note_cut_end(text, data_end, &trailer, &shape, &mut messages);

    let before: Vec<Record<'a>> = head[..first].to_vec();
    let header = Header::of(&before, &shape, &head[first])?;
    messages.extend(header.messages);
    let data_sample: Vec<Record<'a>> =
        sample.iter().filter(|record| is_data(record)).copied().collect();
    let (style, style_messages) = match propose_marks(&data_sample, separator, given.style) {
        // Three digits everywhere: a row that was not looked at may tell.
        Err(refusal) if refusal.code() == codes::THOUSANDS_MARK => {
            let body = Records::from(&text[..data_end], head[first].byte, head[first].line);
            let all: Vec<Record<'a>> = body.filter_map(Result::ok).collect();
            propose_marks(&all, separator, None)?
        }
        other => other?,
    };
    messages.extend(style_messages);
    let preamble: Vec<Record<'a>> = before[..header.n_preamble]
        .iter()
        .filter(|record| !record.is_blank() && declared_separator(record.text).is_none())
        .copied()
        .collect();
    note_surroundings(&preamble, &trailer, &mut messages);
    Ok(DelimitedText {
        separator,
        style,
        preamble,
        names: header.names,
        units_row: header.units,
        header_line: header.line,
        trailer,
        messages,
        shape,
        text,
        data_byte: head[first].byte,
        data_line: head[first].line,
        data_end,
    })
}

/// Records enough to decide by: the first, the last, and others between.
fn spread<'a>(records: &[Record<'a>]) -> Vec<Record<'a>> {
    const AT_EACH_END: usize = 12;
    const BETWEEN: usize = 16;
    let n = records.len();
    if n <= 2 * AT_EACH_END + BETWEEN {
        return records.to_vec();
    }
    let (first, last) = (&records[..AT_EACH_END], &records[n - AT_EACH_END..]);
    let between = &records[AT_EACH_END..n - AT_EACH_END];
    let step = between.len() / BETWEEN;
    first.iter().chain(between.iter().step_by(step)).chain(last).copied().collect()
}

pub(super) fn no_rows(what: &str) -> Message {
    Message::refused(codes::TOO_SHORT, what)
        .done("Nothing was read.")
        .next("Check that the export finished and that this is the right file.")
}

fn head_of(text: &str, n_records: usize) -> Result<(Vec<Record<'_>>, usize), Refusal> {
    let mut head = Vec::new();
    let mut end = 0;
    for record in Records::new(text).take(n_records) {
        let record = record?;
        end = record.byte + record.text.len();
        head.push(record);
    }
    Ok((head, end))
}

/// The last lines, where they are not among the first. Their line numbers are
/// not known and stay 0, so they serve for evidence only.
fn tail_of(text: &str, head_end: usize) -> Vec<Record<'_>> {
    let mut start = text.len().saturating_sub(TAIL_BYTES).max(head_end);
    while !text.is_char_boundary(start) {
        start += 1;
    }
    let Some(feed) = text[start..].find('\n') else { return Vec::new() };
    let mut byte = start + feed + 1;
    let mut tail = Vec::new();
    for line in text[byte..].split('\n') {
        tail.push(Record { line: 0, byte, text: line.trim_end_matches('\r') });
        byte += line.len() + 1;
    }
    tail
}

/// Where the data end, and what follows.
fn end_of_data<'a>(text: &'a str, data_byte: usize, shape: &Shape) -> (usize, Vec<Record<'a>>) {
    let mut end = text.len();
    let mut trailer = Vec::new();
    while end > data_byte {
        let body = text[..end].strip_suffix('\n').unwrap_or(&text[..end]);
        let start = body.rfind('\n').map_or(0, |feed| feed + 1).max(data_byte);
        let record = Record { line: 0, byte: start, text: body[start..].trim_end_matches('\r') };
        if shape.is_data_row(&record) {
            break;
        }
        if !record.is_blank() {
            trailer.push(record);
        }
        end = start;
    }
    trailer.reverse();
    number_lines(text, &mut trailer);
    (end, trailer)
}

/// Line numbers of a trailer, counted from the start of the text.
fn number_lines(text: &str, trailer: &mut [Record<'_>]) {
    let Some(first) = trailer.first() else { return };
    let mut byte = first.byte;
    let mut line = 1 + text[..byte].matches('\n').count() as u64;
    for record in trailer {
        line += text[byte..record.byte].matches('\n').count() as u64;
        byte = record.byte;
        record.line = line;
    }
}

/// Says so where the last line has no end, and where it is cut short.
fn note_cut_end(
    text: &str,
    data_end: usize,
    trailer: &[Record<'_>],
    shape: &Shape,
    messages: &mut Vec<Message>,
) {
    if text.ends_with('\n') {
        return;
    }
    let mut cells = Vec::new();
    if let Some(last) = trailer.last() {
        split_fields(last.text, shape.separator, &mut cells);
        if trailer.len() == 1
            && cells.len() < shape.n_columns
            && cells.iter().any(|cell| is_value(cell))
        {
            messages.push(
                Message::warning(
                    codes::TRUNCATED,
                    format!("The file ends in the middle of a record: {}", quoted(last.text)),
                )
                .at_line(last.line)
                .at_byte(text.len() as u64)
                .done("The record was not read.")
                .next("Copy the file again, or check that the logger had finished."),
            );
        }
    } else if data_end == text.len() {
        messages.push(
            Message::remark(
                codes::TRUNCATED,
                "The last line has no line end, so that its last value could be cut",
            )
            .at_byte(text.len() as u64)
            .done("The line was read as it stands."),
        );
    }
}

fn note_surroundings(preamble: &[Record<'_>], trailer: &[Record<'_>], messages: &mut Vec<Message>) {
    let parts = [(codes::PREAMBLE, "before", preamble), (codes::TRAILER, "after", trailer)];
    for (code, side, records) in parts {
        if let Some(first) = records.first() {
            messages.push(
                Message::remark(
                    code,
                    format!(
                        "{} lines stand {side} the data, the first {}",
                        records.len(),
                        quoted(first.text)
                    ),
                )
                .at_line(first.line)
                .done("They were kept as text and not read as samples."),
            );
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn layout(text: &str) -> Result<DelimitedText<'_>, &'static str> {
        read_delimited(text, &Given::default()).map_err(|refusal| refusal.code())
    }

    #[test]
    fn framing_lines_are_kept_apart_from_the_data() {
        let text = "Log\r\nDate: 13-06-2016 - 16:41:18\r\n-----\r\nA;B\r\n1;2\r\n3;4\r\n\r\n-----\r\nEnd\r\n";
        let file = layout(text).unwrap();
        assert_eq!(file.names, ["A", "B"]);
        assert_eq!((file.preamble.len(), file.trailer.len()), (3, 2));
        assert_eq!(file.trailer[0].line, 8);
        assert_eq!(file.rows().filter(|row| row.as_ref().is_ok_and(|r| !r.is_blank())).count(), 2);
    }

    #[test]
    fn a_header_of_two_lines_and_none_at_all() {
        let file = layout("t,p\n[s],[mbar]\n0,1\n1,2\n").unwrap();
        assert_eq!(file.units_row, Some(vec!["[s]".to_owned(), "[mbar]".to_owned()]));
        let file = layout("0,1\n1,2\n").unwrap();
        assert_eq!(file.names, ["column 1", "column 2"]);
    }

    #[test]
    fn names_are_made_unique() {
        let file = layout("t,p,p,\n0,1,2,\n1,2,3,\n").unwrap();
        assert_eq!(file.names, ["t", "p", "p (2)", "column 4"]);
        assert!(file.messages.iter().any(|message| message.code == "INT-019"));
    }

    #[test]
    fn decimal_commas_between_commas_are_refused() {
        assert_eq!(layout("t,p\n0,0,1013,25\n0,5,1012,75\n"), Err("INT-008"));
    }

    #[test]
    fn a_cut_last_record_is_said() {
        let file = layout("t,p\n0,1\n1,2\n2").unwrap();
        assert!(
            file.messages
                .iter()
                .any(|message| message.code == "INT-045" && message.place.byte == Some(13))
        );
    }

    #[test]
    fn nothing_to_read_is_refused() {
        assert_eq!(layout("t,p\n"), Err("INT-046"));
        assert_eq!(layout("\n\n"), Err("INT-046"));
    }
}
