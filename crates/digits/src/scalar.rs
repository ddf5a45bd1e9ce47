//! Elementary functions computed in software, never by the platform.
//!
//! The platform's mathematics library may differ in the last digit between
//! systems; the portable crate `libm` does not. `clippy.toml` forbids the
//! methods of `f64` that would reach for the platform.

/// Exponential, `e^x`.
#[must_use]
pub fn exp(x: f64) -> f64 {
    libm::exp(x)
}

/// `e^x - 1`, exact for small `x`.
#[must_use]
pub fn exp_m1(x: f64) -> f64 {
    libm::expm1(x)
}

/// Natural logarithm.
#[must_use]
pub fn ln(x: f64) -> f64 {
    libm::log(x)
}

/// `ln(1 + x)`, exact for small `x`.
#[must_use]
pub fn ln_1p(x: f64) -> f64 {
    libm::log1p(x)
}

/// Decimal logarithm.
#[must_use]
pub fn log10(x: f64) -> f64 {
    libm::log10(x)
}

/// Binary logarithm.
#[must_use]
pub fn log2(x: f64) -> f64 {
    libm::log2(x)
}

/// `base` raised to a real power.
#[must_use]
pub fn pow(base: f64, exponent: f64) -> f64 {
    libm::pow(base, exponent)
}

/// `base` raised to an integer power, by repeated squaring in a fixed order.
///
/// `f64::powi` leaves the order of multiplication to the compiler.
#[must_use]
pub fn powi(base: f64, exponent: i32) -> f64 {
    let mut result = 1.0;
    let mut factor = base;
    let mut remaining = exponent.unsigned_abs();
    while remaining > 0 {
        if remaining & 1 == 1 {
            result *= factor;
        }
        factor *= factor;
        remaining >>= 1;
    }
    if exponent < 0 { 1.0 / result } else { result }
}

/// Sine, argument in radians.
#[must_use]
pub fn sin(x: f64) -> f64 {
    libm::sin(x)
}

/// Cosine, argument in radians.
#[must_use]
pub fn cos(x: f64) -> f64 {
    libm::cos(x)
}

/// Tangent, argument in radians.
#[must_use]
pub fn tan(x: f64) -> f64 {
    libm::tan(x)
}

/// Arc sine, in radians.
#[must_use]
pub fn asin(x: f64) -> f64 {
    libm::asin(x)
}

/// Arc tangent, in radians.
#[must_use]
pub fn atan(x: f64) -> f64 {
    libm::atan(x)
}

/// Hyperbolic tangent.
#[must_use]
pub fn tanh(x: f64) -> f64 {
    libm::tanh(x)
}

/// Error function.
#[must_use]
pub fn erf(x: f64) -> f64 {
    libm::erf(x)
}

/// Complementary error function, `1 - erf(x)` without cancellation.
#[must_use]
pub fn erfc(x: f64) -> f64 {
    libm::erfc(x)
}

/// Natural logarithm of the gamma function, for positive `x`.
#[must_use]
pub fn ln_gamma(x: f64) -> f64 {
    libm::lgamma(x)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn powi_follows_plain_multiplication() {
        assert_eq!(powi(3.0, 4), 81.0);
        assert_eq!(powi(2.0, -2), 0.25);
        assert_eq!(powi(7.0, 0), 1.0);
    }

    #[test]
    fn logarithm_undoes_the_exponential() {
        for x in [-5.0, -0.1, 0.0, 0.3, 12.0] {
            assert!((ln(exp(x)) - x).abs() < 1e-14 * (1.0 + x.abs()));
        }
    }
}
