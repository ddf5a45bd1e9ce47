//! Clock times in cells: date with time, or time of day alone.

/// Order of day, month and year where all three are numbers.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum DateOrder {
    /// `2023-06-15`
    YearMonthDay,
    /// `15/06/2023`
    DayMonthYear,
    /// `06/15/2023`
    MonthDayYear,
}

impl DateOrder {
    /// The word that a reading plan uses.
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            Self::YearMonthDay => "year month day",
            Self::DayMonthYear => "day month year",
            Self::MonthDayYear => "month day year",
        }
    }

    /// The order of this word, if it is one.
    #[must_use]
    pub fn from_word(word: &str) -> Option<Self> {
        [Self::YearMonthDay, Self::DayMonthYear, Self::MonthDayYear]
            .into_iter()
            .find(|order| order.word() == word)
    }
}

/// What the user has said about clock times.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default)]
pub struct ClockStyle {
    /// Order of the date, if it was said.
    pub order: Option<DateOrder>,
}

/// A clock time, without a zone unless it was written.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ClockReading {
    /// Days from 1970-01-01; `None` where only the time of day is written.
    pub day: Option<i64>,
    /// Seconds from midnight.
    pub second_of_day: f64,
    /// Seconds that the zone is ahead of UTC, where written.
    pub zone_s: Option<i32>,
    /// True where day and month could be the other way round.
    pub ambiguous: bool,
    /// The order in which the date was read.
    pub order: Option<DateOrder>,
}

impl ClockReading {
    /// Seconds from an earlier reading to this one.
    #[must_use]
    pub fn seconds_since(&self, earlier: &Self) -> f64 {
        let days = self.day.unwrap_or(0) - earlier.day.unwrap_or(0);
        let zone = f64::from(self.zone_s.unwrap_or(0)) - f64::from(earlier.zone_s.unwrap_or(0));
        days as f64 * 86_400.0 + (self.second_of_day - earlier.second_of_day) - zone
    }
}

/// True where a cell has the shape of a clock time, whether or not it can be
/// read: what does not read is then refused for what it is.
#[must_use]
pub fn looks_like_clock(cell: &str) -> bool {
    let cell = cell.trim();
    let bytes = cell.as_bytes();
    if !bytes.first().is_some_and(u8::is_ascii_digit) {
        return false;
    }
    let is_digit = |at: usize| bytes.get(at).is_some_and(u8::is_ascii_digit);
    let mut has_time = false;
    let mut marks = [0_usize; 3];
    for (at, &byte) in bytes.iter().enumerate() {
        match byte {
            b':' => has_time |= at > 0 && is_digit(at - 1) && is_digit(at + 1),
            b'-' => marks[0] += 1,
            b'/' => marks[1] += 1,
            b'.' => marks[2] += 1,
            b',' if bytes.get(at + 1) == Some(&b' ') => {}
            b' ' | b'+' | b'0'..=b'9' => {}
            byte if byte.is_ascii_alphabetic() || !byte.is_ascii() => {}
            _ => return false,
        }
    }
    if !has_time && !marks.contains(&2) {
        return false;
    }
    cell.split(|c: char| !c.is_alphabetic()).filter(|word| !word.is_empty()).all(|word| {
        matches!(word, "T" | "Z" | "AM" | "PM" | "am" | "pm" | "UTC")
            || month_of_name(word).is_some()
    })
}

/// True where a cell is a date whose year has two digits, which is not read.
#[must_use]
pub fn has_short_year(cell: &str) -> bool {
    let date = cell.trim().split([' ', 'T']).next().unwrap_or("");
    let mut parts = date.split(['-', '/', '.']);
    let (Some(one), Some(two), Some(three), None) =
        (parts.next(), parts.next(), parts.next(), parts.next())
    else {
        return false;
    };
    let short = |part: &str| whole(part, 2).is_some();
    short(one) && short(three) && (short(two) || month_of_name(two).is_some())
}

/// True where a cell is hours and minutes or minutes and seconds, and nothing
/// tells which.
#[must_use]
pub fn is_two_part_time(cell: &str) -> bool {
    let mut parts = cell.trim().split(':');
    let (Some(one), Some(two), None) = (parts.next(), parts.next(), parts.next()) else {
        return false;
    };
    whole(one, 3).is_some() && whole(two, 2).is_some()
}

