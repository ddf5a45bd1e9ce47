//! The standard normal distribution, on which random streams and the
//! statistics both rest.

use crate::scalar::{erfc, exp, ln};

const SQRT_2: f64 = core::f64::consts::SQRT_2;
/// `ln(sqrt(2 pi))`.
const LN_SQRT_2PI: f64 = 0.918_938_533_204_672_8;

/// Density of the standard normal distribution.
#[must_use]
pub fn density(z: f64) -> f64 {
    exp(-0.5 * z * z - LN_SQRT_2PI)
}

/// Probability that a standard normal value lies below `z`.
#[must_use]
pub fn cumulative(z: f64) -> f64 {
    0.5 * erfc(-z / SQRT_2)
}

/// Probability that a standard normal value lies above `z`, without
/// cancellation in the upper tail.
#[must_use]
pub fn survival(z: f64) -> f64 {
    0.5 * erfc(z / SQRT_2)
}

/// Quantile: the `z` below which a standard normal value lies with
/// probability `p`. Infinite at 0 and 1, NaN outside.
///
/// Method: algorithm AS 241 of M. J. Wichura, Appl. Statist. 37 (1988) 477
/// (coefficients from memory), relative accuracy about 1e-16; checked in the
/// tests by the round trip through [`cumulative`].
#[must_use]
pub fn quantile(p: f64) -> f64 {
    if p.is_nan() || !(0.0..=1.0).contains(&p) {
        return f64::NAN;
    }
    if p == 0.0 {
        return f64::NEG_INFINITY;
    }
    if p == 1.0 {
        return f64::INFINITY;
    }
    let q = p - 0.5;
    if q.abs() <= 0.425 {
        let r = 0.180_625 - q * q;
        return q * ratio(r, &CENTRAL_NUMERATOR, &CENTRAL_DENOMINATOR);
    }
    let tail = if q < 0.0 { p } else { 1.0 - p };
    let root = (-ln(tail)).sqrt();
    let magnitude = if root <= 5.0 {
        ratio(root - 1.6, &MIDDLE_NUMERATOR, &MIDDLE_DENOMINATOR)
    } else {
        ratio(root - 5.0, &FAR_NUMERATOR, &FAR_DENOMINATOR)
    };
    if q < 0.0 { -magnitude } else { magnitude }
}

fn ratio(x: f64, numerator: &[f64; 8], denominator: &[f64; 8]) -> f64 {
    let horner = |c: &[f64; 8]| c.iter().rev().fold(0.0, |value, &term| value * x + term);
    horner(numerator) / horner(denominator)
}

const CENTRAL_NUMERATOR: [f64; 8] = [
    3.387_132_872_796_366_5,
    133.141_667_891_784_38,
    1_971.590_950_306_551_3,
    13_731.693_765_509_46,
    45_921.953_931_549_87,
    67_265.770_927_008_7,
    33_430.575_583_588_13,
    2_509.080_928_730_122_7,
];
const CENTRAL_DENOMINATOR: [f64; 8] = [
    1.0,
    42.313_330_701_600_91,
    687.187_007_492_057_9,
    5_394.196_021_424_751,
    21_213.794_301_586_597,
    39_307.895_800_092_71,
    28_729.085_735_721_943,
    5_226.495_278_852_854,
];
const MIDDLE_NUMERATOR: [f64; 8] = [
    1.423_437_110_749_683_5,
    4.630_337_846_156_546,
    5.769_497_221_460_691,
    3.647_848_324_763_204_5,
    1.270_458_252_452_368_4,
    0.241_780_725_177_450_6,
    0.022_723_844_989_269_184,
    7.745_450_142_783_414e-4,
];
const MIDDLE_DENOMINATOR: [f64; 8] = [
    1.0,
    2.053_191_626_637_759,
    1.676_384_830_183_803_8,
    0.689_767_334_985_1,
    0.148_103_976_427_480_08,
    0.015_198_666_563_616_457,
    5.475_938_084_995_345e-4,
    1.050_750_071_644_416_9e-9,
];
const FAR_NUMERATOR: [f64; 8] = [
    6.657_904_643_501_103,
    5.463_784_911_164_114,
    1.784_826_539_917_291_3,
    0.296_560_571_828_504_87,
    0.026_532_189_526_576_124,
    0.001_242_660_947_388_078_4,
    2.711_555_568_743_487_6e-5,
    2.010_334_399_292_288_1e-7,
];
const FAR_DENOMINATOR: [f64; 8] = [
    1.0,
    0.599_832_206_555_888,
    0.136_929_880_922_735_8,
    0.014_875_361_290_850_615,
    7.868_691_311_456_133e-4,
    1.846_318_317_510_054_8e-5,
    1.421_511_758_316_446e-7,
    2.044_263_103_389_939_8e-15,
];

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn quantile_undoes_the_distribution_function() {
        for p in [1e-300, 1e-20, 1e-9, 1e-3, 0.07, 0.076, 0.3, 0.5, 0.8, 0.924, 0.93, 0.999] {
            let error = cumulative(quantile(p)) / p - 1.0;
            // erfc itself is good to a few 1e-16 relative near the centre; in
            // the far tail the condition number z^2 multiplies it.
            assert!(error.abs() < 3e-13, "p {p}: {error:e}");
        }
    }

    #[test]
    fn known_points() {
        // Abramowitz and Stegun, table 26.1 (from memory).
        assert!((quantile(0.975) - 1.959_963_984_540_054).abs() < 1e-14);
        assert!((cumulative(1.0) - 0.841_344_746_068_543).abs() < 1e-15);
        assert!((survival(6.0) / 9.865_876_450_376_946e-10 - 1.0).abs() < 1e-13);
    }

    #[test]
    fn outside_the_unit_interval_nothing_is_claimed() {
        assert!(quantile(-0.1).is_nan());
        assert!(quantile(1.1).is_nan());
        assert_eq!(quantile(0.0), f64::NEG_INFINITY);
    }
}
