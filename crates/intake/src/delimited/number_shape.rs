//! Numbers that are written as the one above them was: so many digits, a
//! mark, so many decimals. In a logger's column nearly every number is.
//!
//! Where the shape holds, the places of all digits are known before a byte is
//! looked at, and eight digits are read at once. Nothing is taken on trust:
//! sign, mark, digits and the end of the cell are checked, and what does not
//! fit is read by [`scan_number`], which gives the same number to the last
//! bit.

use super::number_bytes::{LARGEST_EXACT, POWERS, scan_number};

/// Bytes that are looked at: a sign, eight digits, a mark, eight decimals and
/// what ends the cell, rounded up.
const SPAN: usize = 24;

/// Most digits before, and behind, the mark.
const MOST_DIGITS: usize = 8;

/// `b'0'` in every byte.
pub(crate) const ZEROS: u64 = 0x3030_3030_3030_3030;

/// Powers of ten by which the whole part is moved before the decimals.
const WHOLE_POWERS: [u64; MOST_DIGITS + 1] =
    [1, 10, 100, 1_000, 10_000, 100_000, 1_000_000, 10_000_000, 100_000_000];

/// How the last number of a column was written.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub(crate) struct NumberShape {
    negative: bool,
    /// Digits before the mark, 1 to 8; 0 where no shape is known.
    whole: u8,
    /// Digits behind the mark, 1 to 8; 0 where there is no mark.
    decimals: u8,
}

impl NumberShape {
    /// Reads the number that begins at `at`; gives it with the index of what
    /// ended it. `None` where it is not plain, as
    /// [`number_at`](super::number_at) has it.
    #[inline(always)]
    pub(crate) fn read(
        &mut self,
        bytes: &[u8],
        at: usize,
        separator: u8,
        decimal: u8,
    ) -> Option<(f64, usize)> {
        match self.read_alike(bytes, at, separator, decimal) {
            Some(found) => Some(found),
            None => self.read_anew(bytes, at, separator, decimal),
        }
    }

    /// The end of a cell that holds a number of the known shape, which is not
    /// wanted.
    #[inline(always)]
    pub(crate) fn end_of_alike(
        self,
        bytes: &[u8],
        at: usize,
        separator: u8,
        decimal: u8,
    ) -> Option<usize> {
        let (_, _, length) = self.digits(bytes, at, separator, decimal)?;
        Some(at + length)
    }

    #[inline(always)]
    fn read_alike(
        self,
        bytes: &[u8],
        at: usize,
        separator: u8,
        decimal: u8,
    ) -> Option<(f64, usize)> {
        let (whole, decimals, length) = self.digits(bytes, at, separator, decimal)?;
        let places = usize::from(self.decimals);
        let mantissa = if places == 0 {
            value_of_eight_digits(whole)
        } else {
            value_of_eight_digits(whole)
                .wrapping_mul(WHOLE_POWERS[places])
                .wrapping_add(value_of_eight_digits(decimals))
        };
        if mantissa > LARGEST_EXACT {
            return None;
        }
        // Below 2^53, so that the sign bit is free and both are exact.
        let magnitude = mantissa as i64 as f64 / POWERS[places];
        let value = if self.negative && mantissa != 0 { -magnitude } else { magnitude };
        Some((value, at + length))
    }

    /// The digits before and behind the mark, one to a byte, and the length of
    /// the cell, if it is written in this shape.
    #[inline(always)]
    fn digits(
        self,
        bytes: &[u8],
        at: usize,
        separator: u8,
        decimal: u8,
    ) -> Option<(u64, u64, usize)> {
        let cell: &[u8; SPAN] = bytes.get(at..)?.first_chunk()?;
        if self.whole == 0 || (cell[0] == b'-') != self.negative {
            return None;
        }
        let start = usize::from(self.negative);
        let (whole_digits, decimals_digits) = (usize::from(self.whole), usize::from(self.decimals));
        let whole = first_digits(cell, start, whole_digits)?;
        let mut end = start + whole_digits;
        let mut decimals = 0;
        if decimals_digits > 0 {
            if *cell.get(end)? != decimal {
                return None;
            }
            decimals = first_digits(cell, end + 1, decimals_digits)?;
            end += 1 + decimals_digits;
        }
        let ender = *cell.get(end)?;
        (ender == separator || ender == b'\n' || ender == b'\r').then_some((whole, decimals, end))
    }

