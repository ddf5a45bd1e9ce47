//! Linear least squares in several columns, by orthogonal reflections.
//!
//! Normal equations square the condition of the problem and lose half of the
//! digits; Householder reflections do not (A. S. Householder 1958; G. Golub,
//! Numer. Math. 7 (1965) 206). Columns are scaled first, and the solution is
//! refined on residuals summed with their rounding error.

use crate::account::{Account, Counted};
use crate::cannot_say::{self, CannotSay};
use crate::note::{Assumption, Note};
use digits::sums;

/// A linear fit.
#[derive(Debug, Clone, PartialEq)]
#[non_exhaustive]
pub struct LinearFit {
    /// Coefficients in the order of the columns.
    pub coefficients: Vec<f64>,
    /// Standard errors of the coefficients.
    pub standard_errors: Vec<f64>,
    /// Covariance of the coefficients, row by row.
    pub covariance: Vec<Vec<f64>>,
    /// Residuals, `y` less the fit.
    pub residuals: Vec<f64>,
    /// Sum of squared residuals (weighted where weights were given).
    pub residual_sum: f64,
    /// Standard deviation of the residuals.
    pub residual_sd: f64,
    /// Degrees of freedom of the residuals.
    pub degrees_of_freedom: f64,
    /// Number of points.
    pub n: usize,
    /// Name of the method.
    pub method: &'static str,
}

impl Account for LinearFit {
    fn method(&self) -> &str {
        self.method
    }

    fn counted(&self) -> Counted {
        Counted::of(self.n, format!("points ({} degrees of freedom)", self.degrees_of_freedom))
    }

    fn assumptions(&self) -> Vec<Assumption> {
        vec![
            crate::assumptions::normal("normal residuals", &self.residuals),
            crate::assumptions::independent(
                "residuals independent in the order given",
                &self.residuals,
            ),
            Assumption::unchecked(
                "equal scatter along the fit, or weights as stated",
                "residuals against the fit",
                "plot them",
            ),
        ]
    }

    fn notes(&self) -> Vec<Note> {
        if self.degrees_of_freedom < 5.0 {
            vec![Note::new(
                "few-degrees-of-freedom",
                format!("{} degrees of freedom are left for the scatter.", self.degrees_of_freedom),
                "Add points or repeats.",
            )]
        } else {
            Vec::new()
        }
    }
}

/// Least squares of `y` on columns; `weights` are inverse variances.
///
/// # Errors
/// Lists of unequal length, no more points than columns, values that are not
/// finite, weights that are not positive, columns that depend on each other.
pub fn least_squares(
    columns: &[Vec<f64>],
    y: &[f64],
    weights: Option<&[f64]>,
) -> Result<LinearFit, CannotSay> {
    let p = columns.len();
    cannot_say::at_least("columns", 1, p)?;
    cannot_say::at_least("points", p + 1, y.len())?;
    cannot_say::all_finite("y values", y)?;
    for (j, column) in columns.iter().enumerate() {
        if column.len() != y.len() {
            return Err(CannotSay::LengthsDiffer {
                left: "y values".into(),
                left_count: y.len(),
                right: format!("values of column {}", j + 1),
                right_count: column.len(),
            });
        }
        cannot_say::all_finite(&format!("values of column {}", j + 1), column)?;
    }
    if let Some(w) = weights {
        if w.len() != y.len() {
            return Err(CannotSay::LengthsDiffer {
                left: "y values".into(),
                left_count: y.len(),
                right: "weights".into(),
                right_count: w.len(),
            });
        }
        for value in w {
            cannot_say::positive("a weight", *value)?;
        }
    }
    let root = |i: usize| weights.map_or(1.0, |w| w[i].sqrt());
    let mut scale = Vec::with_capacity(p);
    for (j, column) in columns.iter().enumerate() {
        let largest = column.iter().fold(0.0_f64, |m, v| m.max(v.abs()));
        if largest == 0.0 {
            return Err(CannotSay::NoSpread { what: format!("the values of column {}", j + 1) });
        }
        // A power of two: scaling by it is exact.
        let power = f64::from_bits(largest.to_bits() & 0x7FF0_0000_0000_0000);
        scale.push(if power > 0.0 { power } else { largest });
    }
    let matrix: Vec<Vec<f64>> = columns
        .iter()
        .zip(&scale)
        .map(|(column, s)| column.iter().enumerate().map(|(i, v)| root(i) * (v / s)).collect())
        .collect();
    let target: Vec<f64> = y.iter().enumerate().map(|(i, v)| root(i) * v).collect();
    let reflected = Reflected::new(&matrix)?;
    let (beta, rest) = refined(&reflected, &matrix, &target);
    let n = y.len();
    let df = (n - p) as f64;
    let rss = cannot_say::computed("the residuals", sums::sum(rest.iter().map(|r| r * r)))?;
    let variance = rss / df;
    let inverse = reflected.inverse_square();
    let covariance: Vec<Vec<f64>> = (0..p)
        .map(|i| (0..p).map(|j| variance * inverse[i][j] / (scale[i] * scale[j])).collect())
        .collect();
    let coefficients: Vec<f64> = beta.iter().zip(&scale).map(|(b, s)| b / s).collect();
    for c in &coefficients {
        cannot_say::computed("a coefficient", *c)?;
    }
    for value in covariance.iter().flatten() {
        cannot_say::computed("the covariance of the coefficients", *value)?;
    }
    let residuals: Vec<f64> = rest.iter().enumerate().map(|(i, r)| r / root(i)).collect();
    for value in &residuals {
        cannot_say::computed("a residual", *value)?;
    }
    Ok(LinearFit {
        coefficients,
        // Rounding may leave a variance of zero just below it.
        standard_errors: (0..p).map(|j| covariance[j][j].max(0.0).sqrt()).collect(),
        covariance,
        residuals,
        residual_sum: rss,
        residual_sd: variance.sqrt(),
        degrees_of_freedom: df,
        n,
        method: if weights.is_some() {
            "weighted least squares, orthogonal reflections"
        } else {
            "ordinary least squares, orthogonal reflections"
        },
    })
}