/// Reads a clock time: `15-Jun-2023 15:38:01`, `2023-06-15T15:38:01.5+02:00`,
/// `13-06-2016 - 16:41:18`, `06/15/2023 3:38:01 PM`, `15:38:01`.
///
/// Dates parted by points are day first (common practice). Other all-number
/// dates that fit both orders are read day first and marked ambiguous, unless
/// the style says which. Two-digit years are not read.
///
/// # Example
/// ```
/// use intake::delimited::{read_clock, ClockStyle};
/// let one = read_clock("15-Jun-2023 15:38:01", ClockStyle::default());
/// let two = read_clock("2023-06-16T00:00:00", ClockStyle::default());
/// let seconds = one.zip(two).map(|(one, two)| two.seconds_since(&one));
/// assert_eq!(seconds, Some(30_119.0));
/// ```
#[must_use]
pub fn read_clock(cell: &str, style: ClockStyle) -> Option<ClockReading> {
    let cell = cell.trim();
    let (date, time) = split_date_and_time(cell);
    let (second_of_day, zone_s) = match time {
        Some(time) => read_time(time)?,
        None => (0.0, None),
    };
    let Some(date) = date else {
        return Some(ClockReading {
            day: None,
            second_of_day,
            zone_s,
            ambiguous: false,
            order: None,
        });
    };
    let (day, order, ambiguous) = read_date(date, style.order)?;
    Some(ClockReading { day: Some(day), second_of_day, zone_s, ambiguous, order: Some(order) })
}

/// The date and the time of day, either of which may be absent.
fn split_date_and_time(cell: &str) -> (Option<&str>, Option<&str>) {
    let Some(colon) = cell.find(':') else { return (Some(cell), None) };
    let hour = cell[..colon].trim_end_matches(|c: char| c.is_ascii_digit()).len();
    let before = cell[..hour].trim_end_matches([' ', 'T', '-', ',', ':']);
    if before.is_empty() {
        (None, Some(&cell[hour..]))
    } else {
        (Some(before.trim()), Some(&cell[hour..]))
    }
}

fn read_time(text: &str) -> Option<(f64, Option<i32>)> {
    let text = text.trim();
    let (text, zone_s) = split_zone(text)?;
    let lower = text.to_ascii_lowercase();
    let (body, half) = if let Some(body) = lower.strip_suffix("am") {
        (body.trim_end(), Some(0))
    } else if let Some(body) = lower.strip_suffix("pm") {
        (body.trim_end(), Some(12))
    } else {
        (lower.as_str(), None)
    };
    if let Some((minutes, rest)) = body.split_once(':')
        && !rest.contains(':')
        && rest.contains(['.', ','])
        && half.is_none()
    {
        // Decimals belong to seconds: this is minutes and seconds.
        return Some((f64::from(whole(minutes, 4)? * 60) + seconds(rest)?, zone_s));
    }
    let mut parts = body.split(':');
    let mut hour: u32 = whole(parts.next()?, 2)?;
    let minute: u32 = whole(parts.next()?, 2)?;
    let second = match parts.next() {
        Some(second) => seconds(second)?,
        None => 0.0,
    };
    if parts.next().is_some() || minute > 59 {
        return None;
    }
    if let Some(half) = half {
        if !(1..=12).contains(&hour) {
            return None;
        }
        hour = hour % 12 + half;
    }
    if hour > 23 {
        return None;
    }
    Some((f64::from(hour * 3600 + minute * 60) + second, zone_s))
}

/// Splits `Z`, `+02:00` or `-0530` off a time of day.
fn split_zone(text: &str) -> Option<(&str, Option<i32>)> {
    if let Some(body) = text.strip_suffix(['Z', 'z']) {
        return Some((body, Some(0)));
    }
    let Some(at) = text.rfind(['+', '-']) else { return Some((text, None)) };
    let sign = if text[at..].starts_with('-') { -1 } else { 1 };
    let digits: String = text[at + 1..].chars().filter(|c| *c != ':').collect();
    let (hours, minutes) = match digits.len() {
        2 => (whole(&digits, 2)?, 0),
        4 => (whole(&digits[..2], 2)?, whole(&digits[2..], 2)?),
        _ => return None,
    };
    if hours > 14 || minutes > 59 {
        return None;
    }
    let seconds = i32::try_from(hours * 3600 + minutes * 60).ok()?;
    Some((text[..at].trim_end(), Some(sign * seconds)))
}

