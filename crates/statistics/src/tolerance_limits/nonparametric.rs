//! Limits without any assumption on the distribution: order statistics.
//!
//! Source: S. S. Wilks, Ann. Math. Statist. 12 (1941) 91; ISO 16269-6:2014.

use super::one_sided::UpperLimit;
use crate::cannot_say::{self, CannotSay};
use crate::distributions::binomial;
use crate::note::Note;
use digits::scalar::{ln, ln_1p};
use digits::sums;

/// Number of values whose largest is an upper tolerance limit without any
/// assumption on the distribution.
///
/// Smallest `n` with `content^n <= 1 - confidence`. Source: S. S. Wilks, Ann.
/// Math. Statist. 12 (1941) 91; ISO 16269-6:2014. Returns `usize::MAX` where
/// no number is enough or an argument is not a probability.
///
/// ```
/// assert_eq!(statistics::tolerance_limits::nonparametric_sample_size(0.95, 0.95), 59);
/// ```
#[must_use]
pub fn nonparametric_sample_size(content: f64, confidence: f64) -> usize {
    if !((0.0..1.0).contains(&content) && (0.0..1.0).contains(&confidence)) {
        return usize::MAX;
    }
    if content == 0.0 {
        return 1;
    }
    let needed = ln_1p(-confidence) / ln(content);
    // Rounding must not turn an exact whole number into the next one.
    let nearest = (needed + 0.5).floor();
    let n = if (needed - nearest).abs() < 1e-9 { nearest } else { needed.ceil() };
    n.max(1.0) as usize
}

/// Smallest number of values whose `rank`-th largest is an upper limit.
///
/// Smallest `n` with `P(X <= rank - 1) <= 1 - confidence` for `X` binomial
/// with probability `1 - content`.
///
/// # Errors
/// A rank of zero; `content` or `confidence` outside 0 to 1.
pub fn sample_size_for_rank(rank: u64, content: f64, confidence: f64) -> Result<u64, CannotSay> {
    cannot_say::open_probability("content", content)?;
    cannot_say::open_probability("confidence", confidence)?;
    cannot_say::at_least("the rank", 1, usize::try_from(rank).unwrap_or(usize::MAX))?;
    smallest(rank, |n| binomial::cumulative(rank - 1, n, 1.0 - content) <= 1.0 - confidence)
}

/// Smallest number of values whose smallest and largest hold the content
/// between them.
///
/// # Errors
/// `content` or `confidence` outside 0 to 1.
pub fn two_sided_sample_size(content: f64, confidence: f64) -> Result<u64, CannotSay> {
    cannot_say::open_probability("content", content)?;
    cannot_say::open_probability("confidence", confidence)?;
    // At most one value outside in n: the same binomial with rank two.
    smallest(2, |n| binomial::cumulative(1, n, 1.0 - content) <= 1.0 - confidence)
}

/// Smallest `n` from `least` on that satisfies a condition that stays true.
fn smallest(least: u64, holds: impl Fn(u64) -> bool) -> Result<u64, CannotSay> {
    let mut high = least;
    while !holds(high) {
        if high > 1 << 50 {
            return Err(CannotSay::Overflow { what: "the sample size".into() });
        }
        high *= 2;
    }
    let mut low = least;
    while low < high {
        let middle = low + (high - low) / 2;
        if holds(middle) {
            high = middle;
        } else {
            low = middle + 1;
        }
    }
    Ok(low)
}

/// Upper limit without an assumption on the distribution: the lowest order
/// statistic that still holds the content with the confidence.
///
/// # Errors
/// Too few values for the content, values that are not finite, `content` or
/// `confidence` outside 0 to 1.
pub fn upper_limit(values: &[f64], content: f64, confidence: f64) -> Result<UpperLimit, CannotSay> {
    cannot_say::all_in_range("values", values)?;
    let needed = sample_size_for_rank(1, content, confidence)?;
    let n = values.len() as u64;
    if n < needed {
        return Err(CannotSay::not_determined(
            format!(
                "{n} values cannot show without an assumption that {content} of the population \
                 lies below any of them: {needed} are needed"
            ),
            format!("Take {needed} values, or justify a distribution."),
        ));
    }
    let mut rank = 1;
    while rank < n && binomial::cumulative(rank, n, 1.0 - content) <= 1.0 - confidence {
        rank += 1;
    }
    let mut sorted = values.to_vec();
    sorted.sort_by(|a, b| b.total_cmp(a));
    let limit = sorted[rank as usize - 1];
    let reached = binomial::survival(rank - 1, n, 1.0 - content);
    let mean = sums::mean(values).unwrap_or(limit);
    let deviation = cannot_say::computed(
        "the standard deviation",
        sums::standard_deviation(values).unwrap_or(0.0),
    )?;
    let factor = if deviation > 0.0 { (limit - mean) / deviation } else { 0.0 };
    let mut notes = vec![Note::new(
        "order-statistic",
        format!(
            "The limit is the value of rank {rank} from the top; its confidence is {reached:.4}, at \
             least the {confidence} asked for."
        ),
        "Use a normal limit if its assumptions hold; it is sharper.",
    )];
    if sorted[0] == sorted[n as usize - 1] {
        notes.push(Note::new(
            "no-spread",
            "All values are equal.",
            "Check whether they were capped or rounded.",
        ));
    }
    cannot_say::computed("the mean", mean)?;
    Ok(UpperLimit {
        method: format!("nonparametric tolerance limit, rank {rank} of {n} from the top"),
        n: values.len(),
        mean,
        standard_deviation: deviation,
        factor: if factor.is_finite() { factor } else { 0.0 },
        limit,
        content,
        confidence,
        assumptions: vec![crate::assumptions::independent(
            "independent in order of measurement",
            values,
        )],
        notes,
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn sizes_by_hand() {
        // 0.5^n <= 0.5 needs one value.
        assert_eq!(nonparametric_sample_size(0.5, 0.5), 1);
        assert_eq!(nonparametric_sample_size(0.5, 0.75), 2);
        assert_eq!(nonparametric_sample_size(1.0, 0.5), usize::MAX);
    }

    #[test]
    fn the_largest_of_fifty_nine() {
        let values: Vec<f64> = (0..59).map(f64::from).collect();
        assert_eq!(upper_limit(&values, 0.95, 0.95).unwrap().limit, 58.0);
        assert!(upper_limit(&values[..58], 0.95, 0.95).is_err());
        let values: Vec<f64> = (0..93).map(f64::from).collect();
        assert_eq!(upper_limit(&values, 0.95, 0.95).unwrap().limit, 91.0);
    }
}
