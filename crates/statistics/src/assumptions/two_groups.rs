//! Whether few values stand in two groups rather than one.

use digits::sums;

/// The clearest split of some values in two.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct TwoGroups {
    /// Values in the lower group.
    pub(crate) n_lower: usize,
    /// Largest value of the lower group.
    pub(crate) lower_end: f64,
    /// Smallest value of the upper group.
    pub(crate) upper_start: f64,
}

/// Share of the squares between the groups that one in five samples of one
/// normal population exceeds, for 5 to 19 values (simulated, 12 000 samples
/// each; a test simulates some anew).
const ONE_IN_FIVE: [f64; 15] = [
    0.902, 0.870, 0.849, 0.831, 0.816, 0.804, 0.794, 0.784, 0.775, 0.771, 0.765, 0.757, 0.755,
    0.748, 0.745,
];
/// Fewest values that are looked at: with more than the table has, tests of
/// normality have power.
const FEWEST: usize = 5;

/// The split that leaves the least squares within the groups, where it is
/// clearer than in four of five samples of one normal population.
///
/// The statistic is the largest of `B/T` over all splits of the sorted values,
/// `B` the sum of squares between the groups and `T` the whole (the test of
/// L. Engelman and J. A. Hartigan, J. Am. Stat. Assoc. 64 (1969) 1647, from
/// memory); its distribution does not depend on mean and spread. `None` for
/// fewer than 5 or more than 19 values, values without spread, and what is no
/// number.
pub(crate) fn two_groups(values: &[f64]) -> Option<TwoGroups> {
    let limit = *ONE_IN_FIVE.get(values.len().checked_sub(FEWEST)?)?;
    if values.iter().any(|value| !value.is_finite()) {
        return None;
    }
    let mut sorted = values.to_vec();
    sorted.sort_by(f64::total_cmp);
    let (n_lower, share) = clearest(&sorted)?;
    (share > limit).then(|| TwoGroups {
        n_lower,
        lower_end: sorted[n_lower - 1],
        upper_start: sorted[n_lower],
    })
}

/// Size of the lower group of the clearest split of sorted values, and the
/// share of the squares between the groups.
fn clearest(sorted: &[f64]) -> Option<(usize, f64)> {
    let n = sorted.len();
    let mean = sums::mean(sorted)?;
    let total = sums::sum(sorted.iter().map(|value| (value - mean) * (value - mean)));
    if !(total > 0.0) || !total.is_finite() {
        return None;
    }
    let mut lower = 0.0;
    let mut best = (1, 0.0);
    for (place, value) in sorted.iter().take(n - 1).enumerate() {
        // Sum of the lower group about the mean; that of the upper is its negative.
        lower += value - mean;
        let (below, above) = ((place + 1) as f64, (n - place - 1) as f64);
        let share = lower * lower * (1.0 / below + 1.0 / above) / total;
        if share > best.1 {
            best = (place + 1, share);
        }
    }
    Some(best)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_split_by_hand() {
        // Means 1 and 5 about 3: B = 4 * 2^2 = 16; within, 4 * 0.5^2 = 1.
        let (n, share) = clearest(&[0.5, 1.5, 4.5, 5.5]).unwrap();
        assert_eq!(n, 2);
        assert!((share - 16.0 / 17.0).abs() < 1e-12);
        assert_eq!(clearest(&[2.0; 6]), None);
    }

    #[test]
    fn far_groups_are_found() {
        let found = two_groups(&[9.0, 1.0, 9.1, 1.1, 1.2, 9.2]).unwrap();
        assert_eq!((found.n_lower, found.lower_end, found.upper_start), (3, 1.2, 9.0));
    }

    #[test]
    fn normal_values_part_as_seldom_as_it_says() {
        let mut stream = digits::RandomStream::new(3, 1);
        for n in [5, 6, 10, 19] {
            let n_clear = (0..2000)
                .filter(|_| {
                    let values: Vec<f64> = (0..n).map(|_| 5.0 + 2.0 * stream.normal()).collect();
                    two_groups(&values).is_some()
                })
                .count();
            // A fifth, within four standard errors.
            assert!((328..=472).contains(&n_clear), "{n_clear} of 2000 with {n} values");
        }
    }

    #[test]
    fn what_cannot_be_split_is_not() {
        assert_eq!(two_groups(&[1.0, 2.0, 3.0, 4.0]), None);
        assert_eq!(two_groups(&[1.0; 9]), None);
        assert_eq!(two_groups(&[1.0, 2.0, f64::NAN, 4.0, 5.0]), None);
        assert_eq!(two_groups(&[]), None);
    }
}
