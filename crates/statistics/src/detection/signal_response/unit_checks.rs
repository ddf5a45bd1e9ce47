//! What speaks for and against the line with effects of units.

use super::Signal;
use super::spread::Spread;
use super::unit_effects::{Fitted, LikelihoodRatio};
use super::unit_likelihood::Parameters;
use crate::assumptions;
use crate::note::Assumption;

/// Equal scatter, independent readings, normal units.
pub(super) fn checks(
    fitted: &Fitted,
    p: &Parameters,
    spread_test: Option<LikelihoodRatio>,
    unit_test: Option<LikelihoodRatio>,
) -> Vec<Assumption> {
    let constant = fitted.model.spread == Spread::Constant;
    let (name, test) = ("equal scatter at all sizes", "likelihood ratio of a spread with size");
    let mut list = vec![match spread_test {
        Some(LikelihoodRatio { ratio, p_value }) => Assumption::tested(
            name,
            test,
            p_value,
            0.05,
            format!(
                "Ratio {ratio:.3}, p = {p_value:.4}; the fit takes the scatter as {}.",
                if constant { "constant" } else { "changing, as asked" }
            ),
        ),
        None => Assumption::unchecked(name, test, "the other spread has no likelihood maximum"),
    }];
    if let Some(LikelihoodRatio { ratio, p_value }) = unit_test {
        list.push(Assumption::tested(
            "readings of one unit independent",
            "likelihood ratio of unit effects, at the boundary",
            p_value,
            0.05,
            format!("Ratio {ratio:.3}, p = {p_value:.4}; the fit allows for units that differ."),
        ));
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
    list.push(assumptions::normal("normal scatter of units", &means));
    list
}
