//! Checks of one sample of readings: shape, outlier, order.

use statistics::Assumption;
use statistics::assumptions::anderson_darling::anderson_darling;
use statistics::assumptions::order::runs_about_median;
pub use statistics::assumptions::{independent, no_trend, normal};

/// One check with its probability value: nothing speaks against the assumption
/// where that is at least `least`.
pub fn one(
    name: &'static str,
    test: &'static str,
    least: f64,
    outcome: Result<(f64, String), statistics::CannotSay>,
) -> Assumption {
    match outcome {
        Ok((p_value, finding)) => {
            let finding = format!("{finding}, p = {p_value:.4}.");
            Assumption::tested(name, test, p_value, least, finding)
        }
        Err(reason) => Assumption::refused(name, test, &reason),
    }
}

/// Adds the checks that a tolerance limit does not make by itself: a second
/// test of shape, runs about the median, trend.
pub fn further(values: &[f64], assumptions: &mut Vec<Assumption>) {
    assumptions.extend([
        one(
            "normal distribution, tails",
            "Anderson-Darling",
            0.05,
            anderson_darling(values).map(|r| (r.p_value, format!("A² = {:.4}", r.a_squared))),
        ),
        one(
            "no runs to one side",
            "runs about the median",
            0.01,
            runs_about_median(values)
                .map(|r| (r.p_value, format!("{} runs, {:.1} expected", r.runs, r.expected))),
        ),
        no_trend("no trend", values),
    ]);
}
