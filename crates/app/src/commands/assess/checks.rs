//! Checks of one sample of readings: shape, outlier, order.

use statistics::Assumption;
use statistics::assumptions::anderson_darling::anderson_darling;
use statistics::assumptions::order::{mann_kendall, runs_about_median};

/// Adds the checks that a tolerance limit does not make by itself: a second
/// test of shape, runs about the median, trend.
pub fn further(values: &[f64], assumptions: &mut Vec<Assumption>) {
    let mut add = |name, test, outcome: Result<(f64, f64, String), String>| {
        assumptions.push(match outcome {
            Ok((p_value, least, finding)) => Assumption {
                name,
                test,
                p_value: Some(p_value),
                held: Some(p_value >= least),
                finding: format!("{finding}, p = {p_value:.4}."),
            },
            Err(reason) => Assumption {
                name,
                test,
                p_value: None,
                held: None,
                finding: format!("Not checked: {reason}."),
            },
        });
    };
    add(
        "normal distribution, tails",
        "Anderson-Darling",
        anderson_darling(values)
            .map(|r| (r.p_value, 0.05, format!("A² = {:.4}", r.a_squared)))
            .map_err(|reason| reason.to_string()),
    );
    add(
        "no runs to one side",
        "runs about the median",
        runs_about_median(values)
            .map(|r| (r.p_value, 0.01, format!("{} runs, {:.1} expected", r.runs, r.expected)))
            .map_err(|reason| reason.to_string()),
    );
    add(
        "no trend",
        "Mann-Kendall",
        mann_kendall(values)
            .map(|r| (r.p_value, 0.01, format!("S = {}", r.s)))
            .map_err(|reason| reason.to_string()),
    );
}
