//! Confidence intervals of sums of mean squares.

use crate::cannot_say::{self, CannotSay};
use crate::distributions::{chi_squared, f};

/// A mean square with its coefficient in the sum and its degrees of freedom.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Term {
    /// Coefficient, not negative.
    pub coefficient: f64,
    /// Mean square.
    pub mean_square: f64,
    /// Degrees of freedom.
    pub degrees_of_freedom: f64,
}

fn check(terms: &[Term], confidence: f64) -> Result<f64, CannotSay> {
    cannot_say::open_probability("confidence", confidence)?;
    cannot_say::at_least("mean squares", 1, terms.len())?;
    let mut total = 0.0;
    for term in terms {
        cannot_say::not_negative("a coefficient", term.coefficient)?;
        cannot_say::not_negative("a mean square", term.mean_square)?;
        cannot_say::positive("the degrees of freedom", term.degrees_of_freedom)?;
        total += term.coefficient * term.mean_square;
    }
    if total == 0.0 {
        return Err(CannotSay::NoSpread { what: "the values".into() });
    }
    cannot_say::computed("the sum of mean squares", total)
}

/// Degrees of freedom after Satterthwaite.
///
/// # Errors
/// No term, negative coefficients or mean squares, all mean squares zero.
pub fn satterthwaite_df(terms: &[Term]) -> Result<f64, CannotSay> {
    let total = check(terms, 0.5)?;
    let squares: f64 = terms
        .iter()
        .map(|t| {
            let share = t.coefficient * t.mean_square / total;
            share * share / t.degrees_of_freedom
        })
        .sum();
    Ok(1.0 / squares)
}

/// Interval after Satterthwaite: narrow with few groups (real confidence 0.86
/// for a nominal 0.95 with three).
///
/// # Errors
/// As [`satterthwaite_df`]; a confidence outside 0 to 1.
pub fn satterthwaite(terms: &[Term], confidence: f64) -> Result<(f64, f64), CannotSay> {
    let total = check(terms, confidence)?;
    let df = satterthwaite_df(terms)?;
    let half = 0.5 * (1.0 - confidence);
    let end = |quantile: f64| cannot_say::computed("a limit", df * total / quantile);
    Ok((end(chi_squared::upper_quantile(half, df))?, end(chi_squared::quantile(half, df))?))
}

/// Modified-large-sample interval of a sum of mean squares with positive
/// coefficients, which holds its confidence with few groups.
///
/// `T - sqrt(sum (G c M)^2)` to `T + sqrt(sum (H c M)^2)` with
/// `G = 1 - f/chi2(upper)` and `H = f/chi2(lower) - 1`. Source: F. A. Graybill
/// and C.-M. Wang, J. Am. Stat. Assoc. 75 (1980) 869; R. K. Burdick and F. A.
/// Graybill (1992) (from memory).
///
/// # Errors
/// As [`satterthwaite`].
pub fn modified_large_sample(terms: &[Term], confidence: f64) -> Result<(f64, f64), CannotSay> {
    let total = check(terms, confidence)?;
    let half = 0.5 * (1.0 - confidence);
    let (mut below, mut above) = (0.0, 0.0);
    for t in terms {
        let part = t.coefficient * t.mean_square;
        let f = t.degrees_of_freedom;
        let g = (1.0 - f / chi_squared::upper_quantile(half, f)) * part;
        let h = (f / chi_squared::quantile(half, f) - 1.0) * part;
        below += g * g;
        above += h * h;
    }
    let upper = cannot_say::computed("the upper limit", total + above.sqrt())?;
    let lower = cannot_say::computed("the lower limit", total - below.sqrt())?;
    Ok((lower.max(0.0), upper))
}

