//! Rows that are written, byte for byte, as one before them was, other digits
//! aside.
//!
//! A logger's rows rarely change their shape from one to the next. A template
//! holds, for each byte of a row, either that it is a digit or what it is; a
//! row is compared with it eight bytes at a time, and where it fits, the
//! places of all its numbers are known. A row that does not fit is read the
//! ordinary way.

use super::plain_rows::Target;
use crate::delimited::{ClockReading, ZEROS, value_of_eight_digits};

/// Longest row that gets a template.
const MOST_WORDS: usize = 32;
/// Most digits on either side of a mark.
const MOST_DIGITS: usize = 8;
/// Digits of a mantissa that is surely below 2^53.
const MOST_EXACT_DIGITS: usize = 15;

/// Powers of ten, exact in `f64`.
const POWERS: [f64; MOST_DIGITS + 1] = [1.0, 1e1, 1e2, 1e3, 1e4, 1e5, 1e6, 1e7, 1e8];
/// The same as whole numbers.
const WHOLE_POWERS: [u64; MOST_DIGITS + 1] =
    [1, 10, 100, 1_000, 10_000, 100_000, 1_000_000, 10_000_000, 100_000_000];

/// Eight bytes of a row.
#[derive(Debug, Clone, Copy, Default)]
struct Word {
    /// What the bytes are; `b'0'` for digits.
    bytes: u64,
    /// 0xff for every byte that belongs to the row.
    belongs: u64,
    /// What lifts a wrong byte to 0x80 or more: 0x7f where a byte must be what
    /// it is, 0x76 where it may differ from `b'0'` by 9 at most.
    lift: u64,
}

/// Where the digits of a number stand in the row.
#[derive(Debug, Clone, Copy)]
struct NumberPlace {
    whole_at: usize,
    /// Bits by which the eight bytes there are shifted, so that only the
    /// digits before the mark remain.
    whole_shift: u32,
    decimals_at: usize,
    decimals_shift: u32,
    /// Digits behind the mark; 0 where there is none.
    decimals: usize,
    negative: bool,
}

/// The shape of a row.
#[derive(Debug, Clone)]
pub(super) struct RowTemplate {
    words: Vec<Word>,
    /// Bytes of the row with its line end.
    length: usize,
    /// Bytes that must be there for the row to be compared.
    span: usize,
    /// The wanted numbers, in the order of their columns.
    numbers: Vec<NumberPlace>,
    /// The clock time, where the row has one that is wanted: the place of its
    /// seconds, and the time at its full minute.
    clock: Option<(NumberPlace, ClockReading)>,
}

impl RowTemplate {
    /// The template of a plain row with its line end; `None` where it is too
    /// long or holds a number of many digits.
    pub(super) fn of(
        row: &[u8],
        separator: u8,
        decimal: u8,
        targets: &[Target],
        clock: Option<ClockReading>,
    ) -> Option<Self> {
        let line_end = row.len() - row.ends_with(b"\n") as usize - row.ends_with(b"\r\n") as usize;
        if line_end == row.len() || row.len() > 8 * MOST_WORDS {
            return None;
        }
        let mut is_digit = vec![false; row.len()];
        let mut numbers = Vec::new();
        let mut minute = None;
        let mut at = 0;
        let mut cells = row[..line_end].split(|&byte| byte == separator);
        for target in targets {
            let cell = cells.next()?;
            match target {
                Target::Run | Target::Stage => {}
                Target::Nowhere => {
                    if NumberPlace::of(cell, at, decimal).is_some() {
                        mark_digits(cell, at, &mut is_digit);
                    }
                }
                Target::Clock => {
                    let seconds = cell.get(17..)?;
                    let place = NumberPlace::of(seconds, at + 17, b'.').filter(|p| !p.negative)?;
                    mark_digits(seconds, at + 17, &mut is_digit);
                    let read = clock?;
                    let second_of_day = (read.second_of_day / 60.0).floor() * 60.0;
                    // A leap second is left to the ordinary way.
                    let written: f64 = core::str::from_utf8(seconds).ok()?.parse().ok()?;
                    if written >= 60.0 {
                        return None;
                    }
                    minute = Some((place, ClockReading { second_of_day, ..read }));
                }
                Target::Elapsed | Target::Pressure(_) | Target::Temperature(_) => {
                    numbers.push(NumberPlace::of(cell, at, decimal)?);
                    mark_digits(cell, at, &mut is_digit);
                }
            }
            at += cell.len() + 1;
        }
        if cells.next().is_some() {
            return None;
        }
        let words: Vec<Word> = row
            .chunks(8)
            .zip(is_digit.chunks(8))
            .map(|(bytes, digits)| {
                let mut word = Word::default();
                for (place, (&byte, &is_digit)) in bytes.iter().zip(digits).enumerate() {
                    let shift = 8 * place;
                    word.bytes |= u64::from(if is_digit { b'0' } else { byte }) << shift;
                    word.belongs |= 0xff << shift;
                    word.lift |= (if is_digit { 0x76 } else { 0x7f }) << shift;
                }
                word
            })
            .collect();
        // Eight bytes are taken from where the last number begins.
        let span = 8 * words.len() + 8;
        Some(Self { words, length: row.len(), span, numbers, clock: minute })
    }

