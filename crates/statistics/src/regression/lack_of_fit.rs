//! Whether a curve fits: scatter around the curve against scatter of repeats.

use super::least_squares::polynomial;
use crate::account::{Account, Counted};
use crate::assumptions::about_cells::equal_scatter;
use crate::cannot_say::{self, CannotSay};
use crate::distributions::f;
use crate::note::{Assumption, Note};
use digits::sums;

/// Test of lack of fit.
#[derive(Debug, Clone, Copy, PartialEq)]
#[non_exhaustive]
pub struct LackOfFit {
    /// Mean square of lack of fit over that of repeats.
    pub f: f64,
    /// Degrees of freedom of lack of fit.
    pub numerator_df: f64,
    /// Degrees of freedom of the repeats.
    pub denominator_df: f64,
    /// Probability of so large a ratio if the curve fits.
    pub p_value: f64,
    /// Bartlett's probability that the repeats scatter alike at every place;
    /// `None` where fewer than two places have repeats that differ.
    pub equal_scatter_p_value: Option<f64>,
    /// Number of values.
    pub n: usize,
    /// Name of the method.
    pub method: &'static str,
}

impl Account for LackOfFit {
    fn method(&self) -> &str {
        self.method
    }

    fn counted(&self) -> Counted {
        Counted::effective(
            self.denominator_df,
            format!("degrees of freedom of repeats ({} values)", self.n),
        )
    }

    fn assumptions(&self) -> Vec<Assumption> {
        vec![
            Assumption::unchecked(
                "repeats independent, set up anew each time",
                "from the plan",
                "readings repeated without a new set-up make the pure error too small",
            ),
            match self.equal_scatter_p_value {
                Some(p) => Assumption::tested(
                    "equal scatter at every place",
                    "Bartlett, repeats by place",
                    p,
                    0.05,
                    format!("p = {p:.4}."),
                ),
                None => Assumption::unchecked(
                    "equal scatter at every place",
                    "Bartlett, repeats by place",
                    "fewer than two places have repeats, or some of them are equal",
                ),
            },
        ]
    }

    fn notes(&self) -> Vec<Note> {
        let mut notes = Vec::new();
        if self.p_value < 0.05 {
            notes.push(Note::new(
                "lack-of-fit",
                format!("The curve does not fit: F {:.3}, p {:.4}.", self.f, self.p_value),
                "Narrow the range or add a term; do not use the line between its points.",
            ));
        }
        if self.denominator_df < 5.0 {
            notes.push(Note::new(
                "little-power",
                format!(
                    "{} degrees of freedom of repeats show only a gross misfit.",
                    self.denominator_df
                ),
                "Add repeats.",
            ));
        }
        notes
    }
}

/// Lack of fit of a polynomial of the given degree.
///
/// `F = [(SS_residual - SS_repeats)/(m - p)] / [SS_repeats/(N - m)]` for `m`
/// levels and `p` coefficients. A coefficient of determination says nothing of
/// this.
///
/// # Errors
/// No repeats, no more levels than coefficients, repeats without scatter.
pub fn lack_of_fit(x: &[f64], y: &[f64], degree: usize) -> Result<LackOfFit, CannotSay> {
    if x.len() != y.len() {
        return Err(CannotSay::LengthsDiffer {
            left: "x values".into(),
            left_count: x.len(),
            right: "y values".into(),
            right_count: y.len(),
        });
    }
    let fit = polynomial(x, y, degree)?;
    let mut order: Vec<usize> = (0..x.len()).collect();
    order.sort_by(|a, b| x[*a].total_cmp(&x[*b]));
    let mut levels = 0;
    let mut repeats = Vec::new();
    let mut cells = Vec::new();
    for level in order.chunk_by(|a, b| x[*a] == x[*b]) {
        levels += 1;
        let values: Vec<f64> = level.iter().map(|i| y[*i]).collect();
        let squares = sums::squared_deviations(&values).unwrap_or(0.0);
        repeats.push(squares);
        if values.len() > 1 {
            cells.push((values.len() as f64 - 1.0, squares));
        }
    }
    let alike = equal_scatter("equal scatter at every place", &cells);
    let repeats = sums::sum(repeats);
    cannot_say::at_least("levels", degree + 2, levels)?;
    cannot_say::at_least("repeated points", 1, x.len() - levels)?;
    if repeats == 0.0 {
        return Err(CannotSay::NoSpread { what: "the repeats".into() });
    }
    let df1 = (levels - degree - 1) as f64;
    let df2 = (x.len() - levels) as f64;
    let ratio = ((fit.residual_sum - repeats).max(0.0) / df1) / (repeats / df2);
    Ok(LackOfFit {
        f: cannot_say::computed("the F ratio", ratio)?,
        equal_scatter_p_value: alike.p_value,
        numerator_df: df1,
        denominator_df: df2,
        p_value: f::survival(ratio, df1, df2),
        n: x.len(),
        method: "lack of fit against pure error",
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_bend_is_seen_by_a_line_and_not_by_a_parabola() {
        let x: Vec<f64> = (0..12).map(|i| f64::from(i / 2)).collect();
        let y: Vec<f64> =
            (0..12).map(|i| x[i] * x[i] + if i % 2 == 0 { 0.1 } else { -0.1 }).collect();
        assert!(lack_of_fit(&x, &y, 1).unwrap().p_value < 1e-6);
        assert!(lack_of_fit(&x, &y, 2).unwrap().p_value > 0.5);
        assert!(lack_of_fit(&[1.0, 2.0, 3.0, 4.0], &[1.0, 2.0, 3.0, 5.0], 1).is_err());
    }
}
