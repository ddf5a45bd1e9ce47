//! Which decimal mark a file uses: decided by evidence from all sampled
//! cells, never by one.

use std::borrow::Cow;
use std::collections::BTreeMap;

use super::cell::{DecimalMark, NumberStyle};
use super::fields::{Separator, split_fields};
use super::records::Record;
use crate::codes;
use crate::message::{Message, Refusal, quoted};

/// What one cell says about the marks.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Evidence {
    /// Nothing: a whole number, or no number.
    None,
    /// A mark that can only stand before decimals.
    Decimal(DecimalMark),
    /// One mark with three digits behind it: decimals or thousands.
    Either(DecimalMark),
    /// A decimal mark together with thousands marks.
    Both(DecimalMark, char),
    /// Thousands marks alone, several of them or of a kind used for nothing else.
    Thousands(char),
}

/// Decides how the numbers of these records are written.
///
/// # Errors
/// Refuses files with both decimal marks, and files in which no cell tells
/// decimals from thousands (`1,234`); the message names the plan's key.
pub fn propose_marks(
    records: &[Record<'_>],
    separator: Separator,
    given: Option<NumberStyle>,
) -> Result<(NumberStyle, Vec<Message>), Refusal> {
    if let Some(style) = given {
        return Ok((style, Vec::new()));
    }
    let mut tally = Tally::default();
    let (mut n_numbers, mut n_shortened) = (0, 0);
    let mut cells: Vec<Cow<'_, str>> = Vec::new();
    for record in records {
        split_fields(record.text, separator, &mut cells);
        for (column, cell) in cells.iter().enumerate() {
            tally.add(evidence_of(cell), record.line, column, cell);
            n_numbers += usize::from(cell.starts_with(|c: char| c.is_ascii_digit()));
            n_shortened += usize::from(is_shortened(cell));
        }
    }
    let (style, mut messages) = tally.decide(separator)?;
    if n_shortened >= 8 && n_shortened * 3 >= n_numbers {
        messages.push(
            Message::warning(codes::EDITED_IN_SPREADSHEET, "Numbers have three digits and an exponent such as 1.01E+05, as spreadsheets write them")
                .done("They were read as they stand.")
                .next("Import the original export of the instrument, which has all digits."),
        );
    }
    Ok((style, messages))
}

/// True for `1.01E+05`: three digits at most, a capital E, a sign.
fn is_shortened(cell: &str) -> bool {
    let Some((mantissa, exponent)) = cell.split_once('E') else { return false };
    exponent.starts_with(['+', '-']) && mantissa.bytes().filter(u8::is_ascii_digit).count() <= 3
}

/// A cell as it was seen: line, column and text.
type Spot = (u64, usize, String);
type Seen = Option<Spot>;

#[derive(Default)]
struct Tally {
    point: (usize, Seen),
    comma: (usize, Seen),
    either_point: (usize, Seen),
    either_comma: (usize, Seen),
    thousands: Option<char>,
    /// The first cells of each column by what they tell.
    columns: BTreeMap<usize, InColumn>,
}

/// What the cells of one column say.
#[derive(Default)]
struct InColumn {
    point: Seen,
    comma: Seen,
    either_point: Seen,
    either_comma: Seen,
    /// Thousands marks that cannot be anything else.
    grouped: bool,
}

impl InColumn {
    /// Decimals with one mark, and cells with the other that would be thousands
    /// only for want of another reading: nothing in the column says so.
    fn contradicts(&self, decimal: DecimalMark) -> Option<(&Spot, &Spot)> {
        let (decimals, others) = match decimal {
            DecimalMark::Point => (&self.point, &self.either_comma),
            DecimalMark::Comma => (&self.comma, &self.either_point),
        };
        decimals.as_ref().zip(others.as_ref()).filter(|_| !self.grouped)
    }
}

impl Tally {
    fn add(&mut self, evidence: Evidence, line: u64, column: usize, cell: &str) {
        if evidence != Evidence::None {
            let here = self.columns.entry(column).or_default();
            let slot = match evidence {
                Evidence::Decimal(DecimalMark::Point) => Some(&mut here.point),
                Evidence::Decimal(DecimalMark::Comma) => Some(&mut here.comma),
                Evidence::Either(DecimalMark::Point) => Some(&mut here.either_point),
                Evidence::Either(DecimalMark::Comma) => Some(&mut here.either_comma),
                _ => {
                    here.grouped = true;
                    None
                }
            };
            if let Some(slot) = slot {
                slot.get_or_insert_with(|| (line, column, cell.to_owned()));
            }
        }
        let slot = match evidence {
            Evidence::None => return,
            Evidence::Thousands(mark) => {
                self.thousands = Some(mark);
                match mark {
                    '.' => &mut self.comma,
                    ',' => &mut self.point,
                    _ => return,
                }
            }
            Evidence::Both(decimal, mark) => {
                self.thousands = Some(mark);
                match decimal {
                    DecimalMark::Point => &mut self.point,
                    DecimalMark::Comma => &mut self.comma,
                }
            }
            Evidence::Decimal(DecimalMark::Point) => &mut self.point,
            Evidence::Decimal(DecimalMark::Comma) => &mut self.comma,
            Evidence::Either(DecimalMark::Point) => &mut self.either_point,
            Evidence::Either(DecimalMark::Comma) => &mut self.either_comma,
        };
        slot.0 += 1;
        if slot.1.is_none() {
            slot.1 = Some((line, column, cell.to_owned()));
        }
    }

    fn decide(self, separator: Separator) -> Result<(NumberStyle, Vec<Message>), Refusal> {
        if let (Some(point), Some(comma)) = (&self.point.1, &self.comma.1) {
            return Err(mixed(point, comma).into());
        }
        // In a comma-separated file a comma within a cell can only come from
        // quotes; a point is then never a thousands mark.
        let plain_point = separator == Separator::Comma
            && self.comma.1.is_none()
            && self.either_comma.1.is_none();
        let decimal = if self.point.1.is_some() || plain_point {
            DecimalMark::Point
        } else if self.comma.1.is_some() {
            DecimalMark::Comma
        } else if let Some(seen) = self.either_comma.1.as_ref().or(self.either_point.1.as_ref()) {
            return Err(undecided(seen).into());
        } else {
            DecimalMark::Point
        };
        if let Some((one, other)) =
            self.columns.values().find_map(|column| column.contradicts(decimal))
        {
            return Err(match decimal {
                DecimalMark::Point => mixed(one, other),
                DecimalMark::Comma => mixed(other, one),
            }
            .into());
        }
        // A mark that is not the decimal mark has to be the thousands mark.
        let other = match decimal {
            DecimalMark::Point => self.either_comma.1.as_ref().map(|_| ','),
            DecimalMark::Comma => self.either_point.1.as_ref().map(|_| '.'),
        };
        let style = NumberStyle { decimal, thousands: self.thousands.or(other) };
        let mut messages = Vec::new();
        if let (DecimalMark::Comma, Some((line, column, cell))) = (decimal, &self.comma.1) {
            messages.push(
                Message::remark(
                    codes::DECIMAL_COMMA_WITH_COMMA,
                    format!("Numbers carry a decimal comma, such as {}", quoted(cell)),
                )
                .at_line(*line)
                .at_column(*column as u64 + 1)
                .done(format!(
                    "\",\" was read as decimal mark; {} sampled values agree and none contradicts.",
                    self.comma.0
                )),
            );
        }
        if let Some(mark) = style.thousands {
            messages.push(
                Message::remark(
                    codes::THOUSANDS_MARK,
                    format!("Groups of three digits are parted by {}", quoted(&mark.to_string())),
                )
                .done("The marks were dropped; every cell must keep the pattern."),
            );
        }
        Ok((style, messages))
    }
}

fn mixed(point: &(u64, usize, String), comma: &(u64, usize, String)) -> Message {
    let later = if point.0 > comma.0 { point } else { comma };
    Message::refused(
        codes::MIXED_DECIMAL_MARKS,
        format!(
            "Two decimal marks occur: {} in line {} and {} in line {}",
            quoted(&point.2),
            point.0,
            quoted(&comma.2),
            comma.0
        ),
    )
    .at_line(later.0)
    .at_column(later.1 as u64 + 1)
    .done("Nothing was read.")
    .next("Export the file again with one decimal mark.")
}

fn undecided(seen: &(u64, usize, String)) -> Message {
    Message::refused(
        codes::THOUSANDS_MARK,
        format!(
            "{} may be decimals or thousands, and no cell of the file tells which",
            quoted(&seen.2)
        ),
    )
    .at_line(seen.0)
    .at_column(seen.1 as u64 + 1)
    .done("Nothing was read.")
    .next("State decimal_mark = \"point\" or \"comma\" in the reading plan.")
}

fn evidence_of(cell: &str) -> Evidence {
    let unsigned = cell.trim().trim_start_matches(['-', '+', '\u{2212}']);
    let (mantissa, has_exponent) = match unsigned.find(['e', 'E', 'd', 'D']) {
        Some(at) => (&unsigned[..at], true),
        None => (unsigned, false),
    };
    if mantissa.is_empty() || !mantissa.chars().all(|c| c.is_ascii_digit() || is_mark(c)) {
        return Evidence::None;
    }
    let marks: Vec<char> = mantissa.chars().filter(|&c| is_mark(c)).collect();
    let (Some(&first), Some(&last)) = (marks.first(), marks.last()) else { return Evidence::None };
    if marks.len() > 1 {
        let grouped = marks[..marks.len() - 1].iter().all(|&mark| mark == first);
        return match (grouped, first == last, decimal_of(last)) {
            (true, true, _) => Evidence::Thousands(first),
            (true, false, Some(decimal)) => Evidence::Both(decimal, first),
            _ => Evidence::None,
        };
    }
    let Some(decimal) = decimal_of(first) else { return Evidence::Thousands(first) };
    let (whole, fraction) = mantissa.split_once(first).unwrap_or((mantissa, ""));
    let could_be_thousands = fraction.len() == 3
        && (1..=3).contains(&whole.len())
        && !whole.starts_with('0')
        && !has_exponent;
    if could_be_thousands { Evidence::Either(decimal) } else { Evidence::Decimal(decimal) }
}

const fn is_mark(c: char) -> bool {
    matches!(c, '.' | ',' | '\'' | '\u{2019}' | '\u{a0}' | '\u{202f}' | '\u{2009}')
}

const fn decimal_of(c: char) -> Option<DecimalMark> {
    match c {
        '.' => Some(DecimalMark::Point),
        ',' => Some(DecimalMark::Comma),
        _ => None,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::delimited::Records;

    fn marks(text: &str, separator: Separator) -> Result<NumberStyle, &'static str> {
        let records: Vec<_> = Records::new(text).map(|r| r.unwrap()).collect();
        propose_marks(&records, separator, None).map(|(style, _)| style).map_err(|m| m.code())
    }

    #[test]
    fn evidence_decides_and_contradiction_refuses() {
        let style = |decimal, thousands| Ok(NumberStyle { decimal, thousands });
        assert_eq!(marks("0,5;1013,25", Separator::Semicolon), style(DecimalMark::Comma, None));
        assert_eq!(marks("0.5;1013.25", Separator::Semicolon), style(DecimalMark::Point, None));
        assert_eq!(marks("1;1.013,25", Separator::Semicolon), style(DecimalMark::Comma, Some('.')));
        assert_eq!(marks("1;1,013.25", Separator::Semicolon), style(DecimalMark::Point, Some(',')));
        assert_eq!(
            marks("1;1'013.25", Separator::Semicolon),
            style(DecimalMark::Point, Some('\''))
        );
        assert_eq!(
            marks("1;1,234,567", Separator::Semicolon),
            style(DecimalMark::Point, Some(','))
        );
        assert_eq!(marks("0,5;1.25", Separator::Semicolon), Err("INT-010"));
    }

    /// A logger whose decimal mark changed half way: `133,857` after `104.2` in
    /// one column is no thousand, unless the column groups elsewhere too.
    #[test]
    fn two_marks_in_one_column_are_not_called_thousands() {
        assert_eq!(marks("0.5;104.25\n1.0;133,857", Separator::Semicolon), Err("INT-010"));
        assert_eq!(marks("0,5;104,25\n1,0;133.857", Separator::Semicolon), Err("INT-010"));
        let point = NumberStyle { decimal: DecimalMark::Point, thousands: Some(',') };
        assert_eq!(marks("1;104.25\n2;1,033.5\n3;1,034", Separator::Semicolon), Ok(point));
    }

    #[test]
    fn three_digits_alone_are_asked_about() {
        assert_eq!(marks("1;1.299\n2;1.301", Separator::Semicolon), Err("INT-009"));
        assert_eq!(marks("1;1,299", Separator::Semicolon), Err("INT-009"));
        assert!(marks("0.5;1.299", Separator::Semicolon).is_ok());
        assert!(marks("1,1.299", Separator::Comma).is_ok());
        let seen = marks("0,5;1.299", Separator::Semicolon);
        assert_eq!(seen, Ok(NumberStyle { decimal: DecimalMark::Comma, thousands: Some('.') }));
    }
}
