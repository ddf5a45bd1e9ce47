//! A moment in coordinated universal time, handed in by the caller: the paper
//! has no clock.

/// Date and time, UTC.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Moment {
    /// Year.
    pub year: i32,
    /// Month, 1 to 12.
    pub month: u8,
    /// Day of the month, from 1.
    pub day: u8,
    /// Hour, 0 to 23.
    pub hour: u8,
    /// Minute.
    pub minute: u8,
    /// Second.
    pub second: u8,
}

impl Moment {
    /// The moment in text, ISO 8601.
    #[must_use]
    pub fn text(&self) -> String {
        format!(
            "{:04}-{:02}-{:02} {:02}:{:02} UTC",
            self.year, self.month, self.day, self.hour, self.minute
        )
    }

    /// Reads `2026-11-25T01:02:03Z` or `2026-11-25`, as far as it is there.
    #[must_use]
    pub fn from_text(text: &str) -> Option<Self> {
        let (date, time) = text.split_once(['T', ' ']).unwrap_or((text, "00:00:00"));
        let mut date = date.splitn(3, '-');
        let mut time = time.trim_end_matches('Z').splitn(3, ':');
        let moment = Self {
            year: date.next()?.parse().ok()?,
            month: date.next()?.parse().ok()?,
            day: date.next()?.parse().ok()?,
            hour: time.next().unwrap_or("0").parse().ok()?,
            minute: time.next().unwrap_or("0").parse().ok()?,
            second: time.next().unwrap_or("0").split('.').next()?.parse().ok()?,
        };
        moment.exists().then_some(moment)
    }

    /// Whether the calendar has this moment.
    #[must_use]
    pub fn exists(&self) -> bool {
        let leap = self.year % 4 == 0 && (self.year % 100 != 0 || self.year % 400 == 0);
        let days = match self.month {
            2 => 28 + u8::from(leap),
            4 | 6 | 9 | 11 => 30,
            1..=12 => 31,
            _ => 0,
        };
        (1..=9999).contains(&self.year)
            && (1..=days).contains(&self.day)
            && self.hour < 24
            && self.minute < 60
            && self.second < 60
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn reads_what_it_writes() {
        let moment = Moment::from_text("2026-11-25T01:02:03Z").expect("a moment");
        assert_eq!(moment.text(), "2026-11-25 01:02 UTC");
        assert_eq!(Moment::from_text("2026-11-25").expect("a day").hour, 0);
    }

    #[test]
    fn days_that_do_not_exist_are_refused() {
        assert!(Moment::from_text("2026-02-29").is_none());
        assert!(Moment::from_text("2028-02-29").is_some());
        assert!(Moment::from_text("2026-13-01").is_none());
        assert!(Moment::from_text("yesterday").is_none());
    }
}
