//! The clock: the one place where the time is asked for.

/// Now, and who is working: what every change of a benchbook carries.
pub fn moment() -> benchbook::Moment {
    benchbook::Moment { utc: now_utc(), actor: actor() }
}

/// Days from 1970-01-01 to today, UTC.
pub fn day_of_today() -> i64 {
    jiff::Timestamp::now().as_second().div_euclid(86_400)
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
