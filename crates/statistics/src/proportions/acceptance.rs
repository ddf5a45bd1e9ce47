//! Acceptance by attributes: what a plan lets through.

use crate::cannot_say::{self, CannotSay};
use crate::distributions::binomial;
use digits::scalar::{exp, ln_gamma};

/// Probability that a lot of a process with share `p` of bad units passes a
/// plan of `n` units and `c` allowed.
///
/// # Errors
/// No unit; `p` outside 0 to 1.
pub fn acceptance_probability(n: u64, c: u64, p: f64) -> Result<f64, CannotSay> {
    cannot_say::at_least("units", 1, usize::try_from(n).unwrap_or(usize::MAX))?;
    if !(0.0..=1.0).contains(&p) {
        return Err(CannotSay::OutOfRange {
            what: "the share of bad units".into(),
            value: p,
            allowed: "a number from 0 to 1".into(),
        });
    }
    Ok(binomial::cumulative(c, n, p))
}

/// Probability that a finite lot of `lot` units with `bad` bad ones passes a
/// plan of `n` units and `c` allowed (hypergeometric).
///
/// # Errors
/// More bad or sampled units than the lot holds.
pub fn finite_acceptance_probability(lot: u64, bad: u64, n: u64, c: u64) -> Result<f64, CannotSay> {
    for (what, value) in [("bad units", bad), ("units in the sample", n)] {
        if value > lot {
            return Err(CannotSay::OutOfRange {
                what: format!("the number of {what}"),
                value: value as f64,
                allowed: format!("a whole number from 0 to {lot}"),
            });
        }
    }
    let ln_choose = |n: u64, k: u64| {
        ln_gamma(n as f64 + 1.0) - ln_gamma(k as f64 + 1.0) - ln_gamma((n - k) as f64 + 1.0)
    };
    let least = n.saturating_sub(lot - bad);
    let most = c.min(bad).min(n);
    if least > most {
        return Ok(0.0);
    }
    // The first term by logarithms, the rest by their ratio: the sum keeps
    // the accuracy of the first term.
    let start = ln_choose(bad, least) + ln_choose(lot - bad, n - least) - ln_choose(lot, n);
    let mut term = exp(start);
    let mut total = term;
    for k in least..most {
        let (k, n, lot, bad) = (k as f64, n as f64, lot as f64, bad as f64);
        term *= (bad - k) * (n - k) / ((k + 1.0) * (lot - bad - n + k + 1.0));
        total += term;
    }
    Ok(total.min(1.0))
}

/// Largest average share of bad units that leaves a plan with full inspection
/// of rejected lots (average outgoing quality limit), and the incoming share
/// at which it occurs.
///
/// # Errors
/// No unit, or a lot smaller than the sample.
pub fn outgoing_quality_limit(lot: u64, n: u64, c: u64) -> Result<(f64, f64), CannotSay> {
    cannot_say::at_least("units", 1, usize::try_from(n).unwrap_or(usize::MAX))?;
    cannot_say::at_least(
        "units in the lot",
        usize::try_from(n).unwrap_or(usize::MAX),
        usize::try_from(lot).unwrap_or(usize::MAX),
    )?;
    if c >= n {
        return Ok((1.0, 1.0));
    }
    let share = (lot - n) as f64 / lot as f64;
    let quality = |p: f64| p * binomial::cumulative(c, n, p) * share;
    // One maximum between 0 and 1: golden section.
    let golden = 0.618_033_988_749_894_9;
    let (mut low, mut high) = (0.0, 1.0);
    for _ in 0..90 {
        let a = high - golden * (high - low);
        let b = low + golden * (high - low);
        if quality(a) > quality(b) {
            high = b;
        } else {
            low = a;
        }
    }
    let at = 0.5 * (low + high);
    Ok((quality(at), at))
}

/// Share of bad units that a plan accepts with the given probability.
///
/// # Errors
/// No unit, all units allowed bad, a probability outside 0 to 1.
pub fn quality_at_acceptance(n: u64, c: u64, probability: f64) -> Result<f64, CannotSay> {
    cannot_say::open_probability("the acceptance probability", probability)?;
    cannot_say::at_least(
        "units beyond the number allowed",
        1,
        usize::try_from(n.saturating_sub(c)).unwrap_or(usize::MAX),
    )?;
    // P(X <= c) = 1 - I_p(c + 1, n - c).
    Ok(crate::distributions::beta::upper_quantile(probability, c as f64 + 1.0, (n - c) as f64))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_tiny_lot_by_hand() {
        // 5 units, 2 bad, sample of 2, none allowed: 3/5 * 2/4.
        let p = finite_acceptance_probability(5, 2, 2, 0).unwrap();
        assert!((p - 0.3).abs() < 1e-14);
        let p = finite_acceptance_probability(5, 2, 2, 1).unwrap();
        assert!((p - 0.9).abs() < 1e-14);
        assert!(finite_acceptance_probability(5, 6, 2, 1).is_err());
    }

    #[test]
    fn quality_undoes_acceptance() {
        let p = quality_at_acceptance(52, 3, 0.1).unwrap();
        assert!((acceptance_probability(52, 3, p).unwrap() - 0.1).abs() < 1e-12);
    }
}
