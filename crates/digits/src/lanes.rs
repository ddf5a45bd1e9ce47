//! One or eight numbers at once, with the same digits either way.
//!
//! Code written over [`Lanes`] runs on one `f64` or on [`Eight`]; each lane
//! undergoes the same operations in the same order, so a batch gives the
//! digits of single runs, on plain builds and with wide registers alike. There
//! is no fused multiply-add anywhere.

use core::ops::{Add, Div, Mul, Neg, Sub};

/// Numbers that are computed side by side.
pub trait Lanes:
    Copy
    + Add<Output = Self>
    + Sub<Output = Self>
    + Mul<Output = Self>
    + Div<Output = Self>
    + Neg<Output = Self>
{
    /// How many there are.
    const WIDTH: usize;
    /// One truth value per lane.
    type Mask: Copy;

    /// The same number in every lane.
    fn splat(value: f64) -> Self;
    /// The number in a lane.
    fn lane(&self, index: usize) -> f64;
    /// Replaces the number in a lane.
    fn set_lane(&mut self, index: usize, value: f64);
    /// Square root.
    fn sqrt(self) -> Self;
    /// Absolute value.
    fn abs(self) -> Self;
    /// The larger; the second where the first is not a number.
    fn larger(self, other: Self) -> Self;
    /// The smaller; the second where the first is not a number.
    fn smaller(self, other: Self) -> Self;
    /// Lane by lane, is this one less than or equal to the other?
    fn at_most(self, other: Self) -> Self::Mask;
    /// First where the mask holds, else second.
    fn select(mask: Self::Mask, first: Self, second: Self) -> Self;
    /// True where the mask holds in every lane.
    fn all(mask: Self::Mask) -> bool;
    /// `e^x`, argument limited to ±708; see [`exp`].
    fn exp(self) -> Self;
    /// Natural logarithm of a positive normal number; see [`ln`].
    fn ln(self) -> Self;
}

/// `e^x` without branches, argument limited to ±708.
///
/// Within its range bit-equal to [`crate::scalar::exp`] (tested): method and
/// coefficients of the public `fdlibm` (e_exp.c), its case distinctions turned
/// into selections so that lanes need not part.
#[inline(always)]
#[must_use]
pub fn exp(x: f64) -> f64 {
    const LN2_HIGH: f64 = 6.931_471_803_691_238e-1;
    const LN2_LOW: f64 = 1.908_214_929_270_587_7e-10;
    const INVERSE_LN2: f64 = core::f64::consts::LOG2_E;
    const P1: f64 = 1.666_666_666_666_660_2e-1;
    const P2: f64 = -2.777_777_777_701_559_3e-3;
    const P3: f64 = 6.613_756_321_437_934e-5;
    const P4: f64 = -1.653_390_220_546_525_2e-6;
    const P5: f64 = 4.138_136_797_057_238_5e-8;
    const TWO_52: f64 = 4_503_599_627_370_496.0;
    // Thresholds of the original, which compares high words: half ln 2,
    // one and a half ln 2, and 2^-28.
    const HALF_LN2: f64 = f64::from_bits(0x3fd6_2e43_0000_0000);
    const THREE_HALVES_LN2: f64 = f64::from_bits(0x3ff0_a2b2_0000_0000);
    const TINY: f64 = f64::from_bits(0x3e30_0001_0000_0000);

    let x = if x < 708.0 { x } else { 708.0 };
    let x = if x > -708.0 { x } else { -708.0 };
    let size = x.abs();
    // Whole multiple of ln 2, cut towards zero as the original does.
    let quotient = INVERSE_LN2 * size + 0.5;
    let rounded = (quotient + TWO_52) - TWO_52;
    let cut = if rounded > quotient { rounded - 1.0 } else { rounded };
    let count = if size < THREE_HALVES_LN2 { 1.0 } else { cut };
    let count = if size < HALF_LN2 { 0.0 } else { count };
    let k = if x < 0.0 { -count } else { count };
    let high = x - k * LN2_HIGH;
    let low = k * LN2_LOW;
    let r = high - low;
    let square = r * r;
    let c = r - square * (P1 + square * (P2 + square * (P3 + square * (P4 + square * P5))));
    let y = 1.0 + (r * c / (2.0 - c) - low + high);
    let y = if size < TINY { 1.0 + x } else { y };
    // 2^k from its exponent bits: k + 1023 sits in the low bits of 2^52 + it.
    y * f64::from_bits((k + (1023.0 + TWO_52)).to_bits() << 52)
}

