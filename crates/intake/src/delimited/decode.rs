//! From bytes to text: encoding, byte order marks, NUL bytes, and files that
//! are not text at all.

use std::borrow::Cow;

use encoding_rs::{SHIFT_JIS, UTF_16BE, UTF_16LE, WINDOWS_1252};

use super::other_bytes::{japanese_words, refuse_binary_numbers, swapped_mark, two_code_pages};
use crate::codes;
use crate::message::{Message, Refusal};

/// How the bytes of a file spell its characters.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum TextEncoding {
    /// UTF-8, and so plain ASCII.
    Utf8,
    /// UTF-16, low byte first.
    Utf16LittleEndian,
    /// UTF-16, high byte first.
    Utf16BigEndian,
    /// Windows code page 1252, which holds Latin-1.
    Windows1252,
    /// Shift-JIS, as Japanese instruments write it.
    ShiftJis,
}

impl TextEncoding {
    /// Every encoding that is read.
    pub const ALL: [Self; 5] = [
        Self::Utf8,
        Self::Utf16LittleEndian,
        Self::Utf16BigEndian,
        Self::Windows1252,
        Self::ShiftJis,
    ];

    /// The word that a reading plan uses.
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            Self::Utf8 => "utf-8",
            Self::Utf16LittleEndian => "utf-16le",
            Self::Utf16BigEndian => "utf-16be",
            Self::Windows1252 => "windows-1252",
            Self::ShiftJis => "shift-jis",
        }
    }

    /// The encoding of this word, if it is one.
    #[must_use]
    pub fn from_word(word: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|encoding| encoding.word() == word)
    }
}

/// Text with one kind of line end, and how it was got from the bytes.
#[derive(Debug, Clone, PartialEq)]
pub struct DecodedText<'a> {
    /// The text; lines end with `\n` or `\r\n`.
    pub text: Cow<'a, str>,
    /// How the bytes were read.
    pub encoding: TextEncoding,
    /// What was noticed.
    pub messages: Vec<Message>,
}

/// Decodes the bytes of a text file.
///
/// A byte order mark decides; without one the bytes must be UTF-8, or show
/// the NUL pattern of UTF-16, or hold no sign of UTF-8 at all, in which case
/// they are read as Windows-1252 and a warning says so.
///
/// # Errors
/// Refuses empty files, files that are not text, NUL bytes within the text
/// and bytes that fit no encoding.
///
/// # Example
/// ```
/// let decoded = intake::delimited::decode(b"\xef\xbb\xbftime_s,p\n", None).map_err(|m| m.to_string())?;
/// assert_eq!(decoded.text, "time_s,p\n");
/// assert_eq!(decoded.messages[0].code, "INT-001");
/// # Ok::<(), String>(())
/// ```
pub fn decode(bytes: &[u8], given: Option<TextEncoding>) -> Result<DecodedText<'_>, Refusal> {
    if bytes.is_empty() {
        return Err(Message::refused(codes::TOO_SHORT, "The file is empty")
            .done("Nothing was read.")
            .next("Check that the export finished.")
            .into());
    }
    refuse_other_formats(bytes)?;
    let mut messages = Vec::new();
    let (text, encoding) = decode_characters(bytes, given, &mut messages)?;
    let is_ascii = text.is_ascii();
    let text = if is_ascii && !has_nul_or_return(text.as_bytes()) {
        text
    } else {
        let text = without_nul_block(text, &mut messages)?;
        with_plain_line_ends(text, &mut messages)
    };
    if !is_ascii && let Some(at) = ["Â°", "Âµ", "Ã¼"].iter().find_map(|twice| text.find(twice))
    {
        let before = &text[..at];
        let shown: String = text[at..].chars().take(2).collect();
        messages.push(
            Message::warning(
                codes::LEGACY_CODE_PAGE,
                format!(
                    "Characters look decoded twice, such as {}",
                    crate::message::quoted(&shown)
                ),
            )
            .at_line(1 + before.matches('\n').count() as u64)
            .at_column(before.chars().rev().take_while(|&c| c != '\n').count() as u64 + 1)
            .done("The text was kept as it stands.")
            .next("Export the file again as UTF-8, or state the units in the reading plan."),
        );
    }
    Ok(DecodedText { text, encoding, messages })
}