/// Modified-large-sample interval of a difference of two mean squares, such as
/// a component of variance; its lower limit may be negative.
///
/// `L = D - sqrt((G1 a)^2 + (H2 b)^2 + G12 a b)` for `D = a - b`, the upper
/// limit alike, the mixed terms set so that the limit is exact where `b` is
/// nothing and where the true difference is zero. Source: N. Ting, R. K.
/// Burdick, F. A. Graybill, S. Jeyaratnam and T.-F. C. Lu, J. Stat. Comput.
/// Simul. 35 (1990) 135 (from memory).
///
/// # Errors
/// As [`satterthwaite`].
pub fn modified_large_sample_difference(
    first: Term,
    second: Term,
    confidence: f64,
) -> Result<(f64, f64), CannotSay> {
    check(&[first, second], confidence)?;
    let half = 0.5 * (1.0 - confidence);
    let (a, b) = (first.coefficient * first.mean_square, second.coefficient * second.mean_square);
    let (m, n) = (first.degrees_of_freedom, second.degrees_of_freedom);
    // Upper and lower points of F with infinite degrees below are chi-squared.
    let high = |df: f64| chi_squared::upper_quantile(half, df) / df;
    let low = |df: f64| chi_squared::quantile(half, df) / df;
    // Beyond ten million degrees the points of F no longer move.
    let (p, q) = (m.min(1e7), n.min(1e7));
    let (f_high, f_low) = (f::upper_quantile(half, p, q), f::quantile(half, p, q));
    let (g1, h2) = (1.0 - 1.0 / high(m), 1.0 / low(n) - 1.0);
    let (h1, g2) = (1.0 / low(m) - 1.0, 1.0 - 1.0 / high(n));
    let square = |v: f64| v * v;
    let g12 = (square(f_high - 1.0) - square(g1 * f_high) - square(h2)) / f_high;
    let h12 = (square(1.0 - f_low) - square(h1 * f_low) - square(g2)) / f_low;
    let below = square(g1 * a) + square(h2 * b) + g12 * a * b;
    let above = square(h1 * a) + square(g2 * b) + h12 * a * b;
    let lower = cannot_say::computed("the lower limit", a - b - below.max(0.0).sqrt())?;
    let upper = cannot_say::computed("the upper limit", a - b + above.max(0.0).sqrt())?;
    Ok((lower, upper))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn one_term_is_the_chi_squared_interval() {
        let term = Term { coefficient: 1.0, mean_square: 2.0, degrees_of_freedom: 9.0 };
        let exact =
            (18.0 / chi_squared::quantile(0.975, 9.0), 18.0 / chi_squared::quantile(0.025, 9.0));
        for interval in
            [modified_large_sample(&[term], 0.95).unwrap(), satterthwaite(&[term], 0.95).unwrap()]
        {
            assert!((interval.0 - exact.0).abs() < 1e-12 && (interval.1 - exact.1).abs() < 1e-11);
        }
        assert!(satterthwaite(&[], 0.95).is_err());
    }

    #[test]
    fn a_difference_is_exact_where_it_must_be() {
        let term = |mean_square, df| Term { coefficient: 1.0, mean_square, degrees_of_freedom: df };
        // A second mean square of nothing leaves the chi-squared interval.
        let (low, high) =
            modified_large_sample_difference(term(2.0, 9.0), term(0.0, 20.0), 0.95).unwrap();
        assert!((low - 18.0 / chi_squared::quantile(0.975, 9.0)).abs() < 1e-11);
        assert!((high - 18.0 / chi_squared::quantile(0.025, 9.0)).abs() < 1e-10);
        // A ratio at the upper point of F has zero for its lower limit.
        let ratio = f::upper_quantile(0.025, 9.0, 20.0);
        let (low, _) =
            modified_large_sample_difference(term(ratio, 9.0), term(1.0, 20.0), 0.95).unwrap();
        assert!(low.abs() < 1e-10);
        let ratio = f::quantile(0.025, 9.0, 20.0);
        let (_, high) =
            modified_large_sample_difference(term(ratio, 9.0), term(1.0, 20.0), 0.95).unwrap();
        assert!(high.abs() < 1e-10);
    }

    /// Long simulation behind `docs/coverage.md`; prints its table.
    #[test]
    #[ignore = "simulation of a minute"]
    fn coverage_of_the_total_variance() {
        for (k, n) in [(3.0, 10.0), (6.0, 5.0), (10.0, 3.0)] {
            for icc in [0.1, 0.5, 0.9] {
                let (mut mls, mut satt) = (0_u32, 0_u32);
                let runs = 100_000;
                for run in 0..runs {
                    let mut stream = digits::RandomStream::new(31, run);
                    let mut mean_square = |expected: f64, df: f64| {
                        expected * chi_squared::quantile(stream.uniform(), df) / df
                    };
                    let terms = [
                        Term {
                            coefficient: 1.0 / n,
                            mean_square: mean_square(n * icc + 1.0 - icc, k - 1.0),
                            degrees_of_freedom: k - 1.0,
                        },
                        Term {
                            coefficient: 1.0 - 1.0 / n,
                            mean_square: mean_square(1.0 - icc, k * (n - 1.0)),
                            degrees_of_freedom: k * (n - 1.0),
                        },
                    ];
                    let holds = |(low, high): (f64, f64)| u32::from(low <= 1.0 && high >= 1.0);
                    mls += holds(modified_large_sample(&terms, 0.95).unwrap());
                    satt += holds(satterthwaite(&terms, 0.95).unwrap());
                }
                println!(
                    "{k} x {n} icc {icc}: modified large sample {:.4}, Satterthwaite {:.4}",
                    f64::from(mls) / runs as f64,
                    f64::from(satt) / runs as f64
                );
            }
        }
    }
}