/// Seconds with decimals behind a point or a comma, below 61.
fn seconds(text: &str) -> Option<f64> {
    let text = text.trim();
    let plain = text.bytes().all(|byte| byte.is_ascii_digit() || byte == b'.' || byte == b',');
    if !plain || !text.starts_with(|c: char| c.is_ascii_digit()) {
        return None;
    }
    let value: f64 = text.replace(',', ".").parse().ok()?;
    (value < 61.0).then_some(value)
}

fn whole(text: &str, longest: usize) -> Option<u32> {
    let plain =
        !text.is_empty() && text.len() <= longest && text.bytes().all(|b| b.is_ascii_digit());
    if plain { text.parse().ok() } else { None }
}

fn read_date(text: &str, order: Option<DateOrder>) -> Option<(i64, DateOrder, bool)> {
    let mark = text.chars().find(|c| matches!(c, '-' | '/' | '.' | ' '))?;
    let mut parts = text
        .split([mark, ' '])
        .map(|part| part.trim_matches([' ', '.']))
        .filter(|part| !part.is_empty());
    let (first, second, third) = (parts.next()?, parts.next()?, parts.next()?);
    if parts.next().is_some() {
        return None;
    }
    if let Some(month) = month_of_name(second) {
        let day = civil_day(year(third)?, month, whole(first, 2)?)?;
        return Some((day, DateOrder::DayMonthYear, false));
    }
    if first.len() == 4 {
        let day = civil_day(year(first)?, whole(second, 2)?, whole(third, 2)?)?;
        return Some((day, DateOrder::YearMonthDay, false));
    }
    let year = year(third)?;
    let (one, two) = (whole(first, 2)?, whole(second, 2)?);
    let day_first = civil_day(year, two, one);
    let month_first = civil_day(year, one, two);
    let order = match order {
        Some(order) => Some(order),
        None if mark == '.' => Some(DateOrder::DayMonthYear),
        None => None,
    };
    match (order, day_first, month_first) {
        (Some(DateOrder::MonthDayYear), _, Some(day)) => {
            Some((day, DateOrder::MonthDayYear, false))
        }
        (Some(DateOrder::DayMonthYear), Some(day), _) => {
            Some((day, DateOrder::DayMonthYear, false))
        }
        (Some(_), _, _) => None,
        (None, Some(day), Some(_)) => Some((day, DateOrder::DayMonthYear, one != two)),
        (None, Some(day), None) => Some((day, DateOrder::DayMonthYear, false)),
        (None, None, Some(day)) => Some((day, DateOrder::MonthDayYear, false)),
        (None, None, None) => None,
    }
}

/// A year of four digits within living memory of instruments.
fn year(text: &str) -> Option<i64> {
    let year = i64::from(whole(text, 4)?);
    (text.len() == 4 && (1900..=2200).contains(&year)).then_some(year)
}

/// Month names, English, German and French, by what their first letters are.
const MONTHS: [&[&str]; 12] = [
    &["jan", "january", "januar", "jän", "janvier", "janv"],
    &["feb", "february", "februar", "févr", "février", "fév"],
    &["mar", "march", "mär", "märz", "mrz", "mars"],
    &["apr", "april", "avr", "avril"],
    &["may", "mai"],
    &["jun", "june", "juni", "juin"],
    &["jul", "july", "juli", "juil", "juillet"],
    &["aug", "august", "août"],
    &["sep", "sept", "september", "septembre"],
    &["oct", "october", "okt", "oktober", "octobre"],
    &["nov", "november", "novembre"],
    &["dec", "december", "dez", "dezember", "déc", "décembre"],
];

fn month_of_name(text: &str) -> Option<u32> {
    let lower = text.trim_end_matches('.').to_lowercase();
    let index = MONTHS.iter().position(|names| names.contains(&lower.as_str()))?;
    u32::try_from(index + 1).ok()
}

