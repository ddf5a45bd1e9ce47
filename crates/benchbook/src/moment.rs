//! Moment of a change: when, and by whom.

use crate::errors::BenchbookError;

/// When something is done and who does it. The time is passed in: this room
/// has no clock.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Moment {
    /// UTC, RFC 3339 with a final `Z`: `2026-11-25T01:02:03Z`, with or without
    /// a fraction of a second.
    pub utc: String,
    /// Name of the person or program.
    pub actor: String,
}

impl Moment {
    /// Refuses a time that is not UTC in RFC 3339, and an empty actor: both
    /// are kept for ever.
    pub(crate) fn check(&self) -> Result<(), BenchbookError> {
        if !is_utc(&self.utc) {
            return Err(BenchbookError::NotUtc { given: self.utc.clone() });
        }
        if self.actor.trim().is_empty() {
            return Err(BenchbookError::NoActor);
        }
        Ok(())
    }
}

/// `YYYY-MM-DDThh:mm:ss[.fff]Z` with each part in its range.
fn is_utc(text: &str) -> bool {
    let Some(rest) = text.strip_suffix('Z') else { return false };
    let (whole, fraction) = match rest.split_once('.') {
        Some((whole, fraction)) => (whole, Some(fraction)),
        None => (rest, None),
    };
    if fraction.is_some_and(|digits| !all_digits(digits) || digits.len() > 9) {
        return false;
    }
    if !whole.is_ascii() || whole.len() != 19 {
        return false;
    }
    let marks = [(4, b'-'), (7, b'-'), (10, b'T'), (13, b':'), (16, b':')];
    if marks.iter().any(|&(at, mark)| whole.as_bytes()[at] != mark) {
        return false;
    }
    let part = |from: usize, to: usize| {
        whole.get(from..to).filter(|text| all_digits(text)).and_then(|text| text.parse().ok())
    };
    let within = |value: Option<u32>, low: u32, high: u32| {
        value.is_some_and(|value| (low..=high).contains(&value))
    };
    within(part(0, 4), 0, 9999)
        && within(part(5, 7), 1, 12)
        && within(part(8, 10), 1, 31)
        && within(part(11, 13), 0, 23)
        && within(part(14, 16), 0, 59)
        // 60 is a leap second.
        && within(part(17, 19), 0, 60)
}

fn all_digits(text: &str) -> bool {
    !text.is_empty() && text.bytes().all(|byte| byte.is_ascii_digit())
}

/// Seconds part and fraction made comparable: `2026-…:03Z` and `…:03.5Z` sort
/// as times do.
pub(crate) fn sort_key(utc: &str) -> String {
    let rest = utc.strip_suffix('Z').unwrap_or(utc);
    let (whole, fraction) = rest.split_once('.').unwrap_or((rest, ""));
    format!("{whole}.{fraction:0<9}")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn only_utc_is_taken() {
        assert!(is_utc("2026-11-25T01:02:03Z"));
        assert!(is_utc("2026-11-25T01:02:03.123Z"));
        for wrong in [
            "",
            "Z",
            "2026-11-25",
            "2026-11-25T01:02:03",
            "2026-11-25T01:02:03+01:00",
            "2026-13-25T01:02:03Z",
            "2026-11-25T24:02:03Z",
            "2026-11-25T01:02:03.Z",
            "2026-11-25 01:02:03Z",
            "2026-11-2５T01:02:3Z",
            "+026-11-25T01:02:03Z",
        ] {
            assert!(!is_utc(wrong), "{wrong}");
        }
    }

    #[test]
    fn fractions_sort_as_times() {
        assert!(sort_key("2026-11-25T01:02:03Z") < sort_key("2026-11-25T01:02:03.5Z"));
        assert!(sort_key("2026-11-25T01:02:03.12Z") < sort_key("2026-11-25T01:02:03.5Z"));
        assert!(sort_key("2026-11-25T01:02:03.9Z") < sort_key("2026-11-25T01:02:04Z"));
    }
}