    /// Reads without a shape, and learns it.
    #[cold]
    fn read_anew(
        &mut self,
        bytes: &[u8],
        at: usize,
        separator: u8,
        decimal: u8,
    ) -> Option<(f64, usize)> {
        let found = scan_number(bytes, at, separator, decimal)?;
        let fits = |digits: usize| u8::try_from(digits).ok().filter(|&n| n as usize <= MOST_DIGITS);
        *self = match (fits(found.whole), fits(found.decimals)) {
            (Some(whole), Some(decimals)) if found.is_shaped => {
                Self { negative: found.negative, whole, decimals }
            }
            _ => Self::default(),
        };
        Some((found.value, found.end))
    }
}

/// The first `n` of eight bytes as digits, right-aligned, the first digit
/// lowest; `None` where one of them is no digit.
#[inline(always)]
fn first_digits(cell: &[u8; SPAN], start: usize, n: usize) -> Option<u64> {
    let word = u64::from_le_bytes(*cell.get(start..)?.first_chunk()?);
    // Each byte less b'0'; the bytes that do not belong are shifted out, and
    // zeros come in where the leading digits stand.
    let digits = (word ^ ZEROS) << ((8 * (MOST_DIGITS - n) as u32) & 63);
    let above_nine = digits | digits.wrapping_add(0x7676_7676_7676_7676);
    (above_nine & 0x8080_8080_8080_8080 == 0).then_some(digits)
}

/// The value of eight digits, the first digit in the lowest byte: pairs, then
/// fours, then all.
#[inline(always)]
pub(crate) fn value_of_eight_digits(digits: u64) -> u64 {
    let pairs = digits.wrapping_mul(10).wrapping_add(digits >> 8);
    let high = (pairs & 0x0000_00ff_0000_00ff).wrapping_mul(0x000f_4240_0000_0064);
    let low = (pairs >> 16 & 0x0000_00ff_0000_00ff).wrapping_mul(0x0000_2710_0000_0001);
    high.wrapping_add(low) >> 32
}

#[cfg(test)]
mod tests {
    use super::super::number_at;
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn eight_digits_by_hand() {
        let digits = |text: &[u8; 8]| u64::from_le_bytes(*text) ^ ZEROS;
        assert_eq!(value_of_eight_digits(digits(b"12345678")), 12_345_678);
        assert_eq!(value_of_eight_digits(digits(b"00000007")), 7);
        assert_eq!(value_of_eight_digits(digits(b"99999999")), 99_999_999);
    }

    #[test]
    fn a_shape_holds_until_the_writing_changes() {
        let bytes = b"12.50,13.75,9.5,-1.00,x.00,12345678.12345678,1e3,                        ";
        let mut shape = NumberShape::default();
        let mut at = 0;
        for expected in [12.5, 13.75, 9.5, -1.0] {
            let (value, end) = shape.read(bytes, at, b',', b'.').unwrap();
            assert_eq!(value, expected);
            at = end + 1;
        }
        assert_eq!(shape, NumberShape { negative: true, whole: 1, decimals: 2 });
        assert_eq!(shape.read(bytes, at, b',', b'.'), None, "no digits");
        let (value, end) = shape.read(bytes, at + 5, b',', b'.').unwrap();
        assert_eq!(value, 12_345_678.123_456_78);
        // An exponent is read, and leaves no shape behind.
        assert_eq!(shape.read(bytes, end + 1, b',', b'.').map(|found| found.0), Some(1000.0));
        assert_eq!(shape, NumberShape::default());
    }

    proptest! {
        #![proptest_config(ProptestConfig::with_cases(3000))]
        /// Whatever shape was learned before, a cell gives what it gives
        /// without one.
        #[test]
        fn a_shape_changes_no_number(
            before in "-?[0-9]{1,9}(\\.[0-9]{0,9})?",
            cell in "-?[0-9]{0,9}([.x])?[0-9]{0,9}([eE]-?[0-9])?[,;\n]?"
        ) {
            let mut shape = NumberShape::default();
            shape.read(format!("{before},{}", " ".repeat(SPAN)).as_bytes(), 0, b',', b'.');
            let long = format!("{cell}{}", " ".repeat(SPAN));
            for text in [cell.as_str(), long.as_str()] {
                let bytes = text.as_bytes();
                let plain = number_at(bytes, 0, b',', b'.');
                if let Some(end) = shape.end_of_alike(bytes, 0, b',', b'.') {
                    prop_assert_eq!(plain.map(|found| found.1), Some(end));
                }
                let shaped = shape.read(bytes, 0, b',', b'.');
                prop_assert_eq!(
                    shaped.map(|(value, end)| (value.to_bits(), end)),
                    plain.map(|(value, end)| (value.to_bits(), end)),
                    "{} after {}", text, before
                );
            }
        }
    }
}
