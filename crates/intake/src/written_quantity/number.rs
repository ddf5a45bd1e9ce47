//! The number in front of a unit.

use super::QuantityError;

/// A number and the text that follows it, trimmed.
pub(super) fn split_number(text: &str) -> Result<(f64, &str), QuantityError> {
    let trimmed = text.trim();
    if trimmed.is_empty() {
        return Err(QuantityError::new(
            text,
            "nothing is written here",
            "Write a value with its unit, such as \"5 um\".",
        ));
    }
    let unsigned = trimmed.trim_start_matches(['+', '-', '\u{2212}']);
    refuse_words_and_hexadecimal(text, unsigned)?;
    let n_sign = trimmed.len() - unsigned.len();
    let sign = &trimmed[..n_sign];
    if sign.chars().count() > 1 {
        return Err(QuantityError::new(
            text,
            "there is more than one sign",
            "Write one sign, such as \"-40 C\".",
        ));
    }
    let n_number = length_of_number(unsigned);
    if n_number == 0 {
        return Err(QuantityError::new(
            text,
            "no number stands in front",
            "Write a value with its unit, such as \"5 um\".",
        ));
    }
    let (digits, rest) = unsigned.split_at(n_number);
    if rest.starts_with([',', '\'', '_', '.'])
        || rest.trim_start().starts_with(|c: char| c.is_ascii_digit())
    {
        return Err(QuantityError::new(
            text,
            "the number is not plain",
            "Write the decimal point as \".\" and no thousands marks, such as \"1013.25 mbar\".",
        ));
    }
    let magnitude: f64 = digits.parse().map_err(|_| {
        QuantityError::new(text, "the number is not plain", "Write it like 12, 0.5 or 3e-6.")
    })?;
    refuse_lost_magnitude(text, digits, magnitude)?;
    let negative = sign == "-" || sign == "\u{2212}";
    // Minus nothing is nothing: no minus zero travels on.
    let value = if negative && magnitude > 0.0 { -magnitude } else { magnitude };
    Ok((value, rest.trim()))
}

/// Reads a number without a unit, for what has none: a count, a fraction.
///
/// # Errors
/// Refuses text, units, `NaN`, `inf`, hexadecimal and numbers beyond what
/// can be represented.
///
/// # Example
/// ```
/// use intake::written_quantity::read_plain_number;
/// assert_eq!(read_plain_number(" 3e-6 ").ok(), Some(3e-6));
/// assert!(read_plain_number("3 Pa").is_err());
/// ```
pub fn read_plain_number(text: &str) -> Result<f64, QuantityError> {
    let (value, rest) = split_number(text)?;
    if rest.is_empty() {
        return Ok(value);
    }
    Err(QuantityError::new(
        text,
        format!("{} follows a number that takes no unit", crate::message::quoted(rest)),
        format!("Write {value} alone."),
    ))
}

fn refuse_words_and_hexadecimal(text: &str, unsigned: &str) -> Result<(), QuantityError> {
    let lower = unsigned.to_ascii_lowercase();
    let word = lower.split(|c: char| !c.is_ascii_alphanumeric() && c != '#').next().unwrap_or("");
    if ["nan", "inf", "infinity"].contains(&word) || unsigned.starts_with('∞') {
        return Err(QuantityError::new(
            text,
            "this is not an ordinary number",
            "Write a finite value with its unit.",
        ));
    }
    if lower.starts_with("0x") {
        return Err(QuantityError::new(
            text,
            "hexadecimal numbers are not read",
            "Write the value in decimal, such as \"16 Pa\".",
        ));
    }
    Ok(())
}

/// Refuses numbers so large or small that they would become infinity or zero.
fn refuse_lost_magnitude(text: &str, digits: &str, magnitude: f64) -> Result<(), QuantityError> {
    let mantissa = digits.split(['e', 'E']).next().unwrap_or("");
    let vanished = magnitude == 0.0 && mantissa.bytes().any(|byte| (b'1'..=b'9').contains(&byte));
    if magnitude.is_finite() && !vanished {
        return Ok(());
    }
    Err(QuantityError::new(
        text,
        "the number is beyond what can be represented",
        "Write a value between 1e-300 and 1e300, or choose another unit.",
    ))
}

/// Bytes of the longest plain number at the start: digits, one point, and an
/// exponent if digits follow it.
fn length_of_number(text: &str) -> usize {
    let bytes = text.as_bytes();
    let digits_from =
        |start: usize| bytes[start..].iter().take_while(|byte| byte.is_ascii_digit()).count();
    let n_whole = digits_from(0);
    let mut end = n_whole;
    if bytes.get(end) == Some(&b'.') {
        let n_fraction = digits_from(end + 1);
        if n_whole + n_fraction == 0 {
            return 0;
        }
        end += 1 + n_fraction;
    }
    if end == 0 {
        return 0;
    }
    if matches!(bytes.get(end), Some(b'e' | b'E')) {
        let signed = usize::from(matches!(bytes.get(end + 1), Some(b'+' | b'-')));
        let n_exponent = digits_from((end + 1 + signed).min(bytes.len()));
        if n_exponent > 0 {
            end += 1 + signed + n_exponent;
        }
    }
    end
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_number_ends_where_the_unit_begins() {
        assert_eq!(split_number("5um"), Ok((5.0, "um")));
        assert_eq!(split_number(" -40 C "), Ok((-40.0, "C")));
        assert_eq!(split_number("\u{2212}40 C"), Ok((-40.0, "C")));
        assert_eq!(split_number("3e-6 mbar.L/s"), Ok((3e-6, "mbar.L/s")));
        assert_eq!(split_number(".5e3Pa"), Ok((500.0, "Pa")));
        assert_eq!(split_number("1.m"), Ok((1.0, "m")));
        assert_eq!(split_number("2 elephants"), Ok((2.0, "elephants")));
    }

    #[test]
    fn what_is_no_plain_number_is_refused() {
        for text in [
            "",
            "  ",
            "um",
            "nan",
            "-inf Pa",
            "Infinity",
            "0x10 Pa",
            "1,5 mm",
            "1 000 mm",
            "--5 m",
            "1.2.3 m",
            ".",
            "e5",
            "1e400 Pa",
            "1e-400 Pa",
            "1'000 m",
            "1_0 m",
        ] {
            assert!(split_number(text).is_err(), "{text}");
        }
    }
}
