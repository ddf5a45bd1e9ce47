//! The clock: the one place where the time is asked for.

/// Now, and who is working: what every change of a benchbook carries.
pub fn moment() -> benchbook::Moment {
    benchbook::Moment { utc: now_utc(), actor: actor() }
}

/// Days from 1970-01-01 to today, UTC.
pub fn day_of_today() -> i64 {
    jiff::Timestamp::now().as_second().div_euclid(86_400)
}

/// Whole days from the day of one moment in text to that of another; `None`
/// where the other is earlier or one of them is no day.
pub fn days_between(from: &str, to: &str) -> Option<i64> {
    let day = |text: &str| text.get(..10)?.parse::<jiff::civil::Date>().ok();
    let days = day(from)?.until(day(to)?).ok()?.get_days();
    (days >= 0).then_some(i64::from(days))
}

/// The present moment in UTC, RFC 3339, to the second.
fn now_utc() -> String {
    let now = jiff::Timestamp::now();
    let seconds = jiff::Timestamp::from_second(now.as_second()).unwrap_or(now);
    seconds.to_string()
}

/// The name under which the person works: taken from the system, because a
/// benchbook without accounts cannot know better, and says so.
fn actor() -> String {
    std::env::var("USER")
        .or_else(|_| std::env::var("USERNAME"))
        .ok()
        .filter(|name| !name.trim().is_empty())
        .unwrap_or_else(|| "unnamed user".to_owned())
}

#[cfg(test)]
mod tests {
    use super::days_between;

    #[test]
    fn days_between_moments() {
        // Python: (date(2026, 11, 25) - date(2024, 2, 28)).days, and so on.
        for (from, to, days) in [
            ("2024-02-28", "2026-11-25", 1001),
            ("2023-12-31", "2024-03-01", 61),
            ("1999-12-31", "2100-03-01", 36_585),
            ("2026-11-25", "2026-11-25", 0),
            ("2026-11-24T23:59:59Z", "2026-11-25T00:00:00Z", 1),
        ] {
            assert_eq!(days_between(from, to), Some(days), "{from} to {to}");
        }
        assert_eq!(days_between("2026-11-26", "2026-11-25"), None);
        assert_eq!(days_between("yesterday", "2026-11-25"), None);
    }
}
