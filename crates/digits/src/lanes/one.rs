//! One number: the lanes of a single run.

use super::Lanes;

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
    fn both(first: bool, second: bool) -> bool {
        first & second
    }
    #[inline(always)]
    fn but_not(first: bool, second: bool) -> bool {
        first & !second
    }
    #[inline(always)]
    fn bits(mask: bool) -> u32 {
        u32::from(mask)
    }
    #[inline(always)]
    fn add_to_bits(self, whole: u64) -> Self {
        f64::from_bits(self.to_bits().wrapping_add(whole))
    }
    #[inline(always)]
    fn keep_bits(self, mask: u64) -> Self {
        f64::from_bits(self.to_bits() & mask)
    }
    #[inline(always)]
    fn set_bits(self, mask: u64) -> Self {
        f64::from_bits(self.to_bits() | mask)
    }
    #[inline(always)]
    fn bits_up<const COUNT: i32>(self) -> Self {
        f64::from_bits(self.to_bits() << COUNT)
    }
    #[inline(always)]
    fn bits_down<const COUNT: i32>(self) -> Self {
        f64::from_bits(self.to_bits() >> COUNT)
    }
}
