//! How a number is written: significant digits, a true minus sign, a narrow
//! space before the unit and between groups of three digits.
//!
//! Rounding is to the nearest decimal of the stored binary value, ties to
//! even, as Rust's own formatting does; the same text on every machine.

/// True minus sign, U+2212.
pub const MINUS: char = '\u{2212}';
/// Narrow no-break space, U+202F: a thin space at which no line is broken.
pub const THIN_SPACE: char = '\u{202f}';
/// What is printed where there is no number.
pub const NOT_DEFINED: &str = "not defined";

/// A number with a count of significant digits, e.g. `0.0310`, `12\u{202f}300`
/// or `3.1 × 10⁻⁷`.
///
/// Plain notation from 0.001 up to 99 999, powers of ten outside. A value
/// that is not finite is printed as [`NOT_DEFINED`].
///
/// ```
/// assert_eq!(report::number::significant(0.0310, 3), "0.0310");
/// assert_eq!(report::number::significant(-2.5, 2), "\u{2212}2.5");
/// ```
#[must_use]
pub fn significant(value: f64, digits: usize) -> String {
    if !value.is_finite() {
        return NOT_DEFINED.to_string();
    }
    if value == 0.0 {
        return "0".to_string();
    }
    let digits = digits.clamp(1, 17);
    let (mantissa, exponent) = decimal_parts(value, digits);
    if (-3..5).contains(&exponent) {
        let decimals = usize::try_from((digits as i32 - 1 - exponent).max(0)).unwrap_or(0);
        // Digits left of the point beyond the significant ones are zeros.
        let rounded: f64 = format!("{mantissa}e{exponent}").parse().unwrap_or(value);
        decimals_of(rounded, decimals)
    } else {
        let mantissa = mantissa.replace('-', "\u{2212}");
        format!("{mantissa}{THIN_SPACE}×{THIN_SPACE}{}", power_of_ten(exponent))
    }
}

/// A number with a fixed count of decimals and grouped digits.
#[must_use]
pub fn decimals_of(value: f64, decimals: usize) -> String {
    if !value.is_finite() {
        return NOT_DEFINED.to_string();
    }
    let plain = format!("{value:.decimals$}");
    let (sign, magnitude) = match plain.strip_prefix('-') {
        Some(rest) if rest.chars().any(|digit| digit.is_ascii_digit() && digit != '0') => {
            ("\u{2212}", rest)
        }
        Some(rest) => ("", rest),
        None => ("", plain.as_str()),
    };
    let (whole, fraction) = magnitude.split_once('.').unwrap_or((magnitude, ""));
    let mut text = String::from(sign);
    text.push_str(&grouped(whole));
    if !fraction.is_empty() {
        text.push('.');
        text.push_str(fraction);
    }
    text
}

/// A whole count, digits grouped from 10 000 on.
#[must_use]
pub fn count(value: u64) -> String {
    grouped(&value.to_string())
}

/// A share as a percentage, e.g. `93.6 %`.
#[must_use]
pub fn percent(share: f64, decimals: usize) -> String {
    with_unit(&decimals_of(share * 100.0, decimals), "%")
}

/// A stated number: as many significant digits as it has, at most five.
#[must_use]
pub fn stated(value: f64) -> String {
    let text = significant(value, 5);
    if text.contains('.') && !text.contains('×') {
        text.trim_end_matches('0').trim_end_matches('.').to_string()
    } else {
        text
    }
}

/// A share as a percentage with as many digits as it has, at most five, e.g.
/// `0.1 %`, `95 %`.
#[must_use]
pub fn shortest_percent(share: f64) -> String {
    with_unit(&stated(share * 100.0), "%")
}

/// A number's text with its unit behind a narrow space; an empty unit adds
/// nothing.
#[must_use]
pub fn with_unit(number: &str, unit: &str) -> String {
    if unit.is_empty() || number == NOT_DEFINED {
        number.to_string()
    } else {
        format!("{number}{THIN_SPACE}{unit}")
    }
}

/// A value with its unit.
#[must_use]
pub fn quantity(value: f64, digits: usize, unit: &str) -> String {
    with_unit(&significant(value, digits), unit)
}

