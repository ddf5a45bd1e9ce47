//! Cells of a workbook as text.

use calamine::Data;

/// A cell as text; `Err` says why it cannot be read.
pub(super) fn text_of(cell: &Data, from_1904: bool) -> Result<String, String> {
    Ok(match cell {
        Data::Empty => String::new(),
        Data::Int(value) => value.to_string(),
        Data::Float(value) => float_text(*value),
        Data::String(text) => text.clone(),
        // A word: as 1 it would be a pressure among pressures.
        Data::Bool(value) => if *value { "TRUE" } else { "FALSE" }.to_owned(),
        Data::DateTime(moment) if moment.is_datetime() && (0.0..1.0).contains(&moment.as_f64()) => {
            clock_text(moment.as_f64())
        }
        Data::DateTime(moment) if moment.is_datetime() => date_text(moment.as_f64(), from_1904)?,
        // As a number it would take the unit of its header, which may be hours.
        Data::DateTime(span) if span.as_f64() >= 0.0 => clock_text(span.as_f64()),
        Data::DateTime(span) => {
            return Err(format!("the duration of {} d is negative", span.as_f64()));
        }
        Data::DateTimeIso(text) | Data::DurationIso(text) => text.clone(),
        Data::Error(error) => error.to_string(),
    })
}

/// Shortest text that reads back to the same number.
fn float_text(value: f64) -> String {
    format!("{value}")
}

/// Hours, minutes and seconds of a number of days, to the microsecond: a time
/// of day without a date, or a duration.
fn clock_text(days: f64) -> String {
    // Microseconds first, so that rounding cannot give a second of 60.
    let micros = (days * 86_400.0e6).round() as i64;
    let (hours, minutes) = (micros / 3_600_000_000, micros / 60_000_000 % 60);
    let (seconds, rest) = (micros / 1_000_000 % 60, micros % 1_000_000);
    format!("{hours:02}:{minutes:02}:{seconds:02}.{rest:06}")
}

/// A serial date as ISO text, to the millisecond. Days count from 1899-12-30
/// (the fictitious 29 February 1900 included) or from 1904-01-01.
fn date_text(serial: f64, from_1904: bool) -> Result<String, String> {
    if !(0.0..=2_958_465.999_999).contains(&serial) {
        return Err(format!("the serial date {serial} is outside the calendar"));
    }
    if !from_1904 && (60.0..61.0).contains(&serial) {
        return Err("the serial date 60 is 29 February 1900, which never was".to_owned());
    }
    // Milliseconds first, so that rounding cannot give a second of 60.
    let milliseconds = (serial * 86_400_000.0).round() as i64;
    let (day, rest) = (milliseconds.div_euclid(86_400_000), milliseconds.rem_euclid(86_400_000));
    // Days from 1970-01-01 to the two origins.
    let from_1970 = if from_1904 {
        day - 24_107
    } else if day < 60 {
        day - 25_568
    } else {
        day - 25_569
    };
    let (year, month, date) = civil(from_1970);
    let (hour, minute) = (rest / 3_600_000, rest / 60_000 % 60);
    let (second, thousandth) = (rest / 1000 % 60, rest % 1000);
    Ok(format!("{year:04}-{month:02}-{date:02} {hour:02}:{minute:02}:{second:02}.{thousandth:03}"))
}

/// Year, month and day of a day counted from 1970-01-01 (proleptic Gregorian
/// calendar; arithmetic in eras of 400 years).
pub(crate) fn civil(day: i64) -> (i64, i64, i64) {
    let day = day + 719_468;
    let era = day.div_euclid(146_097);
    let day_of_era = day.rem_euclid(146_097);
    let year_of_era =
        (day_of_era - day_of_era / 1460 + day_of_era / 36_524 - day_of_era / 146_096) / 365;
    let day_of_year = day_of_era - (365 * year_of_era + year_of_era / 4 - year_of_era / 100);
    let from_march = (5 * day_of_year + 2) / 153;
    let date = day_of_year - (153 * from_march + 2) / 5 + 1;
    let month = if from_march < 10 { from_march + 3 } else { from_march - 9 };
    (year_of_era + era * 400 + i64::from(month <= 2), month, date)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// 0.4375 d is half past ten; 1.5 ms are 1/57 600 000 d.
    #[test]
    fn times_without_a_date_and_words_by_hand() {
        assert_eq!(clock_text(0.4375), "10:30:00.000000");
        assert_eq!(clock_text(1.5e-3 / 86_400.0), "00:00:00.001500");
        assert_eq!(clock_text(59.999_999_9 / 86_400.0), "00:01:00.000000");
        assert_eq!(clock_text(1.25), "30:00:00.000000");
        assert_eq!(text_of(&Data::Bool(true), false).unwrap(), "TRUE");
    }

    #[test]
    fn serial_dates_by_hand() {
        // 2026-11-25 is day 20 782 from 1970, serial 46 351.
        assert_eq!(date_text(46_351.5, false).unwrap(), "2026-11-25 12:00:00.000");
        assert_eq!(date_text(46_351.0 - 1462.0, true).unwrap(), "2026-11-25 00:00:00.000");
        assert_eq!(date_text(1.0, false).unwrap(), "1900-01-01 00:00:00.000");
        assert_eq!(date_text(61.0, false).unwrap(), "1900-03-01 00:00:00.000");
        assert!(date_text(60.0, false).is_err() && date_text(-1.0, false).is_err());
        assert_eq!(civil(0), (1970, 1, 1));
        assert_eq!(civil(11_016), (2000, 2, 29));
    }
}