fn decode_characters<'a>(
    bytes: &'a [u8],
    given: Option<TextEncoding>,
    messages: &mut Vec<Message>,
) -> Result<(Cow<'a, str>, TextEncoding), Refusal> {
    if let Some(rest) = bytes.strip_prefix(b"\xef\xbb\xbf") {
        messages.push(
            Message::remark(codes::BYTE_ORDER_MARK, "The file begins with a byte order mark")
                .at_byte(0)
                .done("It was stripped; the text is UTF-8."),
        );
        return utf_8(rest, 3).map(|text| (text, TextEncoding::Utf8));
    }
    let marked = match bytes {
        [0xff, 0xfe, ..] => Some(TextEncoding::Utf16LittleEndian),
        [0xfe, 0xff, ..] => Some(TextEncoding::Utf16BigEndian),
        _ => None,
    };
    if let Some(encoding) = marked {
        let pattern = nul_pattern(&bytes[2..]).unwrap_or(encoding);
        let encoding = match given {
            // What the plan says goes before a mark that cannot be right.
            Some(said) if said == pattern => pattern,
            _ if pattern != encoding => return Err(swapped_mark(encoding, pattern)),
            _ => encoding,
        };
        messages.push(utf_16_note(encoding, "a byte order mark says so"));
        return utf_16(&bytes[2..], encoding, 2).map(|text| (text, encoding));
    }
    let encoding = given.or_else(|| nul_pattern(bytes));
    if encoding.is_none() {
        refuse_binary_numbers(bytes)?;
    }
    match encoding {
        Some(encoding @ (TextEncoding::Utf16LittleEndian | TextEncoding::Utf16BigEndian)) => {
            let why =
                if given.is_some() { "the reading plan says so" } else { "its NUL bytes say so" };
            messages.push(utf_16_note(encoding, why));
            utf_16(bytes, encoding, 0).map(|text| (text, encoding))
        }
        Some(TextEncoding::Windows1252) => {
            windows_1252(bytes).map(|text| (text, TextEncoding::Windows1252))
        }
        Some(TextEncoding::ShiftJis) => shift_jis(bytes).map(|text| (text, TextEncoding::ShiftJis)),
        Some(TextEncoding::Utf8) => utf_8(bytes, 0).map(|text| (text, TextEncoding::Utf8)),
        None => utf_8_or_windows_1252(bytes, messages),
    }
}

fn utf_16_note(encoding: TextEncoding, why: &str) -> Message {
    Message::remark(codes::UTF_16, format!("The text is {}: {why}", encoding.word()))
        .done("It was decoded.")
}

fn utf_8(bytes: &[u8], skipped: usize) -> Result<Cow<'_, str>, Refusal> {
    match core::str::from_utf8(bytes) {
        Ok(text) => Ok(Cow::Borrowed(text)),
        Err(error) => Err(invalid_utf_8(bytes, error.valid_up_to(), skipped).into()),
    }
}

fn invalid_utf_8(bytes: &[u8], valid_up_to: usize, skipped: usize) -> Message {
    let line = 1 + bytes[..valid_up_to].iter().filter(|&&byte| byte == b'\n').count();
    Message::refused(codes::INVALID_UTF_8, "A byte fits no character of UTF-8")
        .at_line(line as u64)
        .at_byte((valid_up_to + skipped) as u64)
        .done("Nothing was read.")
        .next("Export the file again as UTF-8, or state encoding = \"windows-1252\" in the reading plan.")
}

