//! Eight numbers in several registers.

use core::ops::{Add, Div, Mul, Neg, Sub};

use super::Lanes;
#[cfg(target_arch = "x86_64")]
use super::register_512::Whole;
#[cfg(target_arch = "x86_64")]
use super::registers::{Four, Two};

/// `COUNT` registers of lanes as one row of lanes.
#[derive(Debug, Clone, Copy)]
#[repr(align(64))]
pub struct Wide<R, const COUNT: usize>([R; COUNT]);

/// Eight numbers side by side, on the instructions of the plain build.
#[cfg(target_arch = "x86_64")]
pub type Eight = Wide<Two, 4>;

/// Eight numbers side by side, on the instructions of the plain build.
#[cfg(not(target_arch = "x86_64"))]
pub type Eight = Wide<f64, 8>;

/// Eight numbers side by side, for code compiled for processors with AVX2.
///
/// Only for use below a function with `#[target_feature(enable = "avx2")]`
/// that was entered after the processor was asked.
#[cfg(target_arch = "x86_64")]
pub type EightAvx2 = Wide<Four, 2>;

/// Eight numbers side by side, for code compiled for processors with AVX-512.
///
/// Only for use below a function with `#[target_feature(enable =
/// "avx512f,avx512dq")]` that was entered after the processor was asked.
#[cfg(target_arch = "x86_64")]
pub type EightAvx512 = Wide<Whole, 1>;

impl<R: Lanes, const COUNT: usize> Wide<R, COUNT> {
    /// From numbers in order.
    #[inline(always)]
    #[must_use]
    pub fn from_array(values: [f64; 8]) -> Self {
        let mut out = Self::splat(0.0);
        for (index, value) in values.into_iter().enumerate() {
            out.set_lane(index, value);
        }
        out
    }

    /// The numbers in order.
    #[inline(always)]
    #[must_use]
    pub fn to_array(self) -> [f64; 8] {
        core::array::from_fn(|index| self.lane(index))
    }
}

/// One operation in every register. Written out, not looped: a step of a cycle
/// holds thousands of these, and unrolling them all took the compiler minutes.
macro_rules! each {
    ($row:expr, |$register:ident| $value:expr) => {{
        const { assert!(COUNT <= 8, "a row has at most eight registers") };
        let mut out = $row.0;
        each!(@ out, $register, $value, 0, 1, 2, 3, 4, 5, 6, 7);
        Self(out)
    }};
    (@ $out:ident, $register:ident, $value:expr, $($index:literal),*) => {$(
        if $index < COUNT {
            let $register = $index;
            $out[$index] = $value;
        }
    )*};
}

impl<R: Lanes, const COUNT: usize> Add for Wide<R, COUNT> {
    type Output = Self;
    #[inline(always)]
    fn add(self, other: Self) -> Self {
        each!(self, |i| self.0[i] + other.0[i])
    }
}

impl<R: Lanes, const COUNT: usize> Sub for Wide<R, COUNT> {
    type Output = Self;
    #[inline(always)]
    fn sub(self, other: Self) -> Self {
        each!(self, |i| self.0[i] - other.0[i])
    }
}

impl<R: Lanes, const COUNT: usize> Mul for Wide<R, COUNT> {
    type Output = Self;
    #[inline(always)]
    fn mul(self, other: Self) -> Self {
        each!(self, |i| self.0[i] * other.0[i])
    }
}

impl<R: Lanes, const COUNT: usize> Div for Wide<R, COUNT> {
    type Output = Self;
    #[inline(always)]
    fn div(self, other: Self) -> Self {
        each!(self, |i| self.0[i] / other.0[i])
    }
}

impl<R: Lanes, const COUNT: usize> Neg for Wide<R, COUNT> {
    type Output = Self;
    #[inline(always)]
    fn neg(self) -> Self {
        each!(self, |i| -self.0[i])
    }
}

impl<R: Lanes, const COUNT: usize> Lanes for Wide<R, COUNT> {
    const WIDTH: usize = R::WIDTH * COUNT;
    type Mask = [R::Mask; COUNT];

    #[inline(always)]
    fn splat(value: f64) -> Self {
        Self([R::splat(value); COUNT])
    }
    #[inline(always)]
    fn lane(&self, index: usize) -> f64 {
        self.0[index / R::WIDTH].lane(index % R::WIDTH)
    }
    #[inline(always)]
    fn set_lane(&mut self, index: usize, value: f64) {
        self.0[index / R::WIDTH].set_lane(index % R::WIDTH, value);
    }
    #[inline(always)]
    fn sqrt(self) -> Self {
        each!(self, |i| self.0[i].sqrt())
    }
    #[inline(always)]
    fn abs(self) -> Self {
        each!(self, |i| self.0[i].abs())
    }
    #[inline(always)]
    fn larger(self, other: Self) -> Self {
        each!(self, |i| self.0[i].larger(other.0[i]))
    }
    #[inline(always)]
    fn smaller(self, other: Self) -> Self {
        each!(self, |i| self.0[i].smaller(other.0[i]))
    }
    #[inline(always)]
    fn at_most(self, other: Self) -> Self::Mask {
        core::array::from_fn(|i| self.0[i].at_most(other.0[i]))
    }
    #[inline(always)]
    fn select(mask: Self::Mask, first: Self, second: Self) -> Self {
        each!(first, |i| R::select(mask[i], first.0[i], second.0[i]))
    }
    #[inline(always)]
    fn both(first: Self::Mask, second: Self::Mask) -> Self::Mask {
        core::array::from_fn(|i| R::both(first[i], second[i]))
    }
    #[inline(always)]
    fn but_not(first: Self::Mask, second: Self::Mask) -> Self::Mask {
        core::array::from_fn(|i| R::but_not(first[i], second[i]))
    }
    #[inline(always)]
    fn bits(mask: Self::Mask) -> u32 {
        let mut out = 0;
        let mut index = 0;
        while index < COUNT {
            out |= R::bits(mask[index]) << (index * R::WIDTH);
            index += 1;
        }
        out
    }
    #[inline(always)]
    fn add_to_bits(self, whole: u64) -> Self {
        each!(self, |i| self.0[i].add_to_bits(whole))
    }
    #[inline(always)]
    fn keep_bits(self, mask: u64) -> Self {
        each!(self, |i| self.0[i].keep_bits(mask))
    }
    #[inline(always)]
    fn set_bits(self, mask: u64) -> Self {
        each!(self, |i| self.0[i].set_bits(mask))
    }
    #[inline(always)]
    fn bits_up<const SHIFT: i32>(self) -> Self {
        each!(self, |i| self.0[i].bits_up::<SHIFT>())
    }
    #[inline(always)]
    fn bits_down<const SHIFT: i32>(self) -> Self {
        each!(self, |i| self.0[i].bits_down::<SHIFT>())
    }
}
