//! What speaks for and against the line with effects of units.

use super::Signal;
use super::spread::Spread;
use super::unit_effects::{Fitted, LikelihoodRatio};
use super::unit_likelihood::Parameters;
use crate::assumptions;
use crate::distributions::student_t;
use crate::note::Assumption;
use crate::regression::polynomial;

/// Equal scatter, independent readings, normal units, a straight line.
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
    // Standardised means of the units, read signals only, with their size.
    let (sizes, means): (Vec<f64>, Vec<f64>) = fitted
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
            Some((unit.rows.first()?.0, digits::sums::mean(&rest)? / deviation))
        })
        .unzip();
    list.push(straight(&sizes, &means, fitted.model.units.len()));
    list.push(assumptions::normal("normal scatter of units", &means));
    list
}

/// Quadratic term of the standardised unit means. Where more than a tenth of
/// the units were not read, what was censored bends the rest by itself.
fn straight(sizes: &[f64], means: &[f64], units: usize) -> Assumption {
    let (name, test) = ("straight over the sizes tested", "quadratic term of the unit means");
    if 10 * (units - means.len()) > units {
        return Assumption::unchecked(
            name,
            test,
            "too many units were not read, and those left out bend the rest",
        );
    }
    let fit = match polynomial(sizes, means, 2) {
        Ok(fit) if fit.standard_errors[2] > 0.0 && fit.degrees_of_freedom >= 3.0 => fit,
        Ok(_) => return Assumption::unchecked(name, test, "too few units"),
        Err(reason) => return Assumption::refused(name, test, &reason),
    };
    let t = fit.coefficients[2] / fit.standard_errors[2];
    let p = 2.0 * student_t::survival(t.abs(), fit.degrees_of_freedom);
    let bend = if fit.coefficients[2] < 0.0 { "flattens" } else { "steepens" };
    let finding = if p < 0.05 {
        format!("The line {bend} towards large sizes, p = {p:.4}.")
    } else {
        format!("No bend shown, p = {p:.4}.")
    };
    Assumption::tested(name, test, p, 0.05, finding)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Invented units on a curve, and on a line.
    fn judged(bend: f64) -> Assumption {
        let x: Vec<f64> = (0..12).map(|i| f64::from(i) / 5.5 - 1.0).collect();
        let y: Vec<f64> =
            x.iter().zip(0..).map(|(x, i)| bend * x * x + 0.3 * f64::from((i * 7) % 5)).collect();
        straight(&x, &y, 12)
    }

    #[test]
    fn a_bend_is_seen_and_a_line_is_not_called_bent() {
        assert_eq!(judged(0.0).held, Some(true));
        let bent = judged(-3.0);
        assert_eq!(bent.held, Some(false));
        assert!(bent.finding.contains("flattens"), "{}", bent.finding);
        assert_eq!(straight(&[0.0, 1.0], &[0.0, 1.0], 12).held, None);
        assert_eq!(straight(&[0.0; 12], &[1.0; 12], 12).held, None);
    }
}
