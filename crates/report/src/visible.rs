//! User text made safe to print: nothing hidden, nothing that turns the line
//! around, nothing the embedded fonts cannot draw.

use crate::typeset::fonts;

/// The text with every invisible or direction-changing character written out,
/// e.g. `[U+202E]`. A line break is kept, a tab becomes a space.
#[must_use]
pub fn visible(text: &str) -> String {
    written(text, |_| true)
}

/// As [`visible`], and characters that no embedded font can draw are written
/// out as well, so that a paper never carries an empty box.
#[must_use]
pub fn printable(text: &str) -> String {
    written(text, fonts::can_draw)
}

fn written(text: &str, can_draw: impl Fn(char) -> bool) -> String {
    let mut result = String::with_capacity(text.len());
    let mut characters = text.chars().peekable();
    while let Some(character) = characters.next() {
        match character {
            '\r' if characters.peek() == Some(&'\n') => {}
            '\n' => result.push('\n'),
            '\t' => result.push(' '),
            _ if is_hidden(character) || !can_draw(character) => {
                result.push_str(&format!("[U+{:04X}]", u32::from(character)));
            }
            _ => result.push(character),
        }
    }
    result
}

/// Whether a character prints nothing, changes the direction of the text or
/// has no meaning outside a private agreement.
#[must_use]
pub fn is_hidden(character: char) -> bool {
    let code = u32::from(character);
    character.is_control()
        || matches!(code,
            0x00ad // soft hyphen
            | 0x034f | 0x061c | 0x115f | 0x1160 | 0x17b4 | 0x17b5 | 0x180b..=0x180f
            | 0x200b..=0x200f // zero width and direction marks
            | 0x2028..=0x202e // separators, embeddings, overrides
            | 0x2060..=0x206f // joiners, isolates
            | 0x3164 | 0xfe00..=0xfe0f | 0xfeff | 0xffa0
            | 0xfff0..=0xffff
            | 0xe000..=0xf8ff // private use
            | 0x1bca0..=0x1bca3 | 0x1d173..=0x1d17a
            | 0xe0000..=0x10_ffff)
        || code & 0xfffe == 0xfffe
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_reversed_name_is_shown_as_it_is_stored() {
        assert_eq!(visible("lot\u{202e}7A"), "lot[U+202E]7A");
        assert_eq!(visible("a\u{200b}b\u{2066}c"), "a[U+200B]b[U+2066]c");
        assert_eq!(visible("bell\u{7}"), "bell[U+0007]");
    }

    #[test]
    fn plain_text_and_line_breaks_are_kept() {
        assert_eq!(visible("5 µm · 2R\r\nnext\tcell"), "5 µm · 2R\nnext cell");
        assert_eq!(visible("\r"), "[U+000D]");
    }

    #[test]
    fn what_the_fonts_cannot_draw_is_written_out() {
        assert_eq!(
            printable("\u{4e2d} 5 µm ≥ 10⁻⁷\u{202f}Pa·m³/s"),
            "[U+4E2D] 5 µm ≥ 10⁻⁷\u{202f}Pa·m³/s"
        );
        assert_eq!(visible("\u{4e2d}"), "\u{4e2d}", "a browser has its own fonts");
    }
}
