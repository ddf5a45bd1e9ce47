//! Processor registers as lanes: two numbers on every x86-64, four with AVX2.
//!
//! Written out by instruction because the compiler's own grouping of arrays
//! into registers was found to halve the speed (docs/performance.md).
#![allow(unsafe_code)]

use core::arch::x86_64::*;
use core::ops::{Add, Div, Mul, Neg, Sub};

use super::Lanes;

/// One register type. All instructions work lane by lane and round as the
/// scalar ones do.
macro_rules! register {
    ($(#[$about:meta])* $name:ident($register:ident) of $width:literal,
     splat $splat:ident, arithmetic $add:ident $sub:ident $mul:ident $div:ident $sqrt:ident,
     order $max:ident $min:ident, logic $and:ident $and_not:ident $or:ident $xor:ident,
     at_most $at_most:expr, select $select:expr, bits $bits:ident,
     whole $to_whole:ident $from_whole:ident $whole_splat:ident $whole_add:ident $up:ident $down:ident) => {
        $(#[$about])*
        #[derive(Debug, Clone, Copy)]
        pub struct $name($register);

        impl Add for $name {
            type Output = Self;
            #[inline(always)]
            fn add(self, other: Self) -> Self {
                unsafe { Self($add(self.0, other.0)) }
            }
        }

        impl Sub for $name {
            type Output = Self;
            #[inline(always)]
            fn sub(self, other: Self) -> Self {
                unsafe { Self($sub(self.0, other.0)) }
            }
        }

        impl Mul for $name {
            type Output = Self;
            #[inline(always)]
            fn mul(self, other: Self) -> Self {
                unsafe { Self($mul(self.0, other.0)) }
            }
        }

        impl Div for $name {
            type Output = Self;
            #[inline(always)]
            fn div(self, other: Self) -> Self {
                unsafe { Self($div(self.0, other.0)) }
            }
        }

        impl Neg for $name {
            type Output = Self;
            #[inline(always)]
            fn neg(self) -> Self {
                unsafe { Self($xor(self.0, $splat(-0.0))) }
            }
        }

        impl Lanes for $name {
            const WIDTH: usize = $width;
            type Mask = Self;

            #[inline(always)]
            fn splat(value: f64) -> Self {
                unsafe { Self($splat(value)) }
            }
            #[inline(always)]
            fn lane(&self, index: usize) -> f64 {
                assert!(index < $width);
                // SAFETY: a register is that many numbers in a row, and the
                // index is one of them.
                unsafe { *core::ptr::from_ref(&self.0).cast::<f64>().add(index) }
            }
            #[inline(always)]
            fn set_lane(&mut self, index: usize, value: f64) {
                assert!(index < $width);
                // SAFETY: as in `lane`.
                unsafe { *core::ptr::from_mut(&mut self.0).cast::<f64>().add(index) = value }
            }
            #[inline(always)]
            fn sqrt(self) -> Self {
                unsafe { Self($sqrt(self.0)) }
            }
            #[inline(always)]
            fn abs(self) -> Self {
                unsafe { Self($and_not($splat(-0.0), self.0)) }
            }
            #[inline(always)]
            fn larger(self, other: Self) -> Self {
                unsafe { Self($max(self.0, other.0)) }
            }
            #[inline(always)]
            fn smaller(self, other: Self) -> Self {
                unsafe { Self($min(self.0, other.0)) }
            }
            #[inline(always)]
            fn at_most(self, other: Self) -> Self {
                unsafe { Self($at_most(self.0, other.0)) }
            }
            #[inline(always)]
            fn select(mask: Self, first: Self, second: Self) -> Self {
                unsafe { Self($select(mask.0, first.0, second.0)) }
            }
            #[inline(always)]
            fn both(first: Self, second: Self) -> Self {
                unsafe { Self($and(first.0, second.0)) }
            }
            #[inline(always)]
            fn but_not(first: Self, second: Self) -> Self {
                unsafe { Self($and_not(second.0, first.0)) }
            }
            #[inline(always)]
            fn bits(mask: Self) -> u32 {
                unsafe { $bits(mask.0) }.cast_unsigned()
            }
            #[inline(always)]
            fn add_to_bits(self, whole: u64) -> Self {
                let whole = whole.cast_signed();
                unsafe { Self($from_whole($whole_add($to_whole(self.0), $whole_splat(whole)))) }
            }
            #[inline(always)]
            fn keep_bits(self, mask: u64) -> Self {
                unsafe { Self($and(self.0, $splat(f64::from_bits(mask)))) }
            }
            #[inline(always)]
            fn set_bits(self, mask: u64) -> Self {
                unsafe { Self($or(self.0, $splat(f64::from_bits(mask)))) }
            }
            #[inline(always)]
            fn bits_up<const SHIFT: i32>(self) -> Self {
                unsafe { Self($from_whole($up::<SHIFT>($to_whole(self.0)))) }
            }
            #[inline(always)]
            fn bits_down<const SHIFT: i32>(self) -> Self {
                unsafe { Self($from_whole($down::<SHIFT>($to_whole(self.0)))) }
            }
        }
    };
}

// SAFETY: SSE2 belongs to every x86-64 processor.
register!(
    /// Two numbers in one register.
    Two(__m128d) of 2,
    splat _mm_set1_pd, arithmetic _mm_add_pd _mm_sub_pd _mm_mul_pd _mm_div_pd _mm_sqrt_pd,
    order _mm_max_pd _mm_min_pd, logic _mm_and_pd _mm_andnot_pd _mm_or_pd _mm_xor_pd,
    at_most |a, b| _mm_cmple_pd(a, b),
    select |m, a, b| _mm_or_pd(_mm_and_pd(m, a), _mm_andnot_pd(m, b)),
    bits _mm_movemask_pd,
    whole _mm_castpd_si128 _mm_castsi128_pd _mm_set1_epi64x _mm_add_epi64
        _mm_slli_epi64 _mm_srli_epi64
);

// SAFETY: whoever uses this type has asked the processor for AVX2, as the
// type that carries it ([`super::EightAvx2`]) demands.
register!(
    /// Four numbers in one register of AVX2.
    Four(__m256d) of 4,
    splat _mm256_set1_pd,
    arithmetic _mm256_add_pd _mm256_sub_pd _mm256_mul_pd _mm256_div_pd _mm256_sqrt_pd,
    order _mm256_max_pd _mm256_min_pd,
    logic _mm256_and_pd _mm256_andnot_pd _mm256_or_pd _mm256_xor_pd,
    at_most |a, b| _mm256_cmp_pd::<_CMP_LE_OQ>(a, b),
    select |m, a, b| _mm256_blendv_pd(b, a, m),
    bits _mm256_movemask_pd,
    whole _mm256_castpd_si256 _mm256_castsi256_pd _mm256_set1_epi64x _mm256_add_epi64
        _mm256_slli_epi64 _mm256_srli_epi64
);