/// UTF-8 where it is valid; Windows-1252 where nothing speaks for UTF-8.
fn utf_8_or_windows_1252<'a>(
    bytes: &'a [u8],
    messages: &mut Vec<Message>,
) -> Result<(Cow<'a, str>, TextEncoding), Refusal> {
    let Err(error) = core::str::from_utf8(bytes) else {
        return utf_8(bytes, 0).map(|text| (text, TextEncoding::Utf8));
    };
    let at = error.valid_up_to();
    let lossy = String::from_utf8_lossy(bytes);
    let speaks_for_utf_8 = lossy.chars().any(|c| !c.is_ascii() && c != char::REPLACEMENT_CHARACTER);
    if speaks_for_utf_8 {
        return Err(invalid_utf_8(bytes, at, 0).into());
    }
    let western = windows_1252(bytes);
    if let Some(word) = japanese_words(bytes) {
        return Err(two_code_pages(bytes, at, &word, western.as_deref().unwrap_or("nothing")));
    }
    let text = western?;
    let line = 1 + bytes[..at].iter().filter(|&&byte| byte == b'\n').count();
    let first = text.chars().find(|c| !c.is_ascii()).map(String::from).unwrap_or_default();
    messages.push(
        Message::warning(
            codes::LEGACY_CODE_PAGE,
            format!(
                "The file is not UTF-8; its first other character reads {} in Windows-1252",
                crate::message::quoted(&first)
            ),
        )
        .at_line(line as u64)
        .at_byte(at as u64)
        .done("It was read as Windows-1252.")
        .next("If the characters look wrong, state the encoding in the reading plan."),
    );
    Ok((text, TextEncoding::Windows1252))
}

fn windows_1252(bytes: &[u8]) -> Result<Cow<'_, str>, Refusal> {
    if let Some(at) = bytes.iter().position(|byte| matches!(byte, 0x81 | 0x8d | 0x8f | 0x90 | 0x9d))
    {
        return Err(Message::refused(
            codes::LEGACY_CODE_PAGE,
            "A byte fits neither UTF-8 nor Windows-1252",
        )
        .at_byte(at as u64)
        .done("Nothing was read.")
        .next("Export the file again as UTF-8.")
        .into());
    }
    Ok(WINDOWS_1252.decode_without_bom_handling(bytes).0)
}

fn shift_jis(bytes: &[u8]) -> Result<Cow<'_, str>, Refusal> {
    SHIFT_JIS.decode_without_bom_handling_and_without_replacement(bytes).ok_or_else(|| {
        Message::refused(codes::LEGACY_CODE_PAGE, "The bytes do not fit Shift-JIS")
            .done("Nothing was read.")
            .next("State another encoding in the reading plan, or export the file as UTF-8.")
            .into()
    })
}

fn utf_16(bytes: &[u8], encoding: TextEncoding, skipped: usize) -> Result<Cow<'_, str>, Refusal> {
    let decoder = if encoding == TextEncoding::Utf16BigEndian { UTF_16BE } else { UTF_16LE };
    if bytes.len() % 2 == 1 {
        return Err(Message::refused(
            codes::TRUNCATED,
            "The UTF-16 text ends in the middle of a character",
        )
        .at_byte((bytes.len() + skipped) as u64)
        .done("Nothing was read.")
        .next("Copy or export the file again.")
        .into());
    }
    decoder.decode_without_bom_handling_and_without_replacement(bytes).ok_or_else(|| {
        Message::refused(codes::UTF_16, "The UTF-16 text holds half a character pair")
            .done("Nothing was read.")
            .next("Export the file again as UTF-8.")
            .into()
    })
}

/// UTF-16 shows in ASCII text as a NUL in every second byte.
fn nul_pattern(bytes: &[u8]) -> Option<TextEncoding> {
    let sample = &bytes[..bytes.len().min(2048)];
    let pairs = sample.len() / 2;
    if pairs == 0 {
        return None;
    }
    let high = sample.chunks_exact(2).filter(|pair| pair[0] == 0 && pair[1] != 0).count();
    let low = sample.chunks_exact(2).filter(|pair| pair[1] == 0 && pair[0] != 0).count();
    if low * 10 >= pairs * 9 {
        Some(TextEncoding::Utf16LittleEndian)
    } else if high * 10 >= pairs * 9 {
        Some(TextEncoding::Utf16BigEndian)
    } else {
        None
    }
}

