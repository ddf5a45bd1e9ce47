//! Eight numbers in one register of AVX-512.
//!
//! Its comparisons give a bit for each lane, not a lane of ones, so that it does
//! not share the text of the narrower registers.
#![allow(unsafe_code)]

use core::arch::x86_64::*;
use core::ops::{Add, Div, Mul, Neg, Sub};

use super::Lanes;

/// Eight numbers in one register of AVX-512 (foundation, and the logic of
/// numbers: F and DQ).
#[derive(Debug, Clone, Copy)]
pub struct Whole(__m512d);

// SAFETY, of every block below: whoever uses this type has asked the processor
// for AVX-512 F and DQ, as the type that carries it ([`super::EightAvx512`])
// demands. All instructions work lane by lane and round as the scalar ones do.

impl Add for Whole {
    type Output = Self;
    #[inline(always)]
    fn add(self, other: Self) -> Self {
        unsafe { Self(_mm512_add_pd(self.0, other.0)) }
    }
}

impl Sub for Whole {
    type Output = Self;
    #[inline(always)]
    fn sub(self, other: Self) -> Self {
        unsafe { Self(_mm512_sub_pd(self.0, other.0)) }
    }
}

impl Mul for Whole {
    type Output = Self;
    #[inline(always)]
    fn mul(self, other: Self) -> Self {
        unsafe { Self(_mm512_mul_pd(self.0, other.0)) }
    }
}

impl Div for Whole {
    type Output = Self;
    #[inline(always)]
    fn div(self, other: Self) -> Self {
        unsafe { Self(_mm512_div_pd(self.0, other.0)) }
    }
}

impl Neg for Whole {
    type Output = Self;
    #[inline(always)]
    fn neg(self) -> Self {
        unsafe { Self(_mm512_xor_pd(self.0, _mm512_set1_pd(-0.0))) }
    }
}

impl Lanes for Whole {
    const WIDTH: usize = 8;
    type Mask = __mmask8;

    #[inline(always)]
    fn splat(value: f64) -> Self {
        unsafe { Self(_mm512_set1_pd(value)) }
    }
    #[inline(always)]
    fn lane(&self, index: usize) -> f64 {
        assert!(index < 8);
        // SAFETY: a register is eight numbers in a row, and the index is one of
        // them.
        unsafe { *core::ptr::from_ref(&self.0).cast::<f64>().add(index) }
    }
    #[inline(always)]
    fn set_lane(&mut self, index: usize, value: f64) {
        assert!(index < 8);
        // SAFETY: as in `lane`.
        unsafe { *core::ptr::from_mut(&mut self.0).cast::<f64>().add(index) = value }
    }
    #[inline(always)]
    fn sqrt(self) -> Self {
        unsafe { Self(_mm512_sqrt_pd(self.0)) }
    }
    #[inline(always)]
    fn abs(self) -> Self {
        unsafe { Self(_mm512_andnot_pd(_mm512_set1_pd(-0.0), self.0)) }
    }
    #[inline(always)]
    fn larger(self, other: Self) -> Self {
        unsafe { Self(_mm512_max_pd(self.0, other.0)) }
    }
    #[inline(always)]
    fn smaller(self, other: Self) -> Self {
        unsafe { Self(_mm512_min_pd(self.0, other.0)) }
    }
    #[inline(always)]
    fn at_most(self, other: Self) -> __mmask8 {
        unsafe { _mm512_cmp_pd_mask::<_CMP_LE_OQ>(self.0, other.0) }
    }
    #[inline(always)]
    fn select(mask: __mmask8, first: Self, second: Self) -> Self {
        unsafe { Self(_mm512_mask_blend_pd(mask, second.0, first.0)) }
    }
    #[inline(always)]
    fn both(first: __mmask8, second: __mmask8) -> __mmask8 {
        first & second
    }
    #[inline(always)]
    fn but_not(first: __mmask8, second: __mmask8) -> __mmask8 {
        first & !second
    }
    #[inline(always)]
    fn bits(mask: __mmask8) -> u32 {
        u32::from(mask)
    }
    #[inline(always)]
    fn add_to_bits(self, whole: u64) -> Self {
        let whole = whole.cast_signed();
        unsafe {
            let sum = _mm512_add_epi64(_mm512_castpd_si512(self.0), _mm512_set1_epi64(whole));
            Self(_mm512_castsi512_pd(sum))
        }
    }
    #[inline(always)]
    fn keep_bits(self, mask: u64) -> Self {
        unsafe { Self(_mm512_and_pd(self.0, _mm512_set1_pd(f64::from_bits(mask)))) }
    }
    #[inline(always)]
    fn set_bits(self, mask: u64) -> Self {
        unsafe { Self(_mm512_or_pd(self.0, _mm512_set1_pd(f64::from_bits(mask)))) }
    }
    #[inline(always)]
    fn bits_up<const SHIFT: i32>(self) -> Self {
        unsafe { Self(_mm512_castsi512_pd(shifted::<SHIFT, true>(_mm512_castpd_si512(self.0)))) }
    }
    #[inline(always)]
    fn bits_down<const SHIFT: i32>(self) -> Self {
        unsafe { Self(_mm512_castsi512_pd(shifted::<SHIFT, false>(_mm512_castpd_si512(self.0)))) }
    }
}

/// Bits moved by a count that the narrower instructions take as `i32`, these
/// as `u32`.
#[inline(always)]
unsafe fn shifted<const SHIFT: i32, const UP: bool>(whole: __m512i) -> __m512i {
    // SAFETY: SSE2 belongs to every x86-64 processor.
    let count = unsafe { _mm_cvtsi32_si128(SHIFT) };
    if UP {
        unsafe { _mm512_sll_epi64(whole, count) }
    } else {
        unsafe { _mm512_srl_epi64(whole, count) }
    }
}