/// Solution and residuals, refined together (A. Bjorck, BIT 7 (1967) 257):
/// the two equations "residual = target - fit" and "columns are at right
/// angles to the residual" are both checked with exact products.
fn refined(reflected: &Reflected, matrix: &[Vec<f64>], target: &[f64]) -> (Vec<f64>, Vec<f64>) {
    let (p, n) = (matrix.len(), target.len());
    let mut beta = vec![0.0; p];
    let mut rest = vec![0.0; n];
    for _ in 0..5 {
        let mut f: Vec<f64> = (0..n)
            .map(|i| {
                let fit = (0..p).flat_map(|j| exact_product(-beta[j], matrix[j][i]));
                sums::sum([target[i], -rest[i]].into_iter().chain(fit))
            })
            .collect();
        let g: Vec<f64> = (0..p)
            .map(|j| sums::sum((0..n).flat_map(|i| exact_product(-matrix[j][i], rest[i]))))
            .collect();
        reflected.turn(&mut f);
        let h = reflected.solve_transposed(&g);
        let right: Vec<f64> = (0..p).map(|j| f[j] - h[j]).collect();
        let step = reflected.solve_triangle(&right);
        f[..p].copy_from_slice(&h);
        reflected.turn_back(&mut f);
        for (b, s) in beta.iter_mut().zip(&step) {
            *b += s;
        }
        for (r, d) in rest.iter_mut().zip(&f) {
            *r += d;
        }
    }
    (beta, rest)
}

/// Product of two doubles as the rounded product and its rounding error
/// (T. J. Dekker, Numer. Math. 18 (1971) 224).
fn exact_product(a: f64, b: f64) -> [f64; 2] {
    let split = |x: f64| {
        let c = 134_217_729.0 * x;
        let high = c - (c - x);
        (high, x - high)
    };
    let product = a * b;
    let ((ah, al), (bh, bl)) = (split(a), split(b));
    let error = ((ah * bh - product) + ah * bl + al * bh) + al * bl;
    if error.is_finite() { [product, error] } else { [product, 0.0] }
}

/// A matrix turned triangular by reflections.
struct Reflected {
    /// Reflection vectors, one for each column.
    vectors: Vec<Vec<f64>>,
    /// Upper triangle, column by column.
    upper: Vec<Vec<f64>>,
}

impl Reflected {
    fn new(matrix: &[Vec<f64>]) -> Result<Self, CannotSay> {
        let p = matrix.len();
        let mut work = matrix.to_vec();
        let mut vectors = Vec::with_capacity(p);
        for j in 0..p {
            let length = sums::sum(work[j][j..].iter().map(|v| v * v)).sqrt();
            let whole = sums::sum(matrix[j].iter().map(|v| v * v)).sqrt();
            // What is left of the column after the ones before it.
            if !(length > 1e-14 * whole) {
                return Err(CannotSay::not_determined(
                    format!("column {} depends on the columns before it", j + 1),
                    "Leave the column out.",
                ));
            }
            let mut v = work[j][j..].to_vec();
            v[0] += length.copysign(v[0]);
            let norm = sums::sum(v.iter().map(|x| x * x)).sqrt();
            for x in &mut v {
                *x /= norm;
            }
            for column in work.iter_mut().skip(j) {
                reflect(&v, &mut column[j..]);
            }
            vectors.push(v);
        }
        let upper = (0..p).map(|j| work[j][..=j].to_vec()).collect();
        Ok(Self { vectors, upper })
    }

