//! Names that could mislead whoever reads them: of files, units and runs.

use unicode_normalization::UnicodeNormalization;

use crate::codes;
use crate::message::{Message, quoted};

/// Longest name that is shown whole.
const LONGEST: usize = 200;

/// What is to be said of a name: signs that cannot be seen or that turn the
/// direction of writing, letters of two scripts in one word, length.
///
/// # Example
/// ```
/// use intake::shown_names::name_messages;
/// assert!(name_messages("run_07 Größe.csv").is_empty());
/// assert_eq!(name_messages("run\u{202e}vsc.exe")[0].code, "INT-052");
/// // A Cyrillic letter that looks like a Latin one.
/// assert_eq!(name_messages("lot\u{0430}1").len(), 1);
/// ```
#[must_use]
pub fn name_messages(name: &str) -> Vec<Message> {
    let mut found = Vec::new();
    let mut say = |what: String, next: &str| {
        found.push(
            Message::warning(codes::HOSTILE_NAME, what).done("It was kept as it is.").next(next),
        );
    };
    let hidden = |c: char| {
        c.is_control()
            || matches!(c, '\u{200b}'..='\u{200f}' | '\u{202a}'..='\u{202e}' | '\u{2060}'..='\u{2069}' | '\u{feff}')
    };
    if name.chars().any(hidden) {
        say(
            format!("The name {} holds signs that cannot be seen", quoted(name)),
            "Rename it if nobody put them there on purpose.",
        );
    }
    if let Some(word) = name.split(|c: char| !c.is_alphanumeric()).find(|word| mixes_scripts(word))
    {
        say(
            format!("{} mixes letters of two scripts that look alike", quoted(word)),
            "Check that it is the name that it seems to be.",
        );
    }
    if name.chars().count() > LONGEST {
        say(format!("The name {} is very long", quoted(name)), "Give it a shorter one.");
    }
    found
}

/// Two names that look the same and are not: compared by
/// [`look`].
#[must_use]
pub fn look_alike(one: &str, other: &str) -> bool {
    one != other && look(one) == look(other)
}

/// A name with letters that look alike made one, without what cannot be seen,
/// in lower case, and in the composed form of Unicode (NFKC): `é` is one
/// letter, however it is written.
#[must_use]
pub fn look(name: &str) -> String {
    let composed: String = name.nfkc().collect();
    composed
        .to_lowercase()
        .chars()
        .filter(|c| c.is_alphanumeric())
        .map(|c| match c {
            'а' | 'α' => 'a',
            'с' | 'ϲ' => 'c',
            'е' => 'e',
            'і' | 'ι' | 'l' | '1' | '|' => 'i',
            'о' | 'ο' | '0' => 'o',
            'р' | 'ρ' => 'p',
            'ѕ' | '5' => 's',
            'х' | 'χ' => 'x',
            'у' | 'γ' => 'y',
            'в' | 'β' => 'b',
            'к' | 'κ' => 'k',
            'м' => 'm',
            'н' => 'h',
            'т' | 'τ' => 't',
            'ν' => 'v',
            other => other,
        })
        .collect()
}

/// Latin letters beside Greek or Cyrillic ones; `µ` and `Ω` are units.
fn mixes_scripts(word: &str) -> bool {
    let latin = word.chars().any(|c| c.is_ascii_alphabetic());
    let other = word.chars().any(|c| {
        matches!(c, '\u{0370}'..='\u{03ff}' | '\u{0400}'..='\u{04ff}')
            && !matches!(c, 'μ' | 'Ω' | 'Δ' | 'δ' | 'τ' | 'σ' | 'λ')
    });
    latin && other
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_that_look_the_same_are_found() {
        assert!(look_alike("LOT-O1", "lot-01") && look_alike("a\u{0441}e", "ace"));
        assert!(look_alike("Gr\u{f6}\u{df}e", "Gro\u{308}\u{df}e"), "composed and not");
        assert!(!look_alike("caf\u{e9}", "cafe"), "another letter");
        assert!(!look_alike("A1", "A2") && !look_alike("A1", "A1"));
    }

    #[test]
    fn units_of_measure_are_no_second_script() {
        assert!(name_messages("5μm_Δp").is_empty());
    }
}
