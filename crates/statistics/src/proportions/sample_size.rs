//! How many units a demonstration needs.

use crate::cannot_say::{self, CannotSay};
use crate::tolerance_limits::nonparametric;

/// Number of trials that must all succeed to claim a reliability.
///
/// Smallest `n` with `reliability^n <= 1 - confidence`: 29, 59, 299 for 0.90,
/// 0.95, 0.99 at 95 %.
///
/// # Errors
/// A reliability or confidence outside 0 to 1.
pub fn success_run_sample_size(reliability: f64, confidence: f64) -> Result<u64, CannotSay> {
    cannot_say::open_probability("reliability", reliability)?;
    cannot_say::open_probability("confidence", confidence)?;
    Ok(nonparametric::nonparametric_sample_size(reliability, confidence) as u64)
}

/// Number of trials with at most `failures` failures that claim a
/// reliability: smallest `n` with `P(X <= failures) <= 1 - confidence`.
///
/// # Errors
/// A reliability or confidence outside 0 to 1.
pub fn demonstration_sample_size(
    reliability: f64,
    confidence: f64,
    failures: u64,
) -> Result<u64, CannotSay> {
    nonparametric::sample_size_for_rank(failures.saturating_add(1), reliability, confidence)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn no_failure_is_the_success_run() {
        for reliability in [0.5, 0.9, 0.95, 0.99, 0.999] {
            assert_eq!(
                success_run_sample_size(reliability, 0.95).unwrap(),
                demonstration_sample_size(reliability, 0.95, 0).unwrap()
            );
        }
        assert!(success_run_sample_size(1.0, 0.95).is_err());
    }
}
