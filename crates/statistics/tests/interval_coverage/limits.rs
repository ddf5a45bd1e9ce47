//! Limits on a share of a population, and capability.

use super::{Case, normal, summary};
use digits::scalar::{exp, powi};
use statistics::control_charts::capability::capability;
use statistics::distributions::normal as law;
use statistics::tolerance_limits::{
    nonparametric, random_lots::upper_limit_with_known_ratio, transformed::lognormal_upper_limit,
    two_sided_normal_factor, upper_limit_from_summary,
};

/// Quantile 0.99 of the standard normal (Abramowitz and Stegun, table 26.5).
const Z99: f64 = 2.326_347_874_040_841;

pub(super) fn cases() -> Vec<Case> {
    let factor = two_sided_normal_factor(15, 0.9, 0.95).unwrap();
    vec![
        Case::new("upper tolerance limit, 12 values, 99 %", |stream| {
            let (mean, sd) = summary(stream, 12, 0.0, 1.0);
            Some(upper_limit_from_summary(mean, sd, 12, 0.99, 0.95).unwrap().limit >= Z99)
        }),
        Case::new("two-sided tolerance interval, 15 values, 90 %", move |stream| {
            let (mean, sd) = summary(stream, 15, 0.0, 1.0);
            let share = law::cumulative(mean + factor * sd) - law::cumulative(mean - factor * sd);
            Some(share >= 0.9)
        }),
        Case::new("upper tolerance limit of logarithms, 20 values, 99 %", |stream| {
            let values: Vec<f64> = (0..20).map(|_| exp(1.0 + 0.5 * stream.normal())).collect();
            let limit = lognormal_upper_limit(&values, 0.99, 0.95).unwrap().limit;
            Some(limit >= exp(1.0 + 0.5 * Z99))
        }),
        Case::new("future lot at the known ratio 1, 3 lots of 10, 99 %", |stream| {
            let lots: Vec<Vec<f64>> = (0..3)
                .map(|_| {
                    let lot = stream.normal();
                    normal(stream, 10, lot, 1.0)
                })
                .collect();
            // Lots that contradict the ratio are refused.
            let limit = upper_limit_with_known_ratio(&lots, 1.0, 0.99, 0.95).ok()?.limit;
            Some(limit >= Z99 * 2.0_f64.sqrt())
        }),
        Case::new("cp, 30 values", |stream| {
            let (mean, sd) = summary(stream, 30, 0.0, 1.0);
            let found = capability(mean, sd, 30, Some(-4.0), Some(4.0), 0.95).unwrap();
            super::within(found.cp_interval.unwrap(), 4.0 / 3.0)
        }),
        Case::new("cpk, one limit, lower bound, 30 values", |stream| {
            let (mean, sd) = summary(stream, 30, 0.0, 1.0);
            let found = capability(mean, sd, 30, None, Some(4.0), 0.95).unwrap();
            Some(found.cpk_lower <= 4.0 / 3.0)
        }),
        // The smaller of two sides: each bound holds, so both do and more.
        Case::promising("cpk, two limits, centred, lower bound, 30 values", (0.945, 0.99), |s| {
            let (mean, sd) = summary(s, 30, 0.0, 1.0);
            let found = capability(mean, sd, 30, Some(-4.0), Some(4.0), 0.95).unwrap();
            Some(found.cpk_lower <= 4.0 / 3.0)
        }),
        Case::promising("nonparametric upper limit, 59 values, 95 %", (0.95, 0.953), |stream| {
            let values = normal(stream, 59, 0.0, 1.0);
            let limit = nonparametric::upper_limit(&values, 0.95, 0.95).unwrap().limit;
            // Exactly 1 - 0.95^59 = 0.9515.
            assert!((1.0 - powi(0.95, 59) - 0.9515).abs() < 1e-4);
            Some(limit >= 1.644_853_626_951_472)
        }),
    ]
}