    /// Bytes of a row with its line end.
    pub(super) const fn length(&self) -> usize {
        self.length
    }

    /// Reads the row at the start of `bytes` into one column for each number
    /// and the clock times; gives its length, or `None`, with nothing read,
    /// where it is not of this shape.
    #[inline(always)]
    pub(super) fn read(
        &self,
        bytes: &[u8],
        columns: &mut [Vec<f64>],
        clocks: &mut Vec<ClockReading>,
    ) -> Option<usize> {
        let row = bytes.get(..self.span)?;
        let mut wrong = 0;
        for (word, eight) in self.words.iter().zip(row.as_chunks::<8>().0) {
            let other = (u64::from_le_bytes(*eight) ^ word.bytes) & word.belongs;
            wrong |= other | other.wrapping_add(word.lift);
        }
        if wrong & 0x8080_8080_8080_8080 != 0 {
            return None;
        }
        if let Some((place, minute)) = &self.clock {
            let second = place.value(row);
            // Beyond the minute the ordinary way decides.
            if second >= 60.0 {
                return None;
            }
            clocks.push(ClockReading { second_of_day: minute.second_of_day + second, ..*minute });
        }
        for (place, column) in self.numbers.iter().zip(columns) {
            column.push(place.value(row));
        }
        Some(self.length)
    }
}

impl NumberPlace {
    /// The place of a plain number that fills a cell; `at` is where the cell
    /// begins in its row.
    fn of(cell: &[u8], at: usize, decimal: u8) -> Option<Self> {
        let negative = cell.first() == Some(&b'-');
        let unsigned = &cell[usize::from(negative)..];
        let n_digits = |text: &[u8]| text.iter().take_while(|byte| byte.is_ascii_digit()).count();
        let whole = n_digits(unsigned);
        let decimals = match unsigned.get(whole) {
            None => 0,
            Some(&mark) if mark == decimal => {
                let behind = &unsigned[whole + 1..];
                let decimals = n_digits(behind);
                if decimals == 0 || decimals < behind.len() {
                    return None;
                }
                decimals
            }
            Some(_) => return None,
        };
        let fits = (1..=MOST_DIGITS).contains(&whole)
            && decimals <= MOST_DIGITS
            && whole + decimals <= MOST_EXACT_DIGITS;
        let whole_at = at + usize::from(negative);
        fits.then(|| Self {
            whole_at,
            whole_shift: shift_for(whole),
            decimals_at: if decimals > 0 { whole_at + whole + 1 } else { whole_at },
            decimals_shift: shift_for(decimals.max(1)),
            decimals,
            negative,
        })
    }

