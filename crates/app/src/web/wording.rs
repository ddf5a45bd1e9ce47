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

/// A number that somebody set: up to six digits, without trailing zeros.
pub fn plain(value: f64) -> String {
    if value.abs() >= 1.0e5 && value.abs() < 1.0e7 {
        return report::number::decimals_of(value, 0);
    }
    let text = report::number::significant(value, 6);
    let end = text.find(report::number::THIN_SPACE).filter(|_| text.contains('×'));
    let (digits, rest) = text.split_at(end.unwrap_or(text.len()));
    let digits = match digits.contains('.') {
        true => digits.trim_end_matches('0').trim_end_matches('.'),
        false => digits,
    };
    format!("{digits}{rest}")
}

/// Three significant digits, or words where there is no number.
pub fn three_or(value: Option<f64>, otherwise: &str) -> String {
    value.map_or_else(|| otherwise.to_owned(), three)
}

/// Two numbers as a range.
pub fn range(low: f64, high: f64) -> String {
    format!("{} to {}", three(low), three(high))
}

/// A count with its noun in the plural where it is not one.
pub fn counted(count: usize, noun: &str) -> String {
    let number = report::number::count(count as u64);
    match (count, noun.strip_suffix("ry")) {
        (1, _) => format!("{number} {noun}"),
        (_, Some(stem)) => format!("{number} {stem}ries"),
        (_, None) => format!("{number} {noun}s"),
    }
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

/// A clause as a sentence.
pub fn sentence(clause: &str) -> String {
    let mut characters = clause.chars();
    let first: String = characters.next().map(|c| c.to_uppercase().to_string()).unwrap_or_default();
    format!("{first}{}.", characters.as_str())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn one_is_not_many() {
        assert_eq!(counted(1, "run"), "1 run");
        assert_eq!(counted(0, "run"), "0 runs");
        assert_eq!(counted(1, "entry"), "1 entry");
        assert_eq!(counted(2, "entry"), "2 entries");
        assert_eq!(counted(2, "day"), "2 days");
    }

    #[test]
    fn what_was_set_is_written_as_it_was_set() {
        assert_eq!(plain(0.05), "0.05");
        assert_eq!(plain(22.0), "22");
        assert_eq!(plain(101_325.0), "101\u{202f}325");
        assert_eq!(plain(4.0e-4), "4\u{202f}×\u{202f}10⁻⁴");
        assert_eq!(plain(30_000.0), "30\u{202f}000");
        assert_eq!(plain(0.0), "0");
    }

    #[test]
    fn a_number_that_is_none_is_said_in_words() {
        assert_eq!(three_or(None, "not estimable"), "not estimable");
        assert_eq!(three(f64::NAN), "not defined");
    }
}
