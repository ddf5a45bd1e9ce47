//! Cells of a record.

use std::borrow::Cow;

/// What stands between the cells.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Separator {
    /// `,`
    Comma,
    /// `;`
    Semicolon,
    /// A tabulator.
    Tab,
    /// `|`
    Bar,
    /// One or more blanks.
    Blank,
    /// Nothing: one cell per line.
    Nothing,
}

impl Separator {
    /// Every separator, the more telling ones first.
    pub const ALL: [Self; 6] =
        [Self::Tab, Self::Semicolon, Self::Bar, Self::Comma, Self::Blank, Self::Nothing];

    /// The word that a reading plan uses.
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            Self::Comma => "comma",
            Self::Semicolon => "semicolon",
            Self::Tab => "tab",
            Self::Bar => "bar",
            Self::Blank => "blank",
            Self::Nothing => "nothing",
        }
    }

    /// The separator of this word, if it is one.
    #[must_use]
    pub fn from_word(word: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|separator| separator.word() == word)
    }

    /// The byte between cells; `None` for blanks and for single cells.
    #[must_use]
    pub const fn byte(self) -> Option<u8> {
        match self {
            Self::Comma => Some(b','),
            Self::Semicolon => Some(b';'),
            Self::Tab => Some(b'\t'),
            Self::Bar => Some(b'|'),
            Self::Blank | Self::Nothing => None,
        }
    }
}

/// Splits a record into its cells, trimmed and without their quotes.
///
/// The cells of the last call are dropped first, so that one list serves a
/// whole file.
pub fn split_fields<'a>(text: &'a str, separator: Separator, cells: &mut Vec<Cow<'a, str>>) {
    cells.clear();
    match separator.byte() {
        Some(byte) if text.contains('"') => split_quoted(text, char::from(byte), cells),
        Some(byte) => {
            cells.extend(text.split(char::from(byte)).map(|cell| Cow::Borrowed(cell.trim())))
        }
        None if separator == Separator::Blank => {
            cells.extend(text.split_ascii_whitespace().map(Cow::Borrowed));
        }
        None => cells.push(Cow::Borrowed(text.trim())),
    }
}

fn split_quoted<'a>(text: &'a str, separator: char, cells: &mut Vec<Cow<'a, str>>) {
    let mut rest = text;
    loop {
        let trimmed = rest.trim_start_matches(' ');
        if let Some(quoted) = trimmed.strip_prefix('"') {
            let (cell, after) = quoted_cell(quoted);
            let next = after.find(separator);
            cells.push(cell);
            match next {
                Some(at) => rest = &after[at + separator.len_utf8()..],
                None => return,
            }
        } else {
            match rest.split_once(separator) {
                Some((cell, after)) => {
                    cells.push(Cow::Borrowed(cell.trim()));
                    rest = after;
                }
                None => {
                    cells.push(Cow::Borrowed(rest.trim()));
                    return;
                }
            }
        }
    }
}

/// The cell up to its closing quote, and what follows the quote.
fn quoted_cell(text: &str) -> (Cow<'_, str>, &str) {
    let mut from = 0;
    while let Some(at) = text[from..].find('"') {
        let quote = from + at;
        if text[quote + 1..].starts_with('"') {
            from = quote + 2;
        } else {
            let cell = &text[..quote];
            let cell = if cell.contains('"') {
                Cow::Owned(cell.replace("\"\"", "\""))
            } else {
                Cow::Borrowed(cell)
            };
            return (cell, &text[quote + 1..]);
        }
    }
    (Cow::Borrowed(text), "")
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn cells(text: &str, separator: Separator) -> Vec<String> {
        let mut list = Vec::new();
        split_fields(text, separator, &mut list);
        list.into_iter().map(Cow::into_owned).collect()
    }

    #[test]
    fn cells_are_trimmed_and_unquoted() {
        assert_eq!(
            cells("a, b ,\"c, d\",\"e \"\"f\"\"\"", Separator::Comma),
            ["a", "b", "c, d", "e \"f\""]
        );
        assert_eq!(cells("a;;b;", Separator::Semicolon), ["a", "", "b", ""]);
        assert_eq!(cells("  1  2\t3 ", Separator::Blank), ["1", "2", "3"]);
        assert_eq!(cells("a b", Separator::Nothing), ["a b"]);
    }

    proptest! {
        #![proptest_config(ProptestConfig::with_cases(300))]
        /// The crate `csv` is the referee: whatever it writes reads back.
        #[test]
        fn what_an_independent_writer_writes_reads_back(
            row in prop::collection::vec("[a-z0-9,;\" .-]{0,8}", 2..6)
        ) {
            let mut writer = csv::WriterBuilder::new().from_writer(Vec::new());
            writer.write_record(&row).unwrap();
            let text = String::from_utf8(writer.into_inner().unwrap()).unwrap();
            let expected: Vec<String> = row.iter().map(|cell| {
                // Blanks around an unquoted cell are trimmed, within quotes they stay.
                if cell.contains([',', '"']) { cell.clone() } else { cell.trim().to_owned() }
            }).collect();
            prop_assert_eq!(cells(text.trim_end_matches('\n'), Separator::Comma), expected);
        }
    }
}
