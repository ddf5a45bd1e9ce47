//! Power: how many units a comparison needs.

use crate::cannot_say::{self, CannotSay};
use crate::distributions::{noncentral_t, student_t};

/// Power of the two-sided t test of `n` values (or pairs) for a true
/// difference.
///
/// # Errors
/// Fewer than two values, a standard deviation that is not positive, a
/// difference that is not finite, `alpha` outside 0 to 1.
pub fn one_sample_power(
    n: usize,
    difference: f64,
    standard_deviation: f64,
    alpha: f64,
) -> Result<f64, CannotSay> {
    check(n, difference, standard_deviation, alpha)?;
    let df = n as f64 - 1.0;
    let delta = difference.abs() / standard_deviation * (n as f64).sqrt();
    let t = -student_t::quantile(0.5 * alpha, df);
    Ok((noncentral_t::survival(t, df, delta) + noncentral_t::cumulative(-t, df, delta)).min(1.0))
}

fn check(n: usize, difference: f64, deviation: f64, alpha: f64) -> Result<(), CannotSay> {
    cannot_say::at_least("values", 2, n)?;
    cannot_say::finite("the difference", difference)?;
    cannot_say::positive("the standard deviation", deviation)?;
    cannot_say::open_probability("alpha", alpha)
}

/// Power of two one-sided tests of `n` pairs to show equivalence within a
/// margin, for a true difference.
///
/// `P(T_low > t) + P(T_high < -t) - 1` by noncentral t, exact but for the
/// dependence of the two through the common deviation, which it leaves out; it
/// is on the low side, and never negative.
///
/// # Errors
/// As [`one_sample_power`]; a margin that is not positive; `alpha` above 1/2.
pub fn equivalence_power(
    n: usize,
    difference: f64,
    margin: f64,
    standard_deviation: f64,
    alpha: f64,
) -> Result<f64, CannotSay> {
    check(n, difference, standard_deviation, alpha)?;
    cannot_say::positive("the margin", margin)?;
    let df = n as f64 - 1.0;
    let scale = (n as f64).sqrt() / standard_deviation;
    let t = -student_t::quantile(alpha, df);
    let low = noncentral_t::survival(t, df, (difference + margin) * scale);
    let high = noncentral_t::cumulative(-t, df, (difference - margin) * scale);
    Ok((low + high - 1.0).max(0.0))
}

/// Smallest number of pairs that shows equivalence with the power wanted.
///
/// # Errors
/// As [`equivalence_power`]; a difference beyond the margin; more than 100 000
/// pairs needed.
pub fn equivalence_sample_size(
    difference: f64,
    margin: f64,
    standard_deviation: f64,
    alpha: f64,
    power: f64,
) -> Result<usize, CannotSay> {
    cannot_say::open_probability("power", power)?;
    if difference.abs() >= margin {
        return Err(CannotSay::not_determined(
            "the true difference lies at or beyond the margin",
            "No number of units shows equivalence then.",
        ));
    }
    let enough = |n: usize| -> Result<bool, CannotSay> {
        Ok(equivalence_power(n, difference, margin, standard_deviation, alpha)? >= power)
    };
    let mut high = 2;
    while !enough(high)? {
        high *= 2;
        if high > 100_000 {
            return Err(CannotSay::not_determined(
                "more than 100000 pairs would be needed",
                "Reduce the scatter or reconsider the margin.",
            ));
        }
    }
    let mut low = high / 2;
    while low + 1 < high {
        let middle = low + (high - low) / 2;
        if enough(middle)? {
            high = middle;
        } else {
            low = middle;
        }
    }
    Ok(high)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn no_difference_has_the_power_of_alpha() {
        assert!((one_sample_power(12, 0.0, 1.0, 0.05).unwrap() - 0.05).abs() < 1e-12);
        // Cohen's tables (from memory): n 34 pairs, effect 0.5, power 0.8.
        assert!((one_sample_power(34, 0.5, 1.0, 0.05).unwrap() - 0.808).abs() < 2e-3);
    }

    #[test]
    fn size_undoes_power() {
        let n = equivalence_sample_size(0.1, 1.0, 1.0, 0.05, 0.9).unwrap();
        assert!(equivalence_power(n, 0.1, 1.0, 1.0, 0.05).unwrap() >= 0.9);
        assert!(equivalence_power(n - 1, 0.1, 1.0, 1.0, 0.05).unwrap() < 0.9);
        assert!(equivalence_sample_size(1.0, 1.0, 1.0, 0.05, 0.9).is_err());
    }
}