/// True where a byte is NUL or a carriage return. Blocks are folded without
/// leaving early, which is many bytes at a time.
fn has_nul_or_return(bytes: &[u8]) -> bool {
    let odd = |byte: u8| u8::from(byte == 0) | u8::from(byte == b'\r');
    bytes.chunks(4096).any(|block| block.iter().fold(0, |found, &byte| found | odd(byte)) != 0)
}

/// Cuts NUL bytes at the end, which loggers write ahead; refuses others.
fn without_nul_block<'a>(
    text: Cow<'a, str>,
    messages: &mut Vec<Message>,
) -> Result<Cow<'a, str>, Refusal> {
    let Some(first) = text.find('\0') else { return Ok(text) };
    let kept = text.trim_end_matches(['\0', '\u{1a}']).len();
    if first < kept {
        let line = 1 + text[..first].matches('\n').count();
        return Err(Message::refused(codes::NUL_BYTES, "A NUL byte stands within the text")
            .at_line(line as u64)
            .at_byte(first as u64)
            .done("Nothing was read.")
            .next("Copy or export the file again.")
            .into());
    }
    messages.push(
        Message::warning(
            codes::NUL_BYTES,
            format!("{} NUL bytes stand at the end", text.len() - kept),
        )
        .at_byte(kept as u64)
        .done("They were cut.")
        .next("Check that the logger had finished writing."),
    );
    Ok(match text {
        Cow::Borrowed(text) => Cow::Borrowed(&text[..kept]),
        Cow::Owned(mut text) => {
            text.truncate(kept);
            Cow::Owned(text)
        }
    })
}

/// Turns lone CR and the line separators of Unicode into LF.
fn with_plain_line_ends<'a>(text: Cow<'a, str>, messages: &mut Vec<Message>) -> Cow<'a, str> {
    let bytes = text.as_bytes();
    let has_return = text.contains('\r');
    let mut n_lone = 0_usize;
    let mut n_pairs = 0_usize;
    if has_return {
        for (at, _) in text.match_indices('\r') {
            if bytes.get(at + 1) == Some(&b'\n') { n_pairs += 1 } else { n_lone += 1 }
        }
    }
    let n_unicode =
        if text.is_ascii() { 0 } else { text.matches(['\u{2028}', '\u{2029}', '\u{85}']).count() };
    let n_feeds =
        if n_pairs + n_lone + n_unicode == 0 { 0 } else { text.matches('\n').count() - n_pairs };
    let kinds = [n_pairs, n_lone, n_unicode, n_feeds].iter().filter(|&&n| n > 0).count();
    if kinds > 1 {
        messages.push(
            Message::remark(codes::LINE_ENDINGS, format!("Lines end in several ways: {n_pairs} CRLF, {n_feeds} LF, {n_lone} CR, {n_unicode} Unicode"))
                .done("All were accepted."),
        );
    }
    if n_lone + n_unicode == 0 {
        return text;
    }
    let plain = text.replace("\r\n", "\n").replace(['\r', '\u{2028}', '\u{2029}', '\u{85}'], "\n");
    Cow::Owned(plain)
}

/// Files whose first bytes say that they are not delimited text.
const OTHER_FORMATS: &[(&[u8], &str, &str)] = &[
    (b"%PDF", "a PDF", "Export the data as CSV."),
    (
        b"PK\x03\x04",
        "a ZIP archive or an XLSX workbook",
        "Save the sheet as CSV, or unpack the archive.",
    ),
    (
        b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1",
        "an old or protected spreadsheet (OLE)",
        "Open it and save the sheet as CSV.",
    ),
    (b"\x1f\x8b", "a gzip archive", "Unpack it first."),
    (b"SQLite format 3\0", "a SQLite database", "A benchbook is opened, not imported."),
    (b"PAR1", "a Parquet file", "Export the data as CSV."),
    (b"\x89PNG", "a picture", "Choose the file with the data."),
];

