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

/// Seconds since 1970 of a UTC time in RFC 3339, its fraction left out; `None`
/// where the text is none. A leap second counts as the one after it.
pub(crate) fn seconds(utc: &str) -> Option<i64> {
    if !is_utc(utc) {
        return None;
    }
    let part = |from: usize, to: usize| utc.get(from..to).and_then(|text| text.parse().ok());
    let (year, month, day): (i64, i64, i64) = (part(0, 4)?, part(5, 7)?, part(8, 10)?);
    let (hour, minute, second): (i64, i64, i64) = (part(11, 13)?, part(14, 16)?, part(17, 19)?);
    // Days since 1970 in the proleptic Gregorian calendar: the year begins in
    // March, so that the leap day is its last.
    let march_year = if month <= 2 { year - 1 } else { year };
    let month_from_march = (month + 9) % 12;
    let of_year = (153 * month_from_march + 2) / 5 + day - 1;
    let leap_days = march_year / 4 - march_year / 100 + march_year / 400;
    let days = 365 * march_year + leap_days + of_year - 719_468;
    Some(days * 86_400 + hour * 3_600 + minute * 60 + second)
}

/// UTC text of seconds since 1970.
pub(crate) fn utc_of(seconds: i64) -> String {
    let (days, rest) = (seconds.div_euclid(86_400), seconds.rem_euclid(86_400));
    let shifted = days + 719_468;
    let era = shifted.div_euclid(146_097);
    let of_era = shifted.rem_euclid(146_097);
    let year_of_era = (of_era - of_era / 1_460 + of_era / 36_524 - of_era / 146_096) / 365;
    let of_year = of_era - (365 * year_of_era + year_of_era / 4 - year_of_era / 100);
    let month_from_march = (5 * of_year + 2) / 153;
    let day = of_year - (153 * month_from_march + 2) / 5 + 1;
    let month = if month_from_march < 10 { month_from_march + 3 } else { month_from_march - 9 };
    let year = year_of_era + era * 400 + i64::from(month <= 2);
    let (hour, minute, second) = (rest / 3_600, rest / 60 % 60, rest % 60);
    format!("{year:04}-{month:02}-{day:02}T{hour:02}:{minute:02}:{second:02}Z")
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn known_seconds() {
        // `date -u -d @N` (GNU coreutils), an independent program.
        for (utc, expected) in [
            ("1970-01-01T00:00:00Z", 0),
            ("2000-02-29T12:34:56Z", 951_827_696),
            ("2026-11-25T01:02:03Z", 1_795_568_523),
            ("2100-03-01T00:00:00Z", 4_107_542_400),
        ] {
            assert_eq!(seconds(utc), Some(expected), "{utc}");
            assert_eq!(utc_of(expected), utc);
        }
        assert_eq!(seconds("yesterday"), None);
    }

    proptest! {
        #[test]
        fn seconds_come_back(n in 0_i64..200_000_000_000) {
            prop_assert_eq!(seconds(&utc_of(n)), Some(n));
        }
    }

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
