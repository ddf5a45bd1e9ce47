//! One or eight numbers at once, with the same digits either way.
//!
//! Code written over [`Lanes`] runs on one `f64` or on [`Eight`]; each lane
//! undergoes the same operations in the same order, so a batch gives the
//! digits of single runs, on plain builds and with wide registers alike. There
//! is no fused multiply-add anywhere.
//!
//! [`Eight`] runs everywhere; [`EightAvx2`] and [`EightAvx512`] are for code that
//! was compiled for processors with these registers and is chosen at run time.

mod elementary;
mod one;
#[cfg(target_arch = "x86_64")]
mod register_512;
#[cfg(target_arch = "x86_64")]
mod registers;
mod wide;

use core::ops::{Add, Div, Mul, Neg, Sub};

pub use elementary::{exp, ln};
pub use wide::{Eight, Wide};
#[cfg(target_arch = "x86_64")]
pub use wide::{EightAvx2, EightAvx512};

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
    /// Where both masks hold.
    fn both(first: Self::Mask, second: Self::Mask) -> Self::Mask;
    /// Where the first mask holds and the second does not.
    fn but_not(first: Self::Mask, second: Self::Mask) -> Self::Mask;
    /// The mask as bits, lane 0 lowest.
    fn bits(mask: Self::Mask) -> u32;
    /// True where the mask holds in every lane.
    #[inline(always)]
    fn all(mask: Self::Mask) -> bool {
        Self::bits(mask) == (1 << Self::WIDTH) - 1
    }
    /// Adds to the bits of each number, taken as a whole number.
    fn add_to_bits(self, whole: u64) -> Self;
    /// Keeps these of each number's bits.
    fn keep_bits(self, mask: u64) -> Self;
    /// Sets these of each number's bits.
    fn set_bits(self, mask: u64) -> Self;
    /// Moves each number's bits towards the high end.
    fn bits_up<const COUNT: i32>(self) -> Self;
    /// Moves each number's bits towards the low end.
    fn bits_down<const COUNT: i32>(self) -> Self;
    /// `e^x`, argument limited to ±708; see [`exp`].
    #[inline(always)]
    fn exp(self) -> Self {
        exp(self)
    }
    /// Natural logarithm of a positive normal number; see [`ln`].
    #[inline(always)]
    fn ln(self) -> Self {
        ln(self)
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
        let lanes = Eight::from_array(values);
        for (index, &value) in values.iter().enumerate() {
            let single = Lanes::exp(Lanes::ln(value) * 0.25) / (value + 3.0);
            let batch =
                ((lanes.ln() * Eight::splat(0.25)).exp() / (lanes + Eight::splat(3.0))).lane(index);
            assert_eq!(single.to_bits(), batch.to_bits());
        }
    }
}