fn refuse_other_formats(bytes: &[u8]) -> Result<(), Refusal> {
    let known = OTHER_FORMATS.iter().find(|(magic, _, _)| bytes.starts_with(magic));
    let start = String::from_utf8_lossy(&bytes[..bytes.len().min(256)]).to_ascii_lowercase();
    let start = start.trim_start_matches(['\u{feff}', ' ', '\n', '\r', '\t']);
    let markup =
        ["<!doctype html", "<html", "<?xml", "<table"].iter().any(|tag| start.starts_with(tag));
    let (what, next) = match (known, markup) {
        (Some((_, what, next)), _) => (*what, *next),
        (None, true) => ("a web page or XML", "Open it and save the table as CSV."),
        (None, false) => return Ok(()),
    };
    Err(Message::refused(codes::NOT_TEXT, format!("This is {what}, whatever its name says"))
        .at_byte(0)
        .done("Nothing was read.")
        .next(next)
        .into())
}

#[cfg(test)]
mod tests {
    use super::*;

    fn code_of(bytes: &[u8]) -> &'static str {
        decode(bytes, None).map_or_else(|m| m.code(), |d| d.messages.first().map_or("", |m| m.code))
    }

    fn utf_16_bytes(text: &str, big: bool) -> Vec<u8> {
        text.encode_utf16()
            .flat_map(|unit| if big { unit.to_be_bytes() } else { unit.to_le_bytes() })
            .collect()
    }

    #[test]
    fn every_encoding_gives_the_same_text() {
        let text = "t;p [µbar]\n0;1\n";
        assert_eq!(decode(text.as_bytes(), None).unwrap().text, text);
        for big in [false, true] {
            let bytes = utf_16_bytes(text, big);
            assert_eq!(decode(&bytes, None).unwrap().text, text, "big {big}");
            let marked = utf_16_bytes(&format!("\u{feff}{text}"), big);
            assert_eq!(decode(&marked, None).unwrap().text, text, "big {big}");
        }
        let latin = b"t;p [\xb5bar]\n0;1\n";
        let decoded = decode(latin, None).unwrap();
        assert_eq!(decoded.text, text);
        assert_eq!(decoded.encoding, TextEncoding::Windows1252);
        assert_eq!(decoded.messages[0].place.byte, Some(5));
    }

    #[test]
    fn invalid_bytes_in_utf_8_are_refused_with_their_place() {
        let refusal = decode(b"\xc2\xb5\nab\xff\n", None).unwrap_err();
        let error = refusal.first();
        assert_eq!((error.code, error.place.line, error.place.byte), ("INT-004", Some(2), Some(5)));
    }

    #[test]
    fn nul_bytes_at_the_end_are_cut_and_others_refused() {
        assert_eq!(decode(b"1,2\n\0\0\0", None).unwrap().text, "1,2\n");
        assert_eq!(code_of(b"1,2\n\0\0\0"), "INT-005");
        let refusal = decode(b"1,2\n1,\0 3\n1,2,3,4,5,6\n", None).unwrap_err();
        let error = refusal.first();
        assert_eq!((error.code, error.place.line), ("INT-005", Some(2)));
    }

    #[test]
    fn all_line_ends_are_one() {
        for text in ["a\rb\rc", "a\u{2028}b\u{85}c", "a\nb\rc"] {
            assert_eq!(decode(text.as_bytes(), None).unwrap().text, "a\nb\nc");
        }
        assert_eq!(code_of(b"a\r\nb\nc"), "INT-006");
    }

    #[test]
    fn other_formats_are_named() {
        for bytes in [&b"%PDF-1.7"[..], b"PK\x03\x04..", b"<html><table>", b"\x1f\x8b\x08"] {
            assert_eq!(code_of(bytes), "INT-051");
        }
        assert_eq!(code_of(b""), "INT-046");
        assert_eq!(code_of(b"T [\xc3\x82\xc2\xb0C]\n"), "INT-003");
    }
}