/// An interval in words, e.g. `1.6 to 70 µm`.
#[must_use]
pub fn interval(low: f64, high: f64, digits: usize, unit: &str) -> String {
    with_unit(&format!("{} to {}", significant(low, digits), significant(high, digits)), unit)
}

/// `10` with a raised exponent, e.g. `10⁻⁷`.
#[must_use]
pub fn power_of_ten(exponent: i32) -> String {
    format!("10{}", raised(exponent))
}

/// An integer in raised digits.
#[must_use]
pub fn raised(number: i32) -> String {
    number
        .to_string()
        .chars()
        .map(|character| match character {
            '-' => '⁻',
            '0' => '⁰',
            '1' => '¹',
            '2' => '²',
            '3' => '³',
            digit => char::from_u32('⁴' as u32 + digit as u32 - '4' as u32).unwrap_or(digit),
        })
        .collect()
}

/// Mantissa text (with an ASCII minus) and decimal exponent after rounding.
fn decimal_parts(value: f64, digits: usize) -> (String, i32) {
    let text = format!("{value:.precision$e}", precision = digits - 1);
    let (mantissa, exponent) = text.split_once('e').unwrap_or((text.as_str(), "0"));
    (mantissa.to_string(), exponent.parse().unwrap_or(0))
}

/// Digits of a whole number in groups of three, from five digits on.
fn grouped(whole: &str) -> String {
    if whole.len() < 5 {
        return whole.to_string();
    }
    let mut text = String::new();
    for (index, digit) in whole.chars().enumerate() {
        if index > 0 && (whole.len() - index).is_multiple_of(3) {
            text.push(THIN_SPACE);
        }
        text.push(digit);
    }
    text
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn significant_digits_by_hand() {
        assert_eq!(significant(0.031, 2), "0.031");
        assert_eq!(significant(0.0310, 3), "0.0310");
        assert_eq!(significant(5.0, 3), "5.00");
        assert_eq!(significant(12345.0, 3), "12\u{202f}300");
        assert_eq!(significant(3.98e-4, 3), "3.98\u{202f}×\u{202f}10⁻⁴");
        assert_eq!(significant(-1.5e7, 2), "\u{2212}1.5\u{202f}×\u{202f}10⁷");
        assert_eq!(significant(0.0, 3), "0");
        assert_eq!(significant(9.996, 3), "10.0", "rounding up changes the exponent");
        assert_eq!(significant(99999.0, 3), "1.00\u{202f}×\u{202f}10⁵");
    }

    #[test]
    fn what_is_no_number_is_said_in_words() {
        for value in [f64::NAN, f64::INFINITY, f64::NEG_INFINITY] {
            assert_eq!(significant(value, 3), NOT_DEFINED);
            assert_eq!(decimals_of(value, 1), NOT_DEFINED);
        }
        assert_eq!(quantity(f64::NAN, 3, "Pa"), NOT_DEFINED);
    }

    #[test]
    fn no_negative_zero() {
        assert_eq!(decimals_of(-0.001, 1), "0.0");
        assert_eq!(decimals_of(-0.06, 1), "\u{2212}0.1");
    }

    #[test]
    fn groups_counts_intervals_percent() {
        assert_eq!(count(9999), "9999");
        assert_eq!(count(1_234_567), "1\u{202f}234\u{202f}567");
        assert_eq!(interval(1.6, 70.0, 2, "µm"), "1.6 to 70\u{202f}µm");
        assert_eq!(percent(0.936, 1), "93.6\u{202f}%");
        assert_eq!(stated(0.05), "0.05");
        assert_eq!(stated(100.0), "100");
        assert_eq!(stated(101.325), "101.33");
        assert_eq!(stated(1.0e-7), "1.0000\u{202f}×\u{202f}10⁻⁷");
        assert_eq!(shortest_percent(0.001), "0.1\u{202f}%");
        assert_eq!(shortest_percent(1.0 - 0.999), "0.1\u{202f}%");
        assert_eq!(shortest_percent(1.0), "100\u{202f}%");
        assert_eq!(raised(-1204567893), "⁻¹²⁰⁴⁵⁶⁷⁸⁹³");
    }
}
