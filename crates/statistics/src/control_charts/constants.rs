//! Constants of charts for normal samples, by integration.
//!
//! Definitions: `d2`, `d3` mean and standard deviation of the range of `n`
//! standard normal values; `c4` mean of their sample standard deviation. The
//! factors of charts follow from these (ASTM E2587, from memory).

use crate::cannot_say::CannotSay;
use crate::distributions::normal;
use crate::distributions::stirling::stirling_error;
use crate::quadrature::gauss_legendre;
use digits::scalar::{exp, ln, powi};

fn power(x: f64, n: usize) -> f64 {
    powi(x, i32::try_from(n).unwrap_or(i32::MAX))
}

fn check(n: usize) -> Result<(), CannotSay> {
    if (2..=100).contains(&n) {
        return Ok(());
    }
    Err(CannotSay::OutOfRange {
        what: "the sample size".into(),
        value: n as f64,
        allowed: "2 to 100 values".into(),
    })
}

/// Mean range of `n` standard normal values.
///
/// # Errors
/// A sample size outside 2 to 100.
pub fn d2(n: usize) -> Result<f64, CannotSay> {
    check(n)?;
    // An analytic integrand that dies on both sides: trapezoidal rule.
    let h = 0.05;
    Ok(h * (-240..=240)
        .map(|i| {
            let x = h * f64::from(i);
            1.0 - power(normal::survival(x), n) - power(normal::cumulative(x), n)
        })
        .sum::<f64>())
}

/// Standard deviation of the range of `n` standard normal values.
///
/// # Errors
/// A sample size outside 2 to 100.
pub fn d3(n: usize) -> Result<f64, CannotSay> {
    let mean = d2(n)?;
    let outer = gauss_legendre(160, -9.0, 9.0);
    let mut square = 0.0;
    for (y, wy) in &outer {
        let below = normal::cumulative(*y);
        for (x, wx) in gauss_legendre(48, -9.0, *y) {
            let joint = 1.0 - power(below, n) - power(normal::survival(x), n)
                + power(below - normal::cumulative(x), n);
            square += wy * wx * joint;
        }
    }
    Ok((2.0 * square - mean * mean).max(0.0).sqrt())
}

/// Mean of the sample standard deviation of `n` standard normal values,
/// `sqrt(2/(n-1)) Gamma(n/2)/Gamma((n-1)/2)`.
///
/// # Errors
/// Fewer than two values.
pub fn c4(n: usize) -> Result<f64, CannotSay> {
    if n < 2 {
        return Err(CannotSay::TooFew { what: "values".into(), needed: 2, got: n });
    }
    // Gamma(a + 1/2)/Gamma(a) at a = (n-1)/2, by Stirling's parts.
    let a = 0.5 * (n as f64 - 1.0);
    let b = a + 0.5;
    // ln Gamma(z) = stirling_error(z) + (z - 1/2) ln z - z + const.
    let difference =
        stirling_error(b) - stirling_error(a) + (b - 0.5) * ln(b) - b - ((a - 0.5) * ln(a) - a);
    Ok(exp(difference) / a.sqrt())
}

/// Chart factors of one sample size.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Factors {
    /// Mean chart from ranges.
    pub a2: f64,
    /// Mean chart from standard deviations.
    pub a3: f64,
    /// Lower factor of the range chart.
    pub d3_lower: f64,
    /// Upper factor of the range chart.
    pub d4: f64,
    /// Lower factor of the standard-deviation chart.
    pub b3: f64,
    /// Upper factor of the standard-deviation chart.
    pub b4: f64,
}

/// Factors of mean, range and standard-deviation charts with 3-sigma limits.
///
/// # Errors
/// A sample size outside 2 to 100.
pub fn factors(n: usize) -> Result<Factors, CannotSay> {
    let (d2, d3, c4) = (d2(n)?, d3(n)?, c4(n)?);
    let root = (n as f64).sqrt();
    let spread = (1.0 - c4 * c4).sqrt();
    Ok(Factors {
        a2: 3.0 / (d2 * root),
        a3: 3.0 / (c4 * root),
        d3_lower: (1.0 - 3.0 * d3 / d2).max(0.0),
        d4: 1.0 + 3.0 * d3 / d2,
        b3: (1.0 - 3.0 * spread / c4).max(0.0),
        b4: 1.0 + 3.0 * spread / c4,
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn two_values_by_hand() {
        // |Z1 - Z2|: mean 2/sqrt(pi), variance 2 - 4/pi; c4 = sqrt(2/pi).
        let pi = core::f64::consts::PI;
        assert!((d2(2).unwrap() - 2.0 / pi.sqrt()).abs() < 1e-14);
        assert!((d3(2).unwrap() - (2.0 - 4.0 / pi).sqrt()).abs() < 1e-11);
        assert!((c4(2).unwrap() - (2.0 / pi).sqrt()).abs() < 1e-14);
        assert!(d2(1).is_err() && c4(1).is_err());
    }
}