/// Natural logarithm without branches, for positive normal numbers.
///
/// Within its range bit-equal to [`crate::scalar::ln`] (tested): method and
/// coefficients of the public `fdlibm` (e_log.c).
#[inline(always)]
#[must_use]
pub fn ln(x: f64) -> f64 {
    const LN2_HIGH: f64 = 6.931_471_803_691_238e-1;
    const LN2_LOW: f64 = 1.908_214_929_270_587_7e-10;
    const G1: f64 = 6.666_666_666_666_735e-1;
    const G2: f64 = 3.999_999_999_940_942e-1;
    const G3: f64 = 2.857_142_874_366_239e-1;
    const G4: f64 = 2.222_219_843_214_978_4e-1;
    const G5: f64 = 1.818_357_216_161_805e-1;
    const G6: f64 = 1.531_383_769_920_937_3e-1;
    const G7: f64 = 1.479_819_860_511_658_6e-1;
    const TWO_52: f64 = 4_503_599_627_370_496.0;

    let shifted = x.to_bits().wrapping_add(0x3ff0_0000_0000_0000 - 0x3fe6_a09e_0000_0000);
    let exponent = shifted >> 52;
    // Whole number to float through the low bits of 2^52.
    let k = f64::from_bits(0x4330_0000_0000_0000 | exponent) - (TWO_52 + 1023.0);
    let mantissa = (shifted & 0x000f_ffff_ffff_ffff).wrapping_add(0x3fe6_a09e_0000_0000);
    let f = f64::from_bits(mantissa) - 1.0;
    let half_square = 0.5 * f * f;
    let s = f / (2.0 + f);
    let z = s * s;
    let w = z * z;
    let odd = w * (G2 + w * (G4 + w * G6));
    let even = z * (G1 + w * (G3 + w * (G5 + w * G7)));
    let r = even + odd;
    s * (half_square + r) + k * LN2_LOW - half_square + f + k * LN2_HIGH
}

impl Lanes for f64 {
    const WIDTH: usize = 1;
    type Mask = bool;

    #[inline(always)]
    fn splat(value: f64) -> Self {
        value
    }
    #[inline(always)]
    fn lane(&self, _index: usize) -> f64 {
        *self
    }
    #[inline(always)]
    fn set_lane(&mut self, _index: usize, value: f64) {
        *self = value;
    }
    #[inline(always)]
    fn sqrt(self) -> Self {
        f64::sqrt(self)
    }
    #[inline(always)]
    fn abs(self) -> Self {
        f64::abs(self)
    }
    #[inline(always)]
    fn larger(self, other: Self) -> Self {
        if self > other { self } else { other }
    }
    #[inline(always)]
    fn smaller(self, other: Self) -> Self {
        if self < other { self } else { other }
    }
    #[inline(always)]
    fn at_most(self, other: Self) -> bool {
        self <= other
    }
    #[inline(always)]
    fn select(mask: bool, first: Self, second: Self) -> Self {
        if mask { first } else { second }
    }
    #[inline(always)]
    fn all(mask: bool) -> bool {
        mask
    }
    #[inline(always)]
    fn exp(self) -> Self {
        exp(self)
    }
    #[inline(always)]
    fn ln(self) -> Self {
        ln(self)
    }
}

/// Eight numbers side by side.
#[derive(Debug, Clone, Copy, PartialEq)]
#[repr(align(64))]
pub struct Eight(pub [f64; 8]);

/// One operation in every lane.
macro_rules! each {
    ($index:ident, $value:expr) => {{
        let mut out = [0.0; 8];
        for ($index, slot) in out.iter_mut().enumerate() {
            *slot = $value;
        }
        Eight(out)
    }};
}

impl Add for Eight {
    type Output = Self;
    #[inline(always)]
    fn add(self, other: Self) -> Self {
        each!(i, self.0[i] + other.0[i])
    }
}

impl Sub for Eight {
    type Output = Self;
    #[inline(always)]
    fn sub(self, other: Self) -> Self {
        each!(i, self.0[i] - other.0[i])
    }
}

impl Mul for Eight {
    type Output = Self;
    #[inline(always)]
    fn mul(self, other: Self) -> Self {
        each!(i, self.0[i] * other.0[i])
    }
}

