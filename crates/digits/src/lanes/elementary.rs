//! Exponential and logarithm without branches, over lanes.

use super::Lanes;

const TWO_52: f64 = 4_503_599_627_370_496.0;

/// `e^x` without branches, argument limited to ±708.
///
/// Within its range bit-equal to [`crate::scalar::exp`] (tested): method and
/// coefficients of the public `fdlibm` (e_exp.c), its case distinctions turned
/// into selections so that lanes need not part.
#[inline(always)]
#[must_use]
pub fn exp<V: Lanes>(x: V) -> V {
    const LN2_HIGH: f64 = 6.931_471_803_691_238e-1;
    const LN2_LOW: f64 = 1.908_214_929_270_587_7e-10;
    const P1: f64 = 1.666_666_666_666_660_2e-1;
    const P2: f64 = -2.777_777_777_701_559_3e-3;
    const P3: f64 = 6.613_756_321_437_934e-5;
    const P4: f64 = -1.653_390_220_546_525_2e-6;
    const P5: f64 = 4.138_136_797_057_238_5e-8;
    // Thresholds of the original, which compares high words: half ln 2,
    // one and a half ln 2, and 2^-28.
    const HALF_LN2: f64 = f64::from_bits(0x3fd6_2e43_0000_0000);
    const THREE_HALVES_LN2: f64 = f64::from_bits(0x3ff0_a2b2_0000_0000);
    const TINY: f64 = f64::from_bits(0x3e30_0001_0000_0000);

    let v = V::splat;
    let one = v(1.0);
    let x = x.smaller(v(708.0)).larger(v(-708.0));
    let size = x.abs();
    // Whole multiple of ln 2, cut towards zero as the original does.
    let quotient = v(core::f64::consts::LOG2_E) * size + v(0.5);
    let rounded = (quotient + v(TWO_52)) - v(TWO_52);
    let cut = V::select(rounded.at_most(quotient), rounded, rounded - one);
    let count = V::select(v(THREE_HALVES_LN2).at_most(size), cut, one);
    let count = V::select(v(HALF_LN2).at_most(size), count, v(0.0));
    let k = V::select(v(0.0).at_most(x), count, -count);
    let high = x - k * v(LN2_HIGH);
    let low = k * v(LN2_LOW);
    let r = high - low;
    let square = r * r;
    let inner = v(P3) + square * (v(P4) + square * v(P5));
    let c = r - square * (v(P1) + square * (v(P2) + square * inner));
    let y = one + (r * c / (v(2.0) - c) - low + high);
    let y = V::select(v(TINY).at_most(size), y, one + x);
    // 2^k from its exponent bits: k + 1023 sits in the low bits of 2^52 + it.
    y * (k + v(1023.0 + TWO_52)).bits_up::<52>()
}

/// Natural logarithm without branches, for positive normal numbers.
///
/// Within its range bit-equal to [`crate::scalar::ln`] (tested): method and
/// coefficients of the public `fdlibm` (e_log.c).
#[inline(always)]
#[must_use]
pub fn ln<V: Lanes>(x: V) -> V {
    const LN2_HIGH: f64 = 6.931_471_803_691_238e-1;
    const LN2_LOW: f64 = 1.908_214_929_270_587_7e-10;
    const G1: f64 = 6.666_666_666_666_735e-1;
    const G2: f64 = 3.999_999_999_940_942e-1;
    const G3: f64 = 2.857_142_874_366_239e-1;
    const G4: f64 = 2.222_219_843_214_978_4e-1;
    const G5: f64 = 1.818_357_216_161_805e-1;
    const G6: f64 = 1.531_383_769_920_937_3e-1;
    const G7: f64 = 1.479_819_860_511_658_6e-1;
    const ROOT_HALF: u64 = 0x3fe6_a09e_0000_0000;

    let v = V::splat;
    let shifted = x.add_to_bits(0x3ff0_0000_0000_0000 - ROOT_HALF);
    // Whole number to float through the low bits of 2^52.
    let k = shifted.bits_down::<52>().set_bits(0x4330_0000_0000_0000) - v(TWO_52 + 1023.0);
    let f = shifted.keep_bits(0x000f_ffff_ffff_ffff).add_to_bits(ROOT_HALF) - v(1.0);
    let half_square = v(0.5) * f * f;
    let s = f / (v(2.0) + f);
    let z = s * s;
    let w = z * z;
    let odd = w * (v(G2) + w * (v(G4) + w * v(G6)));
    let even = z * (v(G1) + w * (v(G3) + w * (v(G5) + w * v(G7))));
    let r = even + odd;
    s * (half_square + r) + k * v(LN2_LOW) - half_square + f + k * v(LN2_HIGH)
}
