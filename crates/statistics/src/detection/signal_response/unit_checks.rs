//! What speaks for and against the line with effects of units.

use super::Signal;
use super::censored_line::censored_line;
use super::spread::Spread;
use super::unit_effects::{Fitted, LikelihoodRatio};
use super::unit_likelihood::{Parameters, Unit};
use crate::assumptions;
use crate::distributions::chi_squared;
use crate::note::Assumption;
use digits::scalar::powi;

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
    list.push(straight(&fitted.model.units));
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

/// What one unit says: the mean of its readings, or its first censored one.
fn one_of(unit: &Unit) -> Option<(f64, Signal)> {
    let (x, first) = *unit.rows.first()?;
    let censored = unit.rows.iter().map(|row| row.1).find(|s| !matches!(s, Signal::Read(_)));
    let values: Vec<f64> = unit.rows.iter().map(|row| row.1.value()).collect();
    let mean = Signal::Read(digits::sums::mean(&values).unwrap_or(first.value()));
    Some((x, censored.unwrap_or(mean)))
}

/// Quadratic term of the units, one signal for each, censored ones as such.
fn straight(units: &[Unit]) -> Assumption {
    let (name, test) = (
        "straight over the sizes tested",
        "likelihood ratio of a quadratic term, one signal a unit",
    );
    let (x, signals): (Vec<f64>, Vec<Signal>) = units.iter().filter_map(one_of).unzip();
    let fit = |degree: i32| {
        let columns: Vec<Vec<f64>> =
            x.iter().map(|x| (0..=degree).map(|power| powi(*x, power)).collect()).collect();
        censored_line(&columns, &signals, None)
    };
    let (line, bent) = match (fit(1), fit(2)) {
        (Ok(line), Ok(bent)) => (line, bent),
        (Err(reason), _) | (_, Err(reason)) => return Assumption::refused(name, test, &reason),
    };
    let ratio = (2.0 * (bent.log_likelihood - line.log_likelihood)).max(0.0);
    let p = chi_squared::survival(ratio, 1.0);
    let way = if bent.coefficients[2] < 0.0 { "flattens" } else { "steepens" };
    let finding = if p < 0.05 {
        format!("The line {way} towards large sizes: ratio {ratio:.3}, p = {p:.4}.")
    } else {
        format!("No bend shown: ratio {ratio:.3}, p = {p:.4}.")
    };
    Assumption::tested(name, test, p, 0.05, finding)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Invented units on a curve, the lowest ones below a floor.
    fn judged(bend: f64, floor: f64) -> Assumption {
        let units: Vec<Unit> = (0..16)
            .map(|i| {
                let x = f64::from(i) / 7.5 - 1.0;
                let y = 2.0 * x + bend * x * x + 0.2 * f64::from((i * 7) % 5);
                let signal = if y < floor { Signal::Below(floor) } else { Signal::Read(y) };
                Unit { rows: vec![(x, signal), (x, signal)] }
            })
            .collect();
        straight(&units)
    }

    #[test]
    fn a_bend_is_seen_and_a_line_is_not_called_bent() {
        for floor in [-9.0, -1.0] {
            assert_eq!(judged(0.0, floor).held, Some(true), "{floor}");
            let bent = judged(-2.0, floor);
            assert_eq!(bent.held, Some(false), "{floor}: {}", bent.finding);
            assert!(bent.finding.contains("flattens"), "{}", bent.finding);
        }
        // Two sizes carry no bend.
        let two: Vec<Unit> = (0..8)
            .map(|i| Unit { rows: vec![(f64::from(i % 2), Signal::Read(f64::from(i)))] })
            .collect();
        assert_eq!(straight(&two).held, None);
    }
}