/// Days from 1970-01-01 of a date of the Gregorian calendar, `None` where the
/// date does not exist. Counting from 1 March puts the leap day last.
fn civil_day(year: i64, month: u32, day: u32) -> Option<i64> {
    let leap = year % 4 == 0 && (year % 100 != 0 || year % 400 == 0);
    let longest = match month {
        1 | 3 | 5 | 7 | 8 | 10 | 12 => 31,
        4 | 6 | 9 | 11 => 30,
        2 => 28 + u32::from(leap),
        _ => return None,
    };
    if !(1..=longest).contains(&day) {
        return None;
    }
    let shifted = if month > 2 { year } else { year - 1 };
    let month_from_march = i64::from((month + 9) % 12);
    let day_of_year = (153 * month_from_march + 2) / 5 + i64::from(day) - 1;
    let days_of_years = 365 * shifted + shifted / 4 - shifted / 100 + shifted / 400;
    // 1970-01-01 is day 719 468 counted from 0000-03-01.
    Some(days_of_years + day_of_year - 719_468)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn read(cell: &str) -> Option<ClockReading> {
        read_clock(cell, ClockStyle::default())
    }

    #[test]
    fn civil_days_agree_with_known_dates() {
        // Hand calculation: 30 years hold 7 leap days before 2000-01-01.
        assert_eq!(civil_day(1970, 1, 1), Some(0));
        assert_eq!(civil_day(2000, 1, 1), Some(30 * 365 + 7));
        assert_eq!(civil_day(2000, 3, 1), Some(30 * 365 + 7 + 31 + 29));
        assert_eq!(civil_day(2023, 2, 29), None);
        assert_eq!(civil_day(1900, 2, 29), None);
    }

    #[test]
    fn one_moment_in_many_spellings() {
        let expected = read("2023-06-15 15:38:01").unwrap();
        for text in [
            "15-Jun-2023 15:38:01",
            "2023-06-15T15:38:01",
            "2023/06/15 15:38:01",
            "15-06-2023 - 15:38:01",
            "15.06.2023 15:38:01",
            "15/06/2023 15:38:01",
            "06/15/2023 3:38:01 PM",
            "15 juin 2023 15:38:01",
            "15. Juni 2023, 15:38:01",
        ] {
            let found = read(text).unwrap_or_else(|| panic!("{text}"));
            assert_eq!(
                (found.day, found.second_of_day),
                (expected.day, expected.second_of_day),
                "{text}"
            );
            assert!(!found.ambiguous, "{text}");
        }
    }

    #[test]
    fn day_and_month_that_could_be_swapped_are_marked() {
        assert!(read("03/04/2026 10:00:00").is_some_and(|clock| clock.ambiguous));
        let style = ClockStyle { order: Some(DateOrder::MonthDayYear) };
        let clock = read_clock("03/04/2026 10:00:00", style).unwrap();
        assert_eq!((clock.day, clock.ambiguous), (civil_day(2026, 3, 4), false));
    }

    #[test]
    fn the_shape_of_a_clock_time() {
        for text in [
            "15-Jun-2023 15:38:01",
            "2023-06-15T15:38:01.5Z",
            "13-06-2016 - 16:41:18",
            "03/04/2026",
            "15:38",
            "15. Juni 2023, 15:38:01",
            "99:99",
        ] {
            assert!(looks_like_clock(text), "{text}");
        }
        for text in [
            "",
            "12.5",
            "Max",
            "15:38:01,0.5",
            "1;1013",
            "12 mbar",
            "-5",
            "1e-05",
            "2-3",
            "15-Jux-2023",
        ] {
            assert!(!looks_like_clock(text), "{text}");
        }
    }

    #[test]
    fn minutes_and_seconds_and_short_years() {
        assert!(read("12:34.5").is_some_and(|clock| (clock.second_of_day - 754.5).abs() < 1e-9));
        assert!(is_two_part_time("12:34") && !is_two_part_time("12:34.5"));
        assert!(has_short_year("15-06-23 10:00") && has_short_year("15-Jun-23"));
        assert!(!has_short_year("2023-06-15") && !has_short_year("12.5"));
    }

    #[test]
    fn zones_count_and_midnight_is_crossed() {
        let one = read("2023-06-15T23:59:59Z").unwrap();
        let two = read("2023-06-16T02:00:00.5+02:00").unwrap();
        assert!((two.seconds_since(&one) - 1.5).abs() < 1e-9);
    }

    #[test]
    fn what_is_no_clock_is_not_read() {
        for text in [
            "",
            "12.5",
            "2023",
            "25:00:00",
            "15-06-23 10:00",
            "31-Feb-2023 10:00",
            "a:b",
            "13:00 PM",
            "12:61",
            "1-2",
        ] {
            assert_eq!(read(text), None, "{text}");
        }
    }
}
