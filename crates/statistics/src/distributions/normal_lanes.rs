//! Normal density and upper tail of eight values at once.

use digits::lanes::{Eight, Lanes};

/// Upper tail over density (Mills's ratio) times `z + 4`, as a polynomial in
/// `8/(z + 4) - 1`, for `z >= 0`. Computed for this project by a Chebyshev fit
/// in 60-digit arithmetic (mpmath); relative error below 1e-14.
const MILLS: [f64; 21] = [
    1.893_219_063_308_485_3,
    1.523_770_910_819_922_7,
    0.970_409_554_867_685_5,
    0.467_540_963_002_792_35,
    0.151_391_762_305_279_1,
    0.018_900_450_765_570_3,
    -0.008_722_295_118_503_845,
    -0.004_087_854_733_337_078,
    0.000_334_243_058_422_582_44,
    0.000_579_264_183_815_862_3,
    -4.774_661_206_324_006_5e-6,
    -8.807_917_131_724_51e-5,
    1.767_658_292_116_638_3e-6,
    1.480_992_912_603_755_7e-5,
    -1.518_031_561_424_34e-6,
    -2.526_827_677_017_435_8e-6,
    6.006_856_884_534_752e-7,
    3.689_264_757_223_286_6e-7,
    -1.474_941_487_263_164_5e-7,
    -3.226_437_427_198_402_3e-8,
    1.805_257_150_946_933_2e-8,
];
/// `ln(sqrt(2 pi))`.
const LN_SQRT_2PI: f64 = 0.918_938_533_204_672_8;

/// Density and probability above each of eight values.
#[inline(always)]
pub(crate) fn density_and_survival(z: Eight) -> (Eight, Eight) {
    let density = (z * z * Eight::splat(-0.5) - Eight::splat(LN_SQRT_2PI)).exp();
    let shifted = z.abs() + Eight::splat(4.0);
    let inverse = Eight::splat(1.0) / shifted;
    let y = inverse * Eight::splat(8.0) - Eight::splat(1.0);
    let mut ratio = Eight::splat(MILLS[20]);
    for coefficient in MILLS[..20].iter().rev() {
        ratio = ratio * y + Eight::splat(*coefficient);
    }
    let tail = density * ratio * inverse;
    let zero = Eight::splat(0.0);
    (density, Eight::select(zero.at_most(z), tail, Eight::splat(1.0) - tail))
}

#[cfg(test)]
mod tests {
    use super::*;
    use digits::normal;

    #[test]
    fn agrees_with_the_single_functions() {
        for block in -60..60 {
            let z = Eight::from_array(core::array::from_fn(|i| {
                f64::from(block) * 0.6 + 0.075 * i as f64
            }));
            let (density, survival) = density_and_survival(z);
            for i in 0..8 {
                let (d, s) = (normal::density(z.lane(i)), normal::survival(z.lane(i)));
                assert!((density.lane(i) / d - 1.0).abs() < 1e-12, "{}", z.lane(i));
                // The single function itself loses digits as z squared grows.
                let allowed = 2e-14 + 3e-16 * z.lane(i) * z.lane(i);
                assert!((survival.lane(i) / s - 1.0).abs() < allowed, "{}", z.lane(i));
            }
        }
    }
}
