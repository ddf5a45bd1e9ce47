//! Differences of two sides.

use super::{Case, normal, summary, within};
use statistics::comparison::{bland_altman, equivalence_paired, equivalence_two_groups};
use statistics::summaries::GroupSummary;

pub(super) fn cases() -> Vec<Case> {
    vec![
        Case::new("mean difference, 20 pairs", |stream| {
            let (first, second) = (normal(stream, 20, 0.5, 1.0), normal(stream, 20, 0.0, 1.0));
            within(bland_altman(&first, &second, 1.96, 0.95).unwrap().bias_interval, 0.5)
        }),
        Case::new("upper limit of agreement, 40 pairs", |stream| {
            let (first, second) = (normal(stream, 40, 0.5, 1.0), normal(stream, 40, 0.0, 1.0));
            let found = bland_altman(&first, &second, 1.96, 0.95).unwrap();
            let half = found.limit_half_width;
            let truth = 0.5 + 1.96 * 2.0_f64.sqrt();
            within((found.limits.1 - half, found.limits.1 + half), truth)
        }),
        // Two one-sided tests at 0.025 carry the two-sided interval of 0.95.
        Case::new("difference of 20 pairs, equivalence", |stream| {
            let (first, second) = (normal(stream, 20, 0.5, 1.0), normal(stream, 20, 0.0, 1.0));
            within(equivalence_paired(&first, &second, 2.0, 0.025).unwrap().interval, 0.5)
        }),
        Case::new("difference of groups of 8 and 20, equivalence", |stream| {
            let mut group = |n, mean, sd| {
                let (mean, standard_deviation) = summary(stream, n, mean, sd);
                GroupSummary { label: String::new(), mean, standard_deviation, n }
            };
            let (first, second) = (group(8, 0.5, 2.0), group(20, 0.0, 1.0));
            within(equivalence_two_groups(&first, &second, 2.0, 0.025).unwrap().interval, 0.5)
        }),
    ]
}
