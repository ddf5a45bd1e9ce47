//! Sentences that stand in every report, and words that stand in none.

/// Cautions of every report.
pub const CAUTIONS: &[&str] = &[
    "Isobar supports a method; it does not qualify an instrument, release a product or replace a \
     site's procedures, the pharmacopoeia in force, local codes, or the judgement of qualified \
     people.",
    "A room-temperature vacuum test cannot see every leak: it misses those that are plugged, \
     healed, too small, or emptied before the measurement.",
    "Evacuated containers can break or spill hazardous product: follow the safety rules of the \
     site.",
    "A size in µm is the diameter of an ideal nozzle with the same flow at the stated reference \
     state, never a measured bore.",
];

/// Words that say more than any evidence carries.
pub const FORBIDDEN_WORDS: &[&str] =
    &["validated", "guarantee", "zero leak", "no leaks", "complies", "compliant", "leak-free"];

/// A fragment as a sentence: first letter large, a full stop at its end.
pub(super) fn sentence(fragment: &str) -> String {
    let fragment = fragment.trim();
    let mut characters = fragment.chars();
    let Some(first) = characters.next() else { return String::new() };
    // A unit or a name such as `isobar` or µm keeps its small letter.
    let first_word = fragment.split_whitespace().next().unwrap_or("");
    let plain_word = first_word
        .chars()
        .all(|letter| letter.is_ascii_lowercase() || matches!(letter, ',' | ':' | ';'));
    let mut text: String = if plain_word {
        first.to_uppercase().chain(characters).collect()
    } else {
        fragment.to_string()
    };
    if !text.ends_with(['.', '!', '?']) {
        text.push('.');
    }
    text
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn fragments_become_sentences() {
        assert_eq!(sentence("add two days"), "Add two days.");
        assert_eq!(sentence("µm is not a bore"), "µm is not a bore.");
        assert_eq!(sentence("Done."), "Done.");
        assert_eq!(sentence(" "), "");
    }
}
