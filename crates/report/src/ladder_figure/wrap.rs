//! Words broken into lines of a given width.

use crate::figure::Lettering;

/// Share of the width that words may take by the letters of the documents: a browser
/// that lacks these sets them in letters up to a quarter wider.
pub const FOR_WIDER_LETTERS: f64 = 0.76;

/// Lines no wider than `width`; a word that is wider alone is cut.
#[must_use]
pub fn wrapped(text: &str, width: f64, lettering: Lettering) -> Vec<String> {
    let mut lines: Vec<String> = Vec::new();
    let mut line = String::new();
    for word in text.split_whitespace() {
        let longer = if line.is_empty() { word.to_string() } else { format!("{line} {word}") };
        if lettering.width(&longer) <= width {
            line = longer;
            continue;
        }
        if !line.is_empty() {
            lines.push(std::mem::take(&mut line));
        }
        for character in word.chars() {
            if !line.is_empty() && lettering.width(&format!("{line}{character}")) > width {
                lines.push(std::mem::take(&mut line));
            }
            line.push(character);
        }
    }
    if !line.is_empty() {
        lines.push(line);
    }
    lines
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn no_line_is_too_wide_and_no_letter_is_lost() {
        let lettering = Lettering::plain(9.0);
        let text = "results 7, 60 defects, 3 lots averylongwordwithoutanyspaceinitatall";
        let lines = wrapped(text, 80.0, lettering);
        assert!(lines.len() > 2);
        assert!(lines.iter().all(|line| lettering.width(line) <= 80.0));
        assert_eq!(lines.concat().replace(' ', ""), text.replace(' ', ""));
    }
}
