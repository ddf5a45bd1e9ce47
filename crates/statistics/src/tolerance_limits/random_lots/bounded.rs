//! The limit when it is known how far lots differ at most.
//!
//! Three lots cannot tell how far lots differ. Earlier products of the same
//! kind often can. With the deviation between lots at most `R` times that
//! within, the limit needs no estimate from the few lots at hand and is two to
//! three times narrower.

use super::{LotLimit, Means, check_levels};
use crate::cannot_say::{self, CannotSay};
use crate::distributions::{f, noncentral_t, normal};
use crate::note::Note;

/// Upper limit for a future unit of a future lot, the deviation between lots
/// being at most `largest_ratio` times that within lots.
///
/// `limit = mean + k sqrt(W)` with
/// `k = v t'(confidence; f, z_P sqrt(1 + R^2)/v)`, `v^2 = R^2/k + 1/(k n)`, `f`
/// the degrees of freedom within lots and `n` the harmonic mean number. At a
/// true ratio of `R` the confidence is exact; below `R` it is higher. The
/// formula is the one-sided factor of ISO 16269-6 with the variance of the
/// mean of random lots in place of `1/n`.
///
/// # Errors
/// As [`super::upper_limit`]; a ratio that is negative or not finite; lots that
/// differ more than the ratio allows (refused at a probability of 0.05).
///
/// ```
/// use statistics::tolerance_limits::random_lots::upper_limit_with_known_ratio;
/// let lots = [vec![1.0, 2.0, 3.0], vec![2.0, 3.0, 4.0], vec![1.5, 2.5, 3.5]];
/// let limit = upper_limit_with_known_ratio(&lots, 1.0, 0.99, 0.95)?.limit;
/// assert!(limit > 5.0);
/// # Ok::<(), statistics::CannotSay>(())
/// ```
pub fn upper_limit_with_known_ratio(
    lots: &[Vec<f64>],
    largest_ratio: f64,
    content: f64,
    confidence: f64,
) -> Result<LotLimit, CannotSay> {
    check_levels(content, confidence)?;
    cannot_say::not_negative("the largest ratio of deviations", largest_ratio)?;
    let means = Means::of(lots)?;
    let design = means.design();
    let ratio = cannot_say::computed("the ratio of mean squares", means.between / means.within)?;
    let expected = 1.0 + design.per_lot * largest_ratio * largest_ratio;
    let contradicted = f::survival(ratio / expected, design.lots - 1.0, design.within_df);
    if contradicted < 0.05 {
        return Err(CannotSay::not_determined(
            format!(
                "the lots differ more than a ratio of {largest_ratio} allows (F {ratio:.2}, p \
                 {contradicted:.4})"
            ),
            "State a larger ratio, or use the limit that estimates it from the lots at hand.",
        ));
    }
    let factor = |lots: f64| {
        let variance = (largest_ratio * largest_ratio + 1.0 / design.per_lot) / lots;
        let df = lots * design.within_df / design.lots;
        let error = variance.sqrt();
        let shift = normal::quantile(content) * (1.0 + largest_ratio * largest_ratio).sqrt();
        let k = error * noncentral_t::quantile(confidence, df, shift / error);
        cannot_say::computed("the tolerance factor", k)
    };
    let unit = means.within.sqrt();
    let at = |lots: f64| cannot_say::computed("the limit", means.mean + unit * factor(lots)?);
    let mut with_more_lots = Vec::new();
    for more in 1..=3_usize {
        with_more_lots.push((lots.len() + more, at((lots.len() + more) as f64)?));
    }
    let notes = vec![Note::new(
        "ratio-assumed",
        format!(
            "The deviation between lots is taken as at most {largest_ratio} times that within; \
             the lots at hand do not contradict it (p {contradicted:.3}), nor could {} lots prove \
             it.",
            lots.len()
        ),
        "Name the earlier lots on which the ratio rests.",
    )];
    Ok(LotLimit {
        method: "random lots with a stated largest ratio of deviations, noncentral t",
        limit: at(lots.len() as f64)?,
        pooled_limit: means.pooled_limit(lots, content, confidence)?,
        mean: means.mean,
        between_variance: (means.between - means.within) / design.per_lot,
        within_variance: means.within,
        f: ratio,
        lots_differ_p_value: f::survival(ratio, design.lots - 1.0, design.within_df),
        lots: lots.len(),
        n: means.n,
        content,
        confidence,
        with_more_lots,
        notes,
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use digits::RandomStream;

    #[test]
    fn without_lot_effect_and_one_value_per_degree_it_is_the_plain_factor() {
        // R = 0: the mean of k n values has variance 1/(k n), so only the
        // degrees of freedom differ from the plain factor.
        let lots = [vec![1.0, 2.0, 4.0], vec![2.0, 3.0, 3.5], vec![0.5, 2.5, 3.5]];
        let result = upper_limit_with_known_ratio(&lots, 0.0, 0.95, 0.95).unwrap();
        let k = noncentral_t::quantile(0.95, 6.0, 3.0 * normal::quantile(0.95)) / 3.0;
        let expected = result.mean + k * result.within_variance.sqrt();
        assert!((result.limit - expected).abs() < 1e-12);
    }

    #[test]
    fn confidence_is_exact_at_the_stated_ratio_and_higher_below() {
        let runs = 4000_u32;
        for (true_ratio, low, high) in [(1.0_f64, 0.936, 0.964), (0.3, 0.97, 1.000_1)] {
            let truth = normal::quantile(0.99) * (1.0 + true_ratio * true_ratio).sqrt();
            let (mut covered, mut given) = (0_u32, 0_u32);
            for run in 0..runs {
                let mut stream = RandomStream::new(61, u64::from(run));
                let lots: Vec<Vec<f64>> = (0..3)
                    .map(|_| {
                        let shift = true_ratio * stream.normal();
                        (0..20).map(|_| shift + stream.normal()).collect()
                    })
                    .collect();
                if let Ok(limit) = upper_limit_with_known_ratio(&lots, 1.0, 0.99, 0.95) {
                    given += 1;
                    covered += u32::from(limit.limit >= truth);
                }
            }
            let share = f64::from(covered) / f64::from(given);
            assert!(share > low && share < high, "{true_ratio}: {share} of {given}");
        }
    }

    #[test]
    fn lots_that_differ_more_are_refused() {
        let lots = [vec![0.0, 1.0, 0.5], vec![50.0, 51.0, 50.5], vec![-40.0, -41.0, -40.5]];
        assert!(upper_limit_with_known_ratio(&lots, 1.0, 0.99, 0.95).is_err());
        assert!(upper_limit_with_known_ratio(&lots, f64::NAN, 0.99, 0.95).is_err());
    }
}
