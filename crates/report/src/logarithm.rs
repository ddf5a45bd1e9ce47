//! Decadic logarithm for placing marks on a log axis.
//!
//! Drawing needs a logarithm that gives the same digits on every machine.
//! Results never pass through here: this is ink, not arithmetic of the study.

/// Decadic logarithm of a positive finite number; `None` outside.
///
/// The number is split into `m · 2ᵏ` with `m` near 1, and
/// `ln m = 2 artanh((m − 1)/(m + 1))` is summed as a series, with plain
/// arithmetic only. Relative error below 1e-14.
#[must_use]
pub fn log10(value: f64) -> Option<f64> {
    if !(value.is_finite() && value > 0.0) {
        return None;
    }
    let mut mantissa = value;
    let mut exponent = 0_i32;
    if mantissa < f64::MIN_POSITIVE {
        mantissa *= TWO_TO_54;
        exponent -= 54;
    }
    let bits = mantissa.to_bits();
    exponent += i32::try_from((bits >> 52) & 0x7ff).unwrap_or(0) - 1023;
    mantissa = f64::from_bits((bits & 0x000f_ffff_ffff_ffff) | (1023 << 52));
    if mantissa > core::f64::consts::SQRT_2 {
        mantissa *= 0.5;
        exponent += 1;
    }
    let ratio = (mantissa - 1.0) / (mantissa + 1.0);
    let square = ratio * ratio;
    let mut series = 0.0;
    // |ratio| <= 0.1716, so that the 12th term is below 1e-18.
    for order in (0..12_u32).rev() {
        series = series * square + 1.0 / f64::from(2 * order + 1);
    }
    let ln_mantissa = 2.0 * ratio * series;
    Some(
        f64::from(exponent) * core::f64::consts::LOG10_2 + ln_mantissa * core::f64::consts::LOG10_E,
    )
}

const TWO_TO_54: f64 = 18_014_398_509_481_984.0;

/// A whole power of ten, correctly rounded; zero or infinite outside the range
/// of the number type.
#[must_use]
pub fn ten_to(exponent: i32) -> f64 {
    format!("1e{exponent}").parse().unwrap_or(f64::NAN)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn powers_of_ten_and_their_logarithms() {
        for exponent in -300..300 {
            let logarithm = log10(ten_to(exponent)).expect("positive");
            assert!(
                (logarithm - f64::from(exponent)).abs() < 1e-12 * f64::from(exponent.abs().max(1))
            );
        }
    }

    #[test]
    fn published_values() {
        // Common logarithms of whole numbers as in any handbook table (from
        // memory): log10 3 and log10 5.
        assert!((log10(3.0).expect("positive") - 0.477_121_254_719_662_4).abs() < 1e-15);
        assert!((log10(5.0).expect("positive") - 0.698_970_004_336_018_8).abs() < 1e-15);
    }

    #[test]
    fn undefined_is_none_and_the_smallest_number_is_defined() {
        assert_eq!(log10(0.0), None);
        assert_eq!(log10(-1.0), None);
        assert_eq!(log10(f64::NAN), None);
        assert_eq!(log10(f64::INFINITY), None);
        assert!((log10(5e-324).expect("positive") + 323.306_215_343_115_8).abs() < 1e-9);
    }
}
