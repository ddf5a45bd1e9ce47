//! Propagation of uncertainty through a model, first and second order.
//!
//! Source: JCGM 100:2008 (formulas from memory).

use super::correlation;
use crate::account::{Account, Counted};
use crate::cannot_say::{self, CannotSay};
use crate::distributions::student_t;
use crate::note::{Assumption, Note};

/// An input quantity.
#[derive(Debug, Clone, PartialEq)]
pub struct Input {
    /// Name, for the budget.
    pub name: String,
    /// Estimate.
    pub value: f64,
    /// Standard uncertainty.
    pub uncertainty: f64,
    /// Degrees of freedom; infinity for an uncertainty known exactly.
    pub degrees_of_freedom: f64,
}

/// Uncertainty budget.
#[derive(Debug, Clone, PartialEq)]
#[non_exhaustive]
pub struct Budget {
    /// Value of the model at the estimates.
    pub value: f64,
    /// Combined standard uncertainty, first order.
    pub uncertainty: f64,
    /// Effective degrees of freedom (Welch-Satterthwaite); infinity where every
    /// uncertainty that counts is known exactly.
    pub degrees_of_freedom: f64,
    /// Sensitivity of the model to each input.
    pub sensitivities: Vec<f64>,
    /// Contribution of each input to the variance, without correlations.
    pub contributions: Vec<f64>,
    /// Mean of the model to second order, for independent normal inputs.
    pub second_order_value: f64,
    /// Uncertainty to second order, for independent normal inputs.
    pub second_order_uncertainty: f64,
    /// Name of the method.
    pub method: &'static str,
    /// Remarks with next steps.
    pub notes: Vec<Note>,
}

impl Budget {
    fn second_order_holds(&self) -> bool {
        self.second_order_uncertainty <= 1.05 * self.uncertainty
            && (self.second_order_value - self.value).abs() <= 0.25 * self.uncertainty
    }
}

impl Account for Budget {
    fn method(&self) -> &str {
        self.method
    }

    fn counted(&self) -> Counted {
        Counted::effective(
            self.degrees_of_freedom,
            if self.degrees_of_freedom.is_finite() {
                "effective degrees of freedom"
            } else {
                "stated uncertainties, each taken as known exactly"
            },
        )
    }

    fn assumptions(&self) -> Vec<Assumption> {
        vec![
            Assumption::looked_at(
                "a model straight enough over the uncertainties",
                "second-order terms",
                self.second_order_holds(),
                format!(
                    "Uncertainty {:.4e} to first order, {:.4e} to second.",
                    self.uncertainty, self.second_order_uncertainty
                ),
            ),
            Assumption::unchecked(
                "estimates and uncertainties as stated",
                "source of each input",
                "they are inputs; name where each comes from",
            ),
        ]
    }

    fn notes(&self) -> Vec<Note> {
        self.notes.clone()
    }
}

