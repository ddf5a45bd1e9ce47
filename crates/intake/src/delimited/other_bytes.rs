//! Bytes that are no text, or text in another code page than it seems: what
//! tells them, before anything is read from them.

use encoding_rs::SHIFT_JIS;

use super::decode::TextEncoding;
use crate::codes;
use crate::message::{Message, Refusal, quoted};

/// Words of Shift-JIS in a text that is not UTF-8: two or more Japanese
/// characters of two bytes each that follow one another. `None` where there
/// are none, or where the bytes do not fit the encoding.
pub(super) fn japanese_words(bytes: &[u8]) -> Option<String> {
    let text = SHIFT_JIS.decode_without_bom_handling_and_without_replacement(bytes)?;
    let is_japanese = |c: char| matches!(c, '\u{3041}'..='\u{30fe}' | '\u{4e00}'..='\u{9fff}');
    let words = text.split(|c: char| !is_japanese(c));
    words.filter(|word| word.chars().count() >= 2).map(str::to_owned).next()
}

/// Refuses a text that two code pages fit: which one is asked.
pub(super) fn two_code_pages(bytes: &[u8], at: usize, word: &str, western: &str) -> Refusal {
    let line_start = bytes[..at].iter().rposition(|&byte| byte == b'\n').map_or(0, |feed| feed + 1);
    let line = 1 + bytes[..at].iter().filter(|&&byte| byte == b'\n').count();
    let shown: String = western.chars().skip_while(char::is_ascii).take(12).collect();
    Message::refused(
        codes::LEGACY_CODE_PAGE,
        format!(
            "The file is not UTF-8: in Shift-JIS it reads {}, in Windows-1252 {}",
            quoted(word),
            quoted(shown.split(['\n', ',', ';', '\t']).next().unwrap_or(""))
        ),
    )
    .at_line(line as u64)
    .at_column((at - line_start) as u64 + 1)
    .at_byte(at as u64)
    .done("Nothing was read.")
    .next("State encoding = \"shift-jis\" or \"windows-1252\" in the reading plan.")
    .into()
}

/// Refuses UTF-16 whose mark says one order of the bytes while its NUL bytes
/// say the other.
pub(super) fn swapped_mark(marked: TextEncoding, pattern: TextEncoding) -> Refusal {
    Message::refused(
        codes::BYTE_SWAPPED,
        format!(
            "The byte order mark says {}, and the NUL bytes say {}",
            marked.word(),
            pattern.word()
        ),
    )
    .at_line(1)
    .at_column(1)
    .at_byte(0)
    .done("Nothing was read.")
    .next(format!(
        "State encoding = \"{}\" in the reading plan, or export as UTF-8.",
        pattern.word()
    ))
    .into()
}

/// Refuses bytes that are numbers of a computer and not of a text. Read in one
/// order of the bytes nearly all of them are of a size that occurs, in the
/// other hardly any; which order was meant is not guessed.
pub(super) fn refuse_binary_numbers(bytes: &[u8]) -> Result<(), Refusal> {
    let sample = &bytes[..bytes.len().min(4096)];
    if bytes.len() < 64 || !sample.iter().any(|&byte| byte < 9) {
        return Ok(());
    }
    let share = |size: usize, read: &dyn Fn(&[u8]) -> f64| {
        let values: Vec<f64> = sample.chunks_exact(size).map(read).collect();
        let usual = |value: &&f64| **value == 0.0 || (1.0e-6..1.0e9).contains(&value.abs());
        let n_zero = values.iter().filter(|value| **value == 0.0).count();
        if n_zero * 2 > values.len() {
            return (0, 1, 0.0);
        }
        let first = values.iter().copied().find(|value| *value != 0.0).unwrap_or(0.0);
        (values.iter().filter(usual).count(), values.len(), first)
    };
    let eight = |bytes: &[u8]| bytes.first_chunk::<8>().copied().unwrap_or_default();
    let four = |bytes: &[u8]| bytes.first_chunk::<4>().copied().unwrap_or_default();
    let readings = [
        ("eight bytes, the low one first", share(8, &|b| f64::from_le_bytes(eight(b)))),
        ("eight bytes, the high one first", share(8, &|b| f64::from_be_bytes(eight(b)))),
        ("four bytes, the low one first", share(4, &|b| f64::from(f32::from_le_bytes(four(b))))),
        ("four bytes, the high one first", share(4, &|b| f64::from(f32::from_be_bytes(four(b))))),
    ];
    let found = readings.iter().find(|(_, (usual, n, _))| usual * 20 >= n * 19);
    let Some((words, (_, _, first))) = found else { return Ok(()) };
    Err(Message::refused(
        codes::BYTE_SWAPPED,
        format!("The file holds no text but binary numbers of {words}, the first {first}"),
    )
    .at_line(1)
    .at_column(1)
    .at_byte(0)
    .done("Nothing was read: read in the other order the same bytes give other numbers.")
    .next("Export the data as text.")
    .into())
}

#[cfg(test)]
mod tests {
    use super::*;

    fn numbers(high_first: bool) -> Vec<u8> {
        let values = (0..64).map(|row| 101_325.0 / (1.0 + f64::from(row)));
        values
            .flat_map(|value| if high_first { value.to_be_bytes() } else { value.to_le_bytes() })
            .collect()
    }

    #[test]
    fn binary_numbers_are_told_in_both_orders() {
        for (high_first, word) in [(true, "high"), (false, "low")] {
            let refusal = refuse_binary_numbers(&numbers(high_first)).unwrap_err();
            assert_eq!(refusal.code(), "INT-058");
            assert!(refusal.first().what.contains(word), "{refusal}");
        }
        assert!(refuse_binary_numbers(b"time_s,p\n0,1\n").is_ok());
        let padded = ["time_s,p [Pa]\n0,1\n1,2\n".as_bytes(), &[0; 512]].concat();
        assert!(refuse_binary_numbers(&padded).is_ok());
    }

    #[test]
    fn japanese_is_told_from_western_letters() {
        let japanese = SHIFT_JIS.encode("時間 [s],圧力 [Pa]\n").0;
        assert_eq!(japanese_words(&japanese).as_deref(), Some("時間"));
        let western = encoding_rs::WINDOWS_1252.encode("Größe [µbar],Prüfling,T [°C]\n").0;
        assert_eq!(japanese_words(&western), None);
    }
}
