//! What other ways of setting a limit would have cost: the rule of thumb "mean
//! plus three standard deviations" beside the tolerance limit, and the checks
//! of the assumptions behind it.

use statistics::Assumption;
use statistics::assumptions::order::{mann_kendall, runs_about_median};
use statistics::assumptions::shapiro_wilk::shapiro_wilk;
use statistics::tolerance_limits::two_errors::simple_rule;

use crate::results::RejectLimit;
use crate::runs::{Run, RunClass};

/// The limit "mean + 3 s" from the same units, and its price.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ThreeSigmaCost {
    /// Mean + 3 s, Pa.
    pub limit_pa: f64,
    /// Share of good units above such a limit, averaged over repetitions of
    /// the study.
    pub mean_false_rejects: f64,
    /// Share that is not exceeded with the confidence of the purpose.
    pub bound_false_rejects: f64,
    /// Share that a known mean and standard deviation would give.
    pub believed_false_rejects: f64,
}

/// Cost of "mean + 3 s" on the units of a limit; `None` below two units.
#[must_use]
pub fn three_sigma_cost(limit: &RejectLimit) -> Option<ThreeSigmaCost> {
    let rule = simple_rule(limit.n, 3.0, limit.confidence).ok()?;
    Some(ThreeSigmaCost {
        limit_pa: limit.mean_pa + 3.0 * limit.standard_deviation_pa,
        mean_false_rejects: rule.mean_false_rejection,
        bound_false_rejects: rule.bound_false_rejection,
        believed_false_rejects: rule.believed_false_rejection,
    })
}

/// Checks of the negative controls behind a limit, in the order of the runs:
/// shape, runs to one side, trend.
#[must_use]
pub fn limit_assumptions(runs: &[Run]) -> Vec<Assumption> {
    let rises: Vec<f64> = runs
        .iter()
        .filter(|run| run.class == RunClass::NegativeControl)
        .filter_map(|run| Some(run.measured()?.rise_pa))
        .collect();
    let check = |name, test, least: f64, outcome: Result<(f64, String), String>| match outcome {
        Ok((p_value, finding)) => {
            Assumption { name, test, p_value: Some(p_value), held: Some(p_value >= least), finding }
        }
        Err(reason) => Assumption {
            name,
            test,
            p_value: None,
            held: None,
            finding: format!("not checked: {reason}"),
        },
    };
    let text = |error: statistics::CannotSay| error.to_string();
    vec![
        check(
            "normal distribution",
            "Shapiro-Wilk",
            0.05,
            shapiro_wilk(&rises).map(|r| (r.p_value, format!("W = {:.4}", r.w))).map_err(text),
        ),
        check(
            "no runs to one side",
            "runs about the median",
            0.01,
            runs_about_median(&rises)
                .map(|r| (r.p_value, format!("{} runs, {:.1} expected", r.runs, r.expected)))
                .map_err(text),
        ),
        check(
            "no trend",
            "Mann-Kendall",
            0.01,
            mann_kendall(&rises).map(|r| (r.p_value, format!("S = {}", r.s))).map_err(text),
        ),
    ]
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Average false rejects of mean + 3 s: 0.94 % from 10 units, 0.17 % from
    /// 135 (hand calculation, upper tail of Student's t at 3/sqrt(1 + 1/n)).
    #[test]
    fn three_sigma_costs_more_than_believed() {
        let limit = |n| RejectLimit {
            limit_pa: 0.0,
            method: String::new(),
            n,
            mean_pa: 50.0,
            standard_deviation_pa: 2.0,
            factor: 0.0,
            content: 0.99,
            confidence: 0.95,
            by_day: Vec::new(),
            by_lot: Vec::new(),
        };
        for (n, percent) in [(10, 0.94), (135, 0.17)] {
            let cost = three_sigma_cost(&limit(n)).expect("units enough");
            assert!((cost.mean_false_rejects * 100.0 - percent).abs() < 0.01, "{n}");
            assert_eq!(cost.limit_pa, 56.0);
            assert!(cost.believed_false_rejects < cost.mean_false_rejects);
        }
        assert!(three_sigma_cost(&limit(1)).is_none());
    }
}