/// Propagates uncertainties through `model`; `correlation` holds the
/// correlation coefficients of the inputs, row by row.
///
/// Sensitivities are fourth-order differences over one standard uncertainty,
/// so the model needs no derivatives. Where the second order changes the
/// result by more than 5 %, a note asks for the Monte Carlo method.
///
/// # Errors
/// No input, figures that are not finite, a correlation matrix of the wrong
/// shape, outside -1 to 1 or that no quantities can have, a model that is not finite near the estimates.
pub fn propagate(
    model: impl Fn(&[f64]) -> f64,
    inputs: &[Input],
    correlation: Option<&[Vec<f64>]>,
) -> Result<Budget, CannotSay> {
    cannot_say::at_least("inputs", 1, inputs.len())?;
    for input in inputs {
        cannot_say::finite(&format!("the value of {}", input.name), input.value)?;
        cannot_say::not_negative(&format!("the uncertainty of {}", input.name), input.uncertainty)?;
        if !(input.degrees_of_freedom > 0.0) {
            return Err(CannotSay::OutOfRange {
                what: format!("the degrees of freedom of {}", input.name),
                value: input.degrees_of_freedom,
                allowed: "a number above zero, or infinity".into(),
            });
        }
    }
    let n = inputs.len();
    if let Some(matrix) = correlation {
        // A matrix that no quantities can have would give a variance below zero.
        let names: Vec<&str> = inputs.iter().map(|input| input.name.as_str()).collect();
        correlation::shape(matrix, &names)?;
    }
    let centre: Vec<f64> = inputs.iter().map(|input| input.value).collect();
    let at = |moves: &[(usize, f64)]| {
        let mut place = centre.clone();
        for (j, by) in moves {
            place[*j] += by * inputs[*j].uncertainty;
        }
        model(&place)
    };
    let value = cannot_say::computed("the model", at(&[]))?;
    let mut slopes = Vec::with_capacity(n);
    let mut bends = vec![vec![0.0; n]; n];
    let mut thirds = vec![vec![0.0; n]; n];
    for i in 0..n {
        if inputs[i].uncertainty == 0.0 {
            slopes.push(0.0);
            continue;
        }
        // Differences in units of the uncertainty.
        let (p, m) = (at(&[(i, 0.5)]), at(&[(i, -0.5)]));
        let (pp, mm) = (at(&[(i, 1.0)]), at(&[(i, -1.0)]));
        slopes.push(cannot_say::computed("a sensitivity", (8.0 * (p - m) - (pp - mm)) / 6.0)?);
        bends[i][i] = pp - 2.0 * value + mm;
        thirds[i][i] = 4.0 * ((pp - mm) - 2.0 * (p - m));
        for j in 0..n {
            if j == i || inputs[j].uncertainty == 0.0 {
                continue;
            }
            let corner = |a: f64, b: f64| at(&[(i, a), (j, b)]);
            let (a, b, c, d) =
                (corner(1.0, 1.0), corner(1.0, -1.0), corner(-1.0, 1.0), corner(-1.0, -1.0));
            bends[i][j] = 0.25 * (a - b - c + d);
            // d^3 f / (dx_i dx_j^2).
            thirds[i][j] = 0.5 * ((a - 2.0 * pp + b) - (c - 2.0 * mm + d));
        }
    }
    let mut variance = 0.0;
    for i in 0..n {
        for j in 0..n {
            let r = match correlation {
                Some(matrix) => matrix[i][j],
                None => f64::from(u8::from(i == j)),
            };
            variance += slopes[i] * slopes[j] * r;
        }
    }
    let variance = cannot_say::computed("the variance", variance)?.max(0.0);
    let mut welch = 0.0;
    for (slope, input) in slopes.iter().zip(inputs) {
        let part = slope * slope / variance;
        if variance > 0.0 && input.degrees_of_freedom.is_finite() {
            welch += part * part / input.degrees_of_freedom;
        }
    }
    let shift: f64 = (0..n).map(|i| 0.5 * bends[i][i]).sum();
    let mut second = variance;
    for i in 0..n {
        for j in 0..n {
            second += 0.5 * bends[i][j] * bends[i][j] + slopes[i] * thirds[i][j];
        }
    }
    let second_uncertainty = second.max(0.0).sqrt();
    let uncertainty = variance.sqrt();
    let mut notes = Vec::new();
    let bent = (second_uncertainty - uncertainty).abs() > 0.05 * second_uncertainty
        || shift.abs() > 0.1 * second_uncertainty;
    if correlation.is_none() && bent {
        notes.push(Note::new(
            "first-order-fails",
            format!(
                "To second order the uncertainty is {second_uncertainty:.6e} and not \
                 {uncertainty:.6e}, and the mean moves by {shift:.6e}."
            ),
            "Use the Monte Carlo method.",
        ));
    }
    if correlation.is_some() && inputs.iter().any(|i| i.degrees_of_freedom.is_finite()) {
        notes.push(Note::new(
            "degrees-of-freedom-with-correlation",
            "The effective degrees of freedom are derived for independent inputs.",
            "Quote the expanded uncertainty with that reservation.",
        ));
    }
    let sensitivities = slopes
        .iter()
        .zip(inputs)
        .map(|(s, input)| if input.uncertainty > 0.0 { s / input.uncertainty } else { 0.0 })
        .collect();
    Ok(Budget {
        value,
        uncertainty,
        degrees_of_freedom: if welch > 0.0 { 1.0 / welch } else { f64::INFINITY },
        sensitivities,
        contributions: slopes.iter().map(|s| s * s).collect(),
        second_order_value: value + shift,
        second_order_uncertainty: second_uncertainty,
        method: "propagation of uncertainty, first order (JCGM 100)",
        notes,
    })
}

impl Budget {
    /// Expanded uncertainty at a coverage, with Student's t at the effective
    /// degrees of freedom, cut to a whole number as the guide does.
    ///
    /// # Errors
    /// A coverage outside 0 to 1.
    pub fn expanded(&self, coverage: f64) -> Result<f64, CannotSay> {
        cannot_say::open_probability("the coverage", coverage)?;
        let df = if self.degrees_of_freedom.is_finite() {
            self.degrees_of_freedom.floor().max(1.0)
        } else {
            f64::INFINITY
        };
        Ok(student_t::quantile(0.5 + 0.5 * coverage, df) * self.uncertainty)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn input(value: f64, uncertainty: f64) -> Input {
        Input { name: "x".into(), value, uncertainty, degrees_of_freedom: f64::INFINITY }
    }

    #[test]
    fn a_product_by_hand() {
        let budget = propagate(|x| x[0] * x[1], &[input(3.0, 0.1), input(4.0, 0.2)], None).unwrap();
        assert!((budget.sensitivities[0] - 4.0).abs() < 1e-12);
        assert!((budget.uncertainty - 0.52_f64.sqrt()).abs() < 1e-12);
        // Second order of a product: + u1^2 u2^2.
        let exact = (0.52_f64 + 0.0004).sqrt();
        assert!((budget.second_order_uncertainty - exact).abs() < 1e-12);
    }

    #[test]
    fn a_square_at_zero_is_refused_to_first_order() {
        let budget = propagate(|x| x[0] * x[0], &[input(0.0, 0.1)], None).unwrap();
        assert!(budget.uncertainty < 1e-12);
        assert!(budget.notes.iter().any(|note| note.code == "first-order-fails"));
        assert!(propagate(|x| 1.0 / x[0], &[input(0.0, 0.1)], None).is_err());
        assert!(propagate(|x| x[0], &[], None).is_err());
    }
}
