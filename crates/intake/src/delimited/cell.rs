//! One cell that should hold a number.

/// The character in front of the decimals.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default)]
pub enum DecimalMark {
    /// `1013.25`
    #[default]
    Point,
    /// `1013,25`
    Comma,
}

impl DecimalMark {
    /// The word that a reading plan uses.
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            Self::Point => "point",
            Self::Comma => "comma",
        }
    }

    /// The mark of this word, if it is one.
    #[must_use]
    pub fn from_word(word: &str) -> Option<Self> {
        [Self::Point, Self::Comma].into_iter().find(|mark| mark.word() == word)
    }

    /// The character.
    #[must_use]
    pub const fn character(self) -> char {
        match self {
            Self::Point => '.',
            Self::Comma => ',',
        }
    }
}

/// How numbers are written in a file.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default)]
pub struct NumberStyle {
    /// In front of the decimals.
    pub decimal: DecimalMark,
    /// Between groups of three digits, if any.
    pub thousands: Option<char>,
}

/// Why a cell is not a number of this style.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum CellFault {
    /// Nothing is written.
    Empty,
    /// Words, or a token such as `OVER`.
    Text,
    /// A number, but with the other decimal mark or with thousands marks.
    OtherMark,
    /// A number too large or too small to be represented.
    OutOfRange,
    /// Hexadecimal.
    Hexadecimal,
    /// Digits that are not ASCII.
    UnusualDigits,
}

/// Reads a cell as a number of the given style.
///
/// A minus of typesetting, a Fortran exponent and the apostrophe that
/// spreadsheets put before text are read as what they mean.
///
/// # Errors
/// Says why the cell is no number; never gives `NaN` or infinity.
///
/// # Example
/// ```
/// use intake::delimited::{read_cell, CellFault, NumberStyle};
/// assert_eq!(read_cell("-1.5e3", NumberStyle::default()), Ok(-1500.0));
/// assert_eq!(read_cell("inf", NumberStyle::default()), Err(CellFault::Text));
/// assert_eq!(read_cell("1e400", NumberStyle::default()), Err(CellFault::OutOfRange));
/// ```
pub fn read_cell(cell: &str, style: NumberStyle) -> Result<f64, CellFault> {
    if style.decimal == DecimalMark::Point
        && is_plain(cell)
        && let Ok(value) = cell.parse::<f64>()
        && value.is_finite()
        && value != 0.0
    {
        return Ok(value);
    }
    read_unusual_cell(cell, style)
}

/// True where only characters of plain numbers occur and the first is one
/// that begins a number, so that words like `inf` do not pass.
fn is_plain(cell: &str) -> bool {
    let bytes = cell.as_bytes();
    let unsigned = bytes.strip_prefix(b"-").or_else(|| bytes.strip_prefix(b"+")).unwrap_or(bytes);
    matches!(unsigned.first(), Some(b'0'..=b'9' | b'.'))
}

fn read_unusual_cell(cell: &str, style: NumberStyle) -> Result<f64, CellFault> {
    let trimmed =
        cell.trim_matches(|c: char| c.is_whitespace() || c == '\u{a0}' || c == '\u{202f}');
    let trimmed = trimmed.strip_prefix('\'').filter(|rest| !rest.is_empty()).unwrap_or(trimmed);
    if trimmed.is_empty() {
        return Err(CellFault::Empty);
    }
    let mut plain = String::with_capacity(trimmed.len());
    for (index, c) in trimmed.char_indices() {
        match c {
            '\u{2212}' | '\u{2013}' if index == 0 => plain.push('-'),
            c if Some(c) == style.thousands => plain.push('_'),
            '\'' | '\u{2019}' | '\u{a0}' | '\u{202f}' | '_' => return Err(CellFault::OtherMark),
            c if c == style.decimal.character() => plain.push('.'),
            '.' | ',' => return Err(other_mark_or_text(trimmed)),
            'd' | 'D' => plain.push('e'),
            c if c.is_numeric() && !c.is_ascii() => return Err(CellFault::UnusualDigits),
            c => plain.push(c),
        }
    }
    let lower = plain.to_ascii_lowercase();
    if lower.trim_start_matches(['-', '+']).starts_with("0x") {
        return Err(CellFault::Hexadecimal);
    }
    if !is_plain(&plain) {
        return Err(CellFault::Text);
    }
    let plain = if plain.contains('_') {
        without_thousands(&plain).ok_or(CellFault::OtherMark)?
    } else {
        plain
    };
    let value: f64 = plain.parse().map_err(|_| CellFault::Text)?;
    let mantissa = plain.split(['e', 'E']).next().unwrap_or("");
    let vanished = value == 0.0 && mantissa.bytes().any(|byte| (b'1'..=b'9').contains(&byte));
    if !value.is_finite() || vanished {
        return Err(CellFault::OutOfRange);
    }
    // Minus nothing is nothing.
    Ok(if value == 0.0 { 0.0 } else { value })
}

