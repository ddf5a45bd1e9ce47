//! Checks of one sample of readings: shape, outlier, order.

use statistics::Assumption;
use statistics::assumptions::anderson_darling::anderson_darling;
use statistics::assumptions::order::{mann_kendall, runs_about_median, von_neumann};
use statistics::assumptions::shapiro_wilk::shapiro_wilk;

/// One check with its probability value: nothing speaks against the assumption
/// where that is at least `least`.
pub fn one(
    name: &'static str,
    test: &'static str,
    least: f64,
    outcome: Result<(f64, String), statistics::CannotSay>,
) -> Assumption {
    match outcome {
        Ok((p_value, finding)) => Assumption {
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
    }
}

/// Normal distribution, by Shapiro and Wilk.
pub fn normal(name: &'static str, values: &[f64]) -> Assumption {
    let outcome = shapiro_wilk(values).map(|r| (r.p_value, format!("W = {:.4}", r.w)));
    one(name, "Shapiro-Wilk", 0.05, outcome)
}

/// Values independent of their neighbours, by von Neumann's ratio.
pub fn independent(name: &'static str, values: &[f64]) -> Assumption {
    let outcome =
        von_neumann(values).map(|r| (r.p_value, format!("ratio {:.3}, 2 expected", r.ratio)));
    one(name, "von Neumann ratio", 0.01, outcome)
}

/// No trend in the order of the values, by Mann and Kendall.
pub fn no_trend(name: &'static str, values: &[f64]) -> Assumption {
    let outcome = mann_kendall(values).map(|r| (r.p_value, format!("S = {}", r.s)));
    one(name, "Mann-Kendall", 0.01, outcome)
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
