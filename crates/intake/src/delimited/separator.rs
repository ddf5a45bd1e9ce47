//! Which separator a file uses: the one that makes most of its records rows
//! of the same number of cells.

use std::borrow::Cow;
use std::collections::BTreeMap;

use super::cell::is_missing_token;
use super::clock::{has_short_year, looks_like_clock};
use super::fields::{Separator, split_fields};
use super::records::Record;
use crate::codes;
use crate::message::{Message, Refusal};

/// How well a separator explains the records.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
struct Score {
    /// Records that are rows of values, all with the same number of cells.
    rows_of_values: usize,
    /// Records with the same number of cells, whatever they hold.
    rows: usize,
}

/// Decides the separator of a file from a sample of its records.
///
/// # Errors
/// Refuses where two separators explain the file equally well.
pub fn propose_separator(records: &[Record<'_>]) -> Result<Separator, Refusal> {
    if let Some(declared) = records.first().and_then(|record| declared_separator(record.text)) {
        return Ok(declared);
    }
    let scores: Vec<(Separator, Score)> =
        [Separator::Tab, Separator::Semicolon, Separator::Bar, Separator::Comma]
            .into_iter()
            .map(|separator| (separator, score(records, separator)))
            .collect();
    let best = scores
        .iter()
        .map(|&(_, score)| score)
        .max()
        .unwrap_or(Score { rows_of_values: 0, rows: 0 });
    let winners: Vec<Separator> = scores
        .iter()
        .filter(|(_, score)| *score == best)
        .map(|&(separator, _)| separator)
        .collect();
    // Blanks stand within dates and names too, so that they are considered
    // only where no other separator makes rows.
    if best.rows * 2 < records.len() {
        let blank = score(records, Separator::Blank);
        if blank.rows_of_values > best.rows_of_values && blank.rows_of_values * 2 >= records.len() {
            return Ok(Separator::Blank);
        }
        if best.rows_of_values == 0 {
            return Ok(Separator::Nothing);
        }
    }
    match winners.as_slice() {
        [only] => Ok(*only),
        _ => {
            let words: Vec<&str> = winners.iter().map(|separator| separator.word()).collect();
            let mut message = Message::refused(
                codes::SEPARATOR,
                format!("The cells may be parted by {}", words.join(" or ")),
            )
            .done("Nothing was read.")
            .next(format!(
                "State separator = \"{}\" in the reading plan.",
                words.first().unwrap_or(&"comma")
            ));
            message.place.line = records.first().map(|record| record.line);
            Err(message.into())
        }
    }
}

/// The separator that a spreadsheet's `sep=;` line declares.
pub(super) fn declared_separator(line: &str) -> Option<Separator> {
    let mark = line.trim_end_matches(['\r', ' ']).strip_prefix("sep=")?;
    Separator::ALL
        .into_iter()
        .find(|separator| separator.byte().is_some_and(|byte| mark.as_bytes() == [byte]))
}

fn score(records: &[Record<'_>], separator: Separator) -> Score {
    let mut rows: BTreeMap<usize, Score> = BTreeMap::new();
    let mut cells: Vec<Cow<'_, str>> = Vec::new();
    for record in records {
        split_fields(record.text, separator, &mut cells);
        if cells.len() < 2 {
            continue;
        }
        let entry = rows.entry(cells.len()).or_insert(Score { rows_of_values: 0, rows: 0 });
        entry.rows += 1;
        entry.rows_of_values += usize::from(is_row_of_values(&cells));
    }
    rows.into_values().max().unwrap_or(Score { rows_of_values: 0, rows: 0 })
}

/// True where a row holds values and nothing else, at least one of them.
pub(super) fn is_row_of_values(cells: &[Cow<'_, str>]) -> bool {
    let mut n_values = 0;
    for cell in cells {
        if cell.is_empty() || is_missing_token(cell) {
            continue;
        }
        if !is_value(cell) {
            return false;
        }
        n_values += 1;
    }
    n_values > 0
}

/// True where a cell looks like a number, whatever its marks, or a clock time.
pub(super) fn is_value(cell: &str) -> bool {
    looks_like_number(cell) || looks_like_clock(cell) || has_short_year(cell)
}

fn looks_like_number(cell: &str) -> bool {
    let unsigned =
        cell.trim_start_matches('\'').trim_start_matches(['-', '+', '\u{2212}', '\u{2013}']);
    let mut n_digits = 0_usize;
    let mut n_exponents = 0_usize;
    for (index, c) in unsigned.char_indices() {
        match c {
            '0'..='9' => n_digits += 1,
            '.' | ',' | '\'' | '\u{2019}' | '\u{a0}' | '\u{202f}' | '\u{2009}' => {}
            'e' | 'E' | 'd' | 'D' if n_digits > 0 => n_exponents += 1,
            '+' | '-' if index > 0 && unsigned[..index].ends_with(['e', 'E', 'd', 'D']) => {}
            c if c.is_numeric() => n_digits += 1,
            _ => return false,
        }
    }
    n_digits > 0 && n_exponents <= 1
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::delimited::Records;

    fn separator(text: &str) -> Result<Separator, &'static str> {
        let records: Vec<_> = Records::new(text).map(|r| r.unwrap()).collect();
        propose_separator(&records).map_err(|m| m.code())
    }

    #[test]
    fn the_separator_that_makes_rows_wins() {
        assert_eq!(separator("t,p\n0,1\n1,2"), Ok(Separator::Comma));
        assert_eq!(separator("t;p\n0,5;1,5\n1,5;2,5"), Ok(Separator::Semicolon));
        assert_eq!(separator("t\tp\n0,5\t1,5"), Ok(Separator::Tab));
        assert_eq!(separator("t|p\n0|1"), Ok(Separator::Bar));
        assert_eq!(separator("0 1.5\n1 2.5"), Ok(Separator::Blank));
        assert_eq!(separator("p\n1.5\n2.5"), Ok(Separator::Nothing));
        assert_eq!(separator("sep=;\nt;p\n0;1"), Ok(Separator::Semicolon));
        assert_eq!(
            separator("when,p\n15-Jun-2023 15:38:01,0.5\n15-Jun-2023 15:38:06,0.5"),
            Ok(Separator::Comma)
        );
        assert_eq!(separator("operator,part\nA,x\nB,y"), Ok(Separator::Comma));
    }

    #[test]
    fn a_tie_is_asked_about() {
        assert_eq!(separator("1|2\t3|4\n5|6\t7|8"), Err("INT-007"));
    }

    #[test]
    fn numbers_are_known_by_their_shape() {
        for cell in ["1", "-1.5e-3", "1,234.5", "1'000", "+2", "1d+03", "\u{2212}4"] {
            assert!(looks_like_number(cell), "{cell}");
        }
        for cell in ["e5", "T1", "1-2", "5 Pa", "", "-", "1e5e5"] {
            assert!(!looks_like_number(cell), "{cell}");
        }
    }
}