impl Div for Eight {
    type Output = Self;
    #[inline(always)]
    fn div(self, other: Self) -> Self {
        each!(i, self.0[i] / other.0[i])
    }
}

impl Neg for Eight {
    type Output = Self;
    #[inline(always)]
    fn neg(self) -> Self {
        each!(i, -self.0[i])
    }
}

impl Lanes for Eight {
    const WIDTH: usize = 8;
    type Mask = [bool; 8];

    #[inline(always)]
    fn splat(value: f64) -> Self {
        Self([value; 8])
    }
    #[inline(always)]
    fn lane(&self, index: usize) -> f64 {
        self.0[index]
    }
    #[inline(always)]
    fn set_lane(&mut self, index: usize, value: f64) {
        self.0[index] = value;
    }
    #[inline(always)]
    fn sqrt(self) -> Self {
        each!(i, self.0[i].sqrt())
    }
    #[inline(always)]
    fn abs(self) -> Self {
        each!(i, self.0[i].abs())
    }
    #[inline(always)]
    fn larger(self, other: Self) -> Self {
        each!(i, if self.0[i] > other.0[i] { self.0[i] } else { other.0[i] })
    }
    #[inline(always)]
    fn smaller(self, other: Self) -> Self {
        each!(i, if self.0[i] < other.0[i] { self.0[i] } else { other.0[i] })
    }
    #[inline(always)]
    fn at_most(self, other: Self) -> [bool; 8] {
        let mut out = [false; 8];
        for (i, slot) in out.iter_mut().enumerate() {
            *slot = self.0[i] <= other.0[i];
        }
        out
    }
    #[inline(always)]
    fn select(mask: [bool; 8], first: Self, second: Self) -> Self {
        each!(i, if mask[i] { first.0[i] } else { second.0[i] })
    }
    #[inline(always)]
    fn all(mask: [bool; 8]) -> bool {
        mask.iter().fold(true, |all, &one| all & one)
    }
    #[inline(always)]
    fn exp(self) -> Self {
        each!(i, exp(self.0[i]))
    }
    #[inline(always)]
    fn ln(self) -> Self {
        each!(i, ln(self.0[i]))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::RandomStream;
    use crate::scalar;

    #[test]
    fn exponential_has_the_scalar_digits() {
        let mut stream = RandomStream::new(11, 1);
        let mut arguments: Vec<f64> = (0..200_000)
            .map(|_| (stream.uniform() - 0.5) * 2.0 * stream.uniform() * 707.0)
            .collect();
        arguments.extend((0..200_000).map(|_| (stream.uniform() - 0.5) * 3.0));
        // Around every seam of the case distinction.
        for seam in [0.346_573_590_279_972_64_f64, 1.039_720_770_839_918, 3.725e-9, 1.732_867_95] {
            for step in 0..4000_u64 {
                let bits = seam.to_bits() - 2000 + step;
                arguments.extend([f64::from_bits(bits), -f64::from_bits(bits)]);
            }
        }
        arguments.extend([0.0, -0.0, 708.0, -708.0, 1e-300]);
        for x in arguments {
            assert_eq!(exp(x).to_bits(), scalar::exp(x).to_bits(), "{x:e}");
        }
    }

    #[test]
    fn logarithm_has_the_scalar_digits() {
        let mut stream = RandomStream::new(12, 1);
        for _ in 0..400_000 {
            let x = scalar::exp((stream.uniform() - 0.5) * 1400.0);
            assert_eq!(ln(x).to_bits(), scalar::ln(x).to_bits(), "{x:e}");
            let near = 1.0 + (stream.uniform() - 0.5);
            assert_eq!(ln(near).to_bits(), scalar::ln(near).to_bits(), "{near:e}");
        }
        assert_eq!(ln(1.0), 0.0);
    }

    #[test]
    fn eight_lanes_have_the_digits_of_one() {
        let values = [0.3, 1.7, 2.0, 55.5, 1e-8, 0.99, 3.3, 100.0];
        let lanes = Eight(values);
        for (index, &value) in values.iter().enumerate() {
            let single = Lanes::exp(Lanes::ln(value) * 0.25) / (value + 3.0);
            let batch =
                ((lanes.ln() * Eight::splat(0.25)).exp() / (lanes + Eight::splat(3.0))).lane(index);
            assert_eq!(single.to_bits(), batch.to_bits());
        }
    }
}
