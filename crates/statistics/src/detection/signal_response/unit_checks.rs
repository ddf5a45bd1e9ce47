//! What speaks for and against the line with effects of units.

use super::Signal;
use super::spread::Spread;
use super::unit_effects::{Fitted, LikelihoodRatio};
use super::unit_likelihood::Parameters;
use crate::assumptions::shapiro_wilk::shapiro_wilk;
use crate::note::Assumption;

/// Equal scatter, independent readings, normal units.
pub(super) fn assumptions(
    fitted: &Fitted,
    p: &Parameters,
    spread_test: Option<LikelihoodRatio>,
    unit_test: Option<LikelihoodRatio>,
) -> Vec<Assumption> {
    let constant = fitted.model.spread == Spread::Constant;
    let (name, test) = ("equal scatter at all sizes", "likelihood ratio of a spread with size");
    let mut list = vec![match spread_test {
        Some(LikelihoodRatio { ratio, p_value }) => Assumption {
            name,
            test,
            p_value: Some(p_value),
            held: Some(p_value >= 0.05),
            finding: format!(
                "Ratio {ratio:.3}, p = {p_value:.4}; the fit takes the scatter as {}.",
                if constant { "constant" } else { "changing, as asked" }
            ),
        },
        None => Assumption {
            name,
            test,
            p_value: None,
            held: None,
            finding: "Not checked: the other spread has no maximum of its likelihood.".into(),
        },
    }];
    if let Some(LikelihoodRatio { ratio, p_value }) = unit_test {
        list.push(Assumption {
            name: "readings of one unit independent",
            test: "likelihood ratio of unit effects, at the boundary",
            p_value: Some(p_value),
            held: Some(p_value >= 0.05),
            finding: format!(
                "Ratio {ratio:.3}, p = {p_value:.4}; the fit allows for units that differ."
            ),
        });
    }
    // Standardised means of the units, read signals only.
    let means: Vec<f64> = fitted
        .model
        .units
        .iter()
        .filter_map(|unit| {
            let rest: Vec<f64> = unit
                .rows
                .iter()
                .filter_map(|(x, s)| {
                    let mean = p.intercept + p.slope * x;
                    let h = fitted.model.spread.factor(p.exponent, *x, mean)?;
                    matches!(s, Signal::Read(_)).then(|| (s.value() - mean) / h)
                })
                .collect();
            let m = rest.len() as f64;
            let deviation = (p.between * p.between + p.within * p.within / m).sqrt();
            digits::sums::mean(&rest).map(|mean| mean / deviation)
        })
        .collect();
    let (name, test) = ("normal scatter of units", "Shapiro-Wilk of unit residuals");
    list.push(match shapiro_wilk(&means) {
        Ok(result) => Assumption {
            name,
            test,
            p_value: Some(result.p_value),
            held: Some(result.p_value >= 0.05),
            finding: format!("W = {:.4}, p = {:.4}.", result.w, result.p_value),
        },
        Err(reason) => Assumption {
            name,
            test,
            p_value: None,
            held: None,
            finding: format!("Not checked: {reason}."),
        },
    });
    list
}
