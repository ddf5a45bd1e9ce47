//! Words and numbers as pages print them.

use maud::{Markup, html};
use study::provenance::Provenance;

/// Text of a stranger: what is hidden or turns the line around is written
/// out. Tags are escaped by the page itself.
pub fn shown(text: &str) -> String {
    report::visible::visible(text)
}

/// Three significant digits.
pub fn three(value: f64) -> String {
    report::number::significant(value, 3)
}

/// Three significant digits, or words where there is no number.
pub fn three_or(value: Option<f64>, otherwise: &str) -> String {
    value.map_or_else(|| otherwise.to_owned(), three)
}

/// Two numbers as a range.
pub fn range(low: f64, high: f64) -> String {
    format!("{} to {}", three(low), three(high))
}

/// A count with its noun, which takes an `s` where it is not one.
pub fn counted(count: usize, noun: &str) -> String {
    let number = report::number::count(count as u64);
    if count == 1 { format!("{number} {noun}") } else { format!("{number} {noun}s") }
}

/// Where a number came from, as a tag and the words behind it.
pub fn known_from(provenance: &Provenance) -> Markup {
    let who: Vec<String> = [&provenance.from, &provenance.by, &provenance.on]
        .into_iter()
        .filter(|part| !part.is_empty())
        .map(|part| shown(part))
        .collect();
    html! {
        span.origin.{ "origin-" (provenance.origin.word()) } { (provenance.origin.word()) }
        @if !who.is_empty() { " " span.from { (who.join(", ")) } }
    }
}

/// Date and time without their seconds.
pub fn moment(text: &str) -> String {
    report::document::Moment::from_text(text).map_or_else(|| shown(text), |moment| moment.text())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn one_is_not_many() {
        assert_eq!(counted(1, "run"), "1 run");
        assert_eq!(counted(0, "run"), "0 runs");
    }

    #[test]
    fn a_number_that_is_none_is_said_in_words() {
        assert_eq!(three_or(None, "not estimable"), "not estimable");
        assert_eq!(three(f64::NAN), "not defined");
    }
}