    /// The number that stands there; its bytes were compared before.
    #[inline(always)]
    fn value(&self, row: &[u8]) -> f64 {
        let digits = |at: usize, shift: u32| {
            row.get(at..).and_then(|rest| rest.first_chunk::<8>()).map_or(0, |eight| {
                value_of_eight_digits((u64::from_le_bytes(*eight) ^ ZEROS) << (shift & 63))
            })
        };
        let whole = digits(self.whole_at, self.whole_shift);
        let mantissa = if self.decimals == 0 {
            whole
        } else {
            whole * WHOLE_POWERS[self.decimals] + digits(self.decimals_at, self.decimals_shift)
        };
        // Fifteen digits at most: exact, and the sign bit is free. One exact
        // quotient is correctly rounded (Clinger 1990).
        let magnitude = mantissa as i64 as f64 / POWERS[self.decimals];
        if self.negative && mantissa != 0 { -magnitude } else { magnitude }
    }
}

/// Bits that move `n` of eight digits to the end.
fn shift_for(n: usize) -> u32 {
    8 * (MOST_DIGITS - n) as u32
}

fn mark_digits(cell: &[u8], at: usize, is_digit: &mut [bool]) {
    for (place, byte) in cell.iter().enumerate() {
        is_digit[at + place] = byte.is_ascii_digit();
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const TARGETS: [Target; 4] =
        [Target::Run, Target::Elapsed, Target::Pressure(0), Target::Nowhere];

    fn read(template: &RowTemplate, row: &str) -> Option<Vec<f64>> {
        let mut columns = vec![Vec::new(); 2];
        let bytes = format!("{row}{}", " ".repeat(64));
        template.read(bytes.as_bytes(), &mut columns, &mut Vec::new())?;
        Some(columns.into_iter().flatten().collect())
    }

    #[test]
    fn rows_of_the_shape_are_read_and_no_others() {
        let template = RowTemplate::of(b"R7,0.25,-12.5,3\n", b',', b'.', &TARGETS, None).unwrap();
        assert_eq!(read(&template, "R7,0.25,-12.5,3\n"), Some(vec![0.25, -12.5]));
        assert_eq!(read(&template, "R7,9.99,-00.0,0\n"), Some(vec![9.99, 0.0]));
        for other in [
            "R8,0.25,-12.5,3\n",
            "R7,0.25,12.55,3\n",
            "R7,0.25,-12.5,x\n",
            "R7,0.25,-12.5,:\n",
            "R7,0.25,-12.5,/\n",
            "R7,0.25,-12.5,3\r\n",
            "R7,0,25,-12.5,3\n",
            "R7,0.2\u{e9},-12.5\n",
            "R7,10.25,-12.5,3\n",
        ] {
            assert_eq!(read(&template, other), None, "{other:?}");
        }
    }

    #[test]
    fn a_row_that_is_no_row_of_plain_numbers_has_no_template() {
        for row in [
            "R7,0.25,1e3,3\n",
            "R7,0.25,12.5,3",
            "R7,0.25,12.5\n",
            "R7,.5,12.5,3\n",
            "R7,0.25,123456789,3\n",
            "R7,0.25,12345678.12345678,3\n",
            "R7,0.25,12.5,3,4\n",
        ] {
            assert!(RowTemplate::of(row.as_bytes(), b',', b'.', &TARGETS, None).is_none(), "{row}");
        }
    }

    #[test]
    fn a_clock_keeps_its_minute() {
        let row = b"2026-03-01T08:07:59.980,1.5\n";
        let read = crate::delimited::read_clock("2026-03-01T08:07:59.980", Default::default());
        let targets = [Target::Clock, Target::Pressure(0)];
        let template = RowTemplate::of(row, b',', b'.', &targets, read).unwrap();
        let mut clocks = Vec::new();
        let mut columns = vec![Vec::new()];
        for (text, fits) in [
            ("2026-03-01T08:07:01.250,2.5\n", true),
            ("2026-03-01T08:07:60.000,2.5\n", false),
            ("2026-03-01T08:08:00.000,2.5\n", false),
        ] {
            let bytes = format!("{text}{}", " ".repeat(64));
            let found = template.read(bytes.as_bytes(), &mut columns, &mut clocks);
            assert_eq!(found.is_some(), fits, "{text}");
        }
        let expected = crate::delimited::read_clock("2026-03-01T08:07:01.250", Default::default());
        assert_eq!(
            clocks.first().copied().map(|clock| clock.second_of_day),
            expected.map(|clock| clock.second_of_day)
        );
    }
}