/// Drops the marks where they stand every three digits; `None` elsewhere.
fn without_thousands(plain: &str) -> Option<String> {
    let (whole, rest) = match plain.find(['.', 'e', 'E']) {
        Some(at) => plain.split_at(at),
        None => (plain, ""),
    };
    if rest.contains('_') {
        return None;
    }
    let unsigned = whole.trim_start_matches(['-', '+']);
    let mut groups = unsigned.split('_');
    let first = groups.next()?;
    let regular = (1..=3).contains(&first.len()) && groups.all(|group| group.len() == 3);
    regular.then(|| whole.replace('_', "") + rest)
}

fn other_mark_or_text(cell: &str) -> CellFault {
    let numeric = cell.chars().all(|c| c.is_ascii_digit() || "+-.,eEdD\u{2212}'".contains(c));
    if numeric && cell.contains(|c: char| c.is_ascii_digit()) {
        CellFault::OtherMark
    } else {
        CellFault::Text
    }
}

/// Words with which instruments and spreadsheets say that there is no value.
/// They are read as missing only where the reading plan declares them.
#[must_use]
pub fn is_missing_token(cell: &str) -> bool {
    const TOKENS: [&str; 24] = [
        "nan",
        "-nan",
        "na",
        "n/a",
        "#n/a",
        "null",
        "none",
        "nil",
        "-",
        "--",
        "---",
        "----",
        "inf",
        "-inf",
        "+inf",
        "infinity",
        "ol",
        "over",
        "over range",
        "overrange",
        "under",
        "err",
        "error",
        "#div/0!",
    ];
    TOKENS.contains(&cell.trim().to_ascii_lowercase().as_str())
}

#[cfg(test)]
mod tests {
    use super::*;

    const POINT: NumberStyle = NumberStyle { decimal: DecimalMark::Point, thousands: None };
    const COMMA: NumberStyle = NumberStyle { decimal: DecimalMark::Comma, thousands: None };

    #[test]
    fn numbers_in_every_accepted_spelling() {
        for (text, style, value) in [
            ("1013.25", POINT, 1013.25),
            ("1013,25", COMMA, 1013.25),
            ("\u{2212}1.5", POINT, -1.5),
            ("1.5D+03", POINT, 1500.0),
            ("'12.5", POINT, 12.5),
            (
                "1,234,567.5",
                NumberStyle { decimal: DecimalMark::Point, thousands: Some(',') },
                1_234_567.5,
            ),
            ("1.234,5", NumberStyle { decimal: DecimalMark::Comma, thousands: Some('.') }, 1234.5),
            (
                "12\u{a0}345",
                NumberStyle { decimal: DecimalMark::Point, thousands: Some('\u{a0}') },
                12_345.0,
            ),
        ] {
            assert_eq!(read_cell(text, style), Ok(value), "{text}");
        }
        assert!(read_cell("-0.0", POINT).is_ok_and(f64::is_sign_positive));
    }

    #[test]
    fn what_is_no_number_says_why() {
        for (text, fault) in [
            ("", CellFault::Empty),
            ("OVER", CellFault::Text),
            ("nan", CellFault::Text),
            ("1013,25", CellFault::OtherMark),
            ("1'013", CellFault::OtherMark),
            ("1e400", CellFault::OutOfRange),
            ("1e-400", CellFault::OutOfRange),
            ("0x1F", CellFault::Hexadecimal),
            ("１２", CellFault::UnusualDigits),
            ("1.0E 03", CellFault::Text),
            ("1.2.3", CellFault::Text),
            ("5 Pa", CellFault::Text),
        ] {
            assert_eq!(read_cell(text, POINT), Err(fault), "{text}");
        }
        let thousands = NumberStyle { decimal: DecimalMark::Point, thousands: Some(',') };
        assert_eq!(read_cell("12,34", thousands), Err(CellFault::OtherMark));
    }

    #[test]
    fn missing_tokens_are_known_as_such() {
        assert!(is_missing_token("NaN") && is_missing_token("#DIV/0!") && !is_missing_token("12"));
    }
}