    /// All reflections, in their order.
    fn turn(&self, column: &mut [f64]) {
        for (j, v) in self.vectors.iter().enumerate() {
            reflect(v, &mut column[j..]);
        }
    }

    /// All reflections, in reverse order.
    fn turn_back(&self, column: &mut [f64]) {
        for (j, v) in self.vectors.iter().enumerate().rev() {
            reflect(v, &mut column[j..]);
        }
    }

    fn solve_triangle(&self, right: &[f64]) -> Vec<f64> {
        let p = self.upper.len();
        let mut x = vec![0.0; p];
        for i in (0..p).rev() {
            let known: f64 = (i + 1..p).map(|j| self.upper[j][i] * x[j]).sum();
            x[i] = (right[i] - known) / self.upper[i][i];
        }
        x
    }

    fn solve_transposed(&self, right: &[f64]) -> Vec<f64> {
        let p = self.upper.len();
        let mut x = vec![0.0; p];
        for i in 0..p {
            let known: f64 = (0..i).map(|j| self.upper[i][j] * x[j]).sum();
            // The residual equation reads R' h = -g', with g counted as
            // "minus columns times residual".
            x[i] = (right[i] - known) / self.upper[i][i];
        }
        x
    }

    /// Inverse of the product of the matrix with itself.
    fn inverse_square(&self) -> Vec<Vec<f64>> {
        let p = self.upper.len();
        // Columns of the inverse triangle.
        let inverse: Vec<Vec<f64>> = (0..p)
            .map(|k| {
                let mut x = vec![0.0; p];
                for i in (0..=k).rev() {
                    let unit = if i == k { 1.0 } else { 0.0 };
                    let known: f64 = (i + 1..=k).map(|j| self.upper[j][i] * x[j]).sum();
                    x[i] = (unit - known) / self.upper[i][i];
                }
                x
            })
            .collect();
        (0..p)
            .map(|i| (0..p).map(|j| (0..p).map(|k| inverse[k][i] * inverse[k][j]).sum()).collect())
            .collect()
    }
}

fn reflect(v: &[f64], column: &mut [f64]) {
    let product = 2.0 * sums::sum(v.iter().zip(column.iter()).map(|(a, b)| a * b));
    for (c, a) in column.iter_mut().zip(v) {
        *c -= product * a;
    }
}

/// Polynomial of `x` with all powers up to `degree`.
///
/// # Errors
/// As [`least_squares`].
pub fn polynomial(x: &[f64], y: &[f64], degree: usize) -> Result<LinearFit, CannotSay> {
    cannot_say::at_least("points", degree.saturating_add(2), x.len())?;
    cannot_say::all_finite("x values", x)?;
    let columns: Vec<Vec<f64>> = (0..=degree)
        .map(|power| {
            let power = i32::try_from(power).unwrap_or(i32::MAX);
            x.iter().map(|v| digits::scalar::powi(*v, power)).collect()
        })
        .collect();
    least_squares(&columns, y, None)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_parabola_is_found_exactly() {
        let x: Vec<f64> = (0..8).map(f64::from).collect();
        let y: Vec<f64> = x.iter().map(|v| 1.0 - 2.0 * v + 3.0 * v * v).collect();
        let fit = polynomial(&x, &y, 2).unwrap();
        for (own, truth) in fit.coefficients.iter().zip([1.0, -2.0, 3.0]) {
            assert!((own - truth).abs() < 1e-13);
        }
    }

    #[test]
    fn dependent_columns_are_refused() {
        let one = vec![1.0; 5];
        let two = vec![2.0; 5];
        assert!(least_squares(&[one.clone(), two], &[1.0, 2.0, 3.0, 4.0, 5.0], None).is_err());
        assert!(least_squares(std::slice::from_ref(&one), &[1.0; 4], None).is_err());
        assert!(least_squares(&[one], &[1.0, 2.0, f64::NAN, 4.0, 5.0], None).is_err());
    }
}
