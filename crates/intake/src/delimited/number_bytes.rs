//! Numbers straight from bytes, for files of many rows.
//!
//! Only what can be read exactly is read here: a mantissa below 2^53 and a
//! power of ten up to 10^22 are both exact in `f64`, so that one product or
//! quotient of them is correctly rounded (Clinger 1990). Everything else is
//! left to [`read_cell`](super::read_cell), which gives the same digits.

/// Powers of ten that are exact in `f64`.
pub(super) const POWERS: [f64; 23] = [
    1e0, 1e1, 1e2, 1e3, 1e4, 1e5, 1e6, 1e7, 1e8, 1e9, 1e10, 1e11, 1e12, 1e13, 1e14, 1e15, 1e16,
    1e17, 1e18, 1e19, 1e20, 1e21, 1e22,
];

/// Mantissas up to here are exact.
pub(super) const LARGEST_EXACT: u64 = 1 << 53;

/// A plain number with the way it is written.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct ScannedNumber {
    pub(super) value: f64,
    /// Index of what ended it.
    pub(super) end: usize,
    pub(super) negative: bool,
    /// Digits before the mark.
    pub(super) whole: usize,
    /// Digits behind it.
    pub(super) decimals: usize,
    /// True where it is a whole number or has digits on both sides of its mark,
    /// and no exponent.
    pub(super) is_shaped: bool,
}

/// Reads a plain number that begins at `at` and ends before a separator, a
/// line end or the end of the text; gives the number and the index of what ended
/// it. `None` where the cell is anything else, so that it is read slowly.
#[must_use]
#[inline]
pub fn number_at(bytes: &[u8], at: usize, separator: u8, decimal: u8) -> Option<(f64, usize)> {
    scan_number(bytes, at, separator, decimal).map(|found| (found.value, found.end))
}

/// [`number_at`] with the way in which the number is written.
#[inline]
pub(super) fn scan_number(
    bytes: &[u8],
    mut at: usize,
    separator: u8,
    decimal: u8,
) -> Option<ScannedNumber> {
    let negative = bytes.get(at) == Some(&b'-');
    at += usize::from(negative);
    let mut mantissa = 0_u64;
    let start = at;
    while let Some(digit) =
        bytes.get(at).map(|byte| byte.wrapping_sub(b'0')).filter(|&digit| digit < 10)
    {
        mantissa = mantissa.wrapping_mul(10).wrapping_add(u64::from(digit));
        at += 1;
    }
    let whole = at - start;
    let mut decimals = 0;
    let mut power = 0_i32;
    let has_mark = bytes.get(at) == Some(&decimal);
    if has_mark {
        at += 1;
        let fraction = at;
        while let Some(digit) =
            bytes.get(at).map(|byte| byte.wrapping_sub(b'0')).filter(|&digit| digit < 10)
        {
            mantissa = mantissa.wrapping_mul(10).wrapping_add(u64::from(digit));
            at += 1;
        }
        decimals = at - fraction;
        power = -i32::try_from(decimals).ok()?;
    }
    let has_exponent = matches!(bytes.get(at), Some(b'e' | b'E'));
    if has_exponent {
        let (exponent, end) = exponent_at(bytes, at + 1)?;
        power += exponent;
        at = end;
    }
    // Nineteen digits fit in 64 bits without wrapping.
    let n_digits = whole + decimals;
    if n_digits == 0 || n_digits > 19 || mantissa > LARGEST_EXACT {
        return None;
    }
    match bytes.get(at) {
        None => {}
        Some(&byte) if byte == separator || byte == b'\n' || byte == b'\r' => {}
        Some(_) => return None,
    }
    let scale = *POWERS.get(power.unsigned_abs() as usize)?;
    let magnitude = mantissa as f64;
    let value = if power < 0 { magnitude / scale } else { magnitude * scale };
    Some(ScannedNumber {
        value: if negative && mantissa != 0 { -value } else { value },
        end: at,
        negative,
        whole,
        decimals,
        is_shaped: !has_exponent && whole > 0 && has_mark == (decimals > 0),
    })
}

fn exponent_at(bytes: &[u8], mut at: usize) -> Option<(i32, usize)> {
    let negative = bytes.get(at) == Some(&b'-');
    at += usize::from(matches!(bytes.get(at), Some(b'+' | b'-')));
    let start = at;
    let mut exponent = 0_i32;
    while let Some(digit) =
        bytes.get(at).map(|byte| byte.wrapping_sub(b'0')).filter(|&digit| digit < 10)
    {
        exponent = exponent * 10 + i32::from(digit);
        at += 1;
        if at - start > 4 {
            return None;
        }
    }
    (at > start).then_some((if negative { -exponent } else { exponent }, at))
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn the_number_ends_at_the_separator() {
        assert_eq!(number_at(b"12.5,3", 0, b',', b'.'), Some((12.5, 4)));
        assert_eq!(number_at(b"12,5;3", 0, b';', b','), Some((12.5, 4)));
        assert_eq!(number_at(b"1,-2e-3\r", 2, b',', b'.'), Some((-2e-3, 7)));
        assert!(
            number_at(b"-0.0", 0, b',', b'.').is_some_and(|(value, _)| value.is_sign_positive())
        );
        for text in
            ["", "-", ".", "1e", "1 ", " 1", "inf", "1.2.3", "0x1", "1e400", "12345678901234567890"]
        {
            assert_eq!(number_at(text.as_bytes(), 0, b',', b'.'), None, "{text}");
        }
    }

    proptest! {
        #![proptest_config(ProptestConfig::with_cases(2000))]
        /// The referee is the standard library, which rounds correctly.
        #[test]
        fn what_is_read_is_correctly_rounded(text in "-?[0-9]{1,17}(\\.[0-9]{0,8})?([eE][+-]?[0-9]{1,2})?") {
            if let Some((value, end)) = number_at(text.as_bytes(), 0, b',', b'.') {
                prop_assert_eq!(end, text.len());
                let expected: f64 = text.parse().unwrap();
                prop_assert!(value == expected, "{}: {} {}", text, value, expected);
            }
        }
    }
}
