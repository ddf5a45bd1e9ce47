//! Second-order response surface and its shape.

use crate::account::{Account, Counted};
use crate::cannot_say::{self, CannotSay};
use crate::note::{Assumption, Note};
use crate::regression::least_squares::{LinearFit, least_squares};

/// A fitted second-order surface.
#[derive(Debug, Clone, PartialEq)]
#[non_exhaustive]
pub struct Surface {
    /// Constant.
    pub constant: f64,
    /// Linear coefficients.
    pub linear: Vec<f64>,
    /// Symmetric matrix of the second order: squares on the diagonal, half of
    /// each mixed coefficient beside it.
    pub quadratic: Vec<Vec<f64>>,
    /// Point at which the surface is level.
    pub stationary_point: Option<Vec<f64>>,
    /// Eigenvalues of the quadratic part, largest first: all negative for a
    /// maximum, mixed signs for a saddle.
    pub eigenvalues: Vec<f64>,
    /// The least-squares fit; columns are constant, linear, squares, mixed,
    /// then blocks.
    pub fit: LinearFit,
    /// Number of factors.
    pub factors: usize,
    /// Name of the method.
    pub method: &'static str,
    /// Remarks with next steps.
    pub notes: Vec<Note>,
}

impl Account for Surface {
    fn method(&self) -> &str {
        self.method
    }

    fn counted(&self) -> Counted {
        Counted::of(self.fit.n, "runs")
    }

    fn assumptions(&self) -> Vec<Assumption> {
        let mut list = self.fit.assumptions();
        list.push(Assumption::unchecked(
            "a surface of second order over the region",
            "lack of fit against repeated centre runs",
            "repeats are not told apart here",
        ));
        list
    }

    fn notes(&self) -> Vec<Note> {
        let mut notes = self.notes.clone();
        notes.extend(self.fit.notes());
        notes
    }
}

/// Row of the second-order model at a point, without blocks.
#[must_use]
pub fn model_row(point: &[f64]) -> Vec<f64> {
    let mut row = vec![1.0];
    row.extend_from_slice(point);
    row.extend(point.iter().map(|v| v * v));
    for i in 0..point.len() {
        for j in i + 1..point.len() {
            row.push(point[i] * point[j]);
        }
    }
    row
}

/// Fits a second-order surface; `blocks` names the block of each run.
///
/// # Errors
/// No factor or more than ten, too few runs, runs and results of unequal
/// number, columns that depend on each other.
pub fn response_surface(
    points: &[Vec<f64>],
    results: &[f64],
    blocks: Option<&[usize]>,
) -> Result<Surface, CannotSay> {
    let k = points.first().map_or(0, Vec::len);
    if k == 0 || k > 10 {
        return Err(CannotSay::OutOfRange {
            what: "the number of factors".into(),
            value: k as f64,
            allowed: "1 to 10 factors".into(),
        });
    }
    if let Some(i) = points.iter().position(|p| p.len() != k) {
        return Err(CannotSay::LengthsDiffer {
            left: "factors of the first run".into(),
            left_count: k,
            right: format!("factors of run {}", i + 1),
            right_count: points[i].len(),
        });
    }
    let rows: Vec<Vec<f64>> = points.iter().map(|p| model_row(p)).collect();
    let width = rows[0].len();
    let mut columns: Vec<Vec<f64>> =
        (0..width).map(|j| rows.iter().map(|row| row[j]).collect()).collect();
    if let Some(names) = blocks {
        if names.len() != points.len() {
            return Err(CannotSay::LengthsDiffer {
                left: "runs".into(),
                left_count: points.len(),
                right: "block names".into(),
                right_count: names.len(),
            });
        }
        let mut distinct = names.to_vec();
        distinct.sort_unstable();
        distinct.dedup();
        for block in distinct.iter().skip(1) {
            columns.push(names.iter().map(|name| f64::from(u8::from(name == block))).collect());
        }
    }
    let fit = least_squares(&columns, results, None)?;
    let b = &fit.coefficients;
    let linear = b[1..=k].to_vec();
    let mut quadratic = vec![vec![0.0; k]; k];
    let mut next = 1 + 2 * k;
    for i in 0..k {
        quadratic[i][i] = b[1 + k + i];
        for j in i + 1..k {
            quadratic[i][j] = 0.5 * b[next];
            quadratic[j][i] = 0.5 * b[next];
            next += 1;
        }
    }
    let eigenvalues = eigenvalues(&quadratic);
    let stationary_point =
        solve(&quadratic, &linear.iter().map(|v| -0.5 * v).collect::<Vec<f64>>());
    let mut notes = Vec::new();
    let (highest, lowest) = (eigenvalues[0], eigenvalues[k - 1]);
    if highest > 0.0 && lowest < 0.0 {
        notes.push(Note::new(
            "saddle",
            "The surface is a saddle: its level point is no optimum.",
            "Follow the ridge, or add runs along it.",
        ));
    }
    if let Some(point) = &stationary_point {
        let outside = (0..k).any(|j| {
            let low = points.iter().map(|p| p[j]).fold(f64::INFINITY, f64::min);
            let high = points.iter().map(|p| p[j]).fold(f64::NEG_INFINITY, f64::max);
            point[j] < low || point[j] > high
        });
        if outside {
            notes.push(Note::new(
                "extrapolated",
                "The level point lies outside the runs.",
                "Do not use it; move the design.",
            ));
        }
    }
    Ok(Surface {
        constant: b[0],
        linear,
        quadratic,
        stationary_point,
        eigenvalues,
        fit,
        factors: k,
        method: "second-order response surface by least squares",
        notes,
    })
}

/// Eigenvalues of a symmetric matrix by Jacobi's rotations, largest first.
fn eigenvalues(matrix: &[Vec<f64>]) -> Vec<f64> {
    let n = matrix.len();
    let mut a = matrix.to_vec();
    for _ in 0..100 {
        let off: f64 =
            (0..n).flat_map(|i| (0..i).map(move |j| (i, j))).map(|(i, j)| a[i][j].abs()).sum();
        if off == 0.0 {
            break;
        }
        for p in 0..n {
            for q in p + 1..n {
                if a[p][q] == 0.0 {
                    continue;
                }
                let theta = (a[q][q] - a[p][p]) / (2.0 * a[p][q]);
                let t = 1.0_f64.copysign(theta) / (theta.abs() + (theta * theta + 1.0).sqrt());
                let c = 1.0 / (t * t + 1.0).sqrt();
                let s = t * c;
                for row in &mut a {
                    let (x, y) = (row[p], row[q]);
                    row[p] = c * x - s * y;
                    row[q] = s * x + c * y;
                }
                for j in 0..n {
                    let (x, y) = (a[p][j], a[q][j]);
                    a[p][j] = c * x - s * y;
                    a[q][j] = s * x + c * y;
                }
            }
        }
    }
    let mut values: Vec<f64> = (0..n).map(|i| a[i][i]).collect();
    values.sort_by(|x, y| y.total_cmp(x));
    values
}

/// Solution of a small system by elimination with pivots; `None` if singular.
fn solve(matrix: &[Vec<f64>], right: &[f64]) -> Option<Vec<f64>> {
    let n = right.len();
    let mut a: Vec<Vec<f64>> = matrix
        .iter()
        .zip(right)
        .map(|(row, r)| row.iter().copied().chain([*r]).collect())
        .collect();
    let scale = matrix.iter().flatten().fold(0.0_f64, |m, v| m.max(v.abs()));
    for k in 0..n {
        let pivot = (k..n).max_by(|i, j| a[*i][k].abs().total_cmp(&a[*j][k].abs()))?;
        if !(a[pivot][k].abs() > 1e-12 * scale) {
            return None;
        }
        a.swap(k, pivot);
        let source = a[k].clone();
        for row in a.iter_mut().skip(k + 1) {
            let factor = row[k] / source[k];
            for (value, s) in row.iter_mut().zip(&source) {
                *value -= factor * s;
            }
        }
    }
    let mut x = vec![0.0; n];
    for i in (0..n).rev() {
        let known: f64 = (i + 1..n).map(|j| a[i][j] * x[j]).sum();
        x[i] = (a[i][n] - known) / a[i][i];
    }
    x.iter().all(|v| v.is_finite()).then_some(x)
}

impl Surface {
    /// Value of the surface at a point, in the first block.
    ///
    /// # Errors
    /// A point of another number of factors, or not finite.
    pub fn value(&self, point: &[f64]) -> Result<f64, CannotSay> {
        if point.len() != self.factors {
            return Err(CannotSay::LengthsDiffer {
                left: "factors".into(),
                left_count: self.factors,
                right: "coordinates of the point".into(),
                right_count: point.len(),
            });
        }
        cannot_say::all_finite("coordinates", point)?;
        let row = model_row(point);
        let value = row.iter().zip(&self.fit.coefficients).map(|(x, b)| x * b).sum();
        cannot_say::computed("the value of the surface", value)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::experiments::designs::central_composite;

    #[test]
    fn a_known_hill_is_found() {
        let design = central_composite(2, 1.4, 3).unwrap();
        let hill =
            |p: &[f64]| 5.0 - (p[0] - 0.3) * (p[0] - 0.3) - 2.0 * (p[1] + 0.2) * (p[1] + 0.2);
        let noise = [0.01, -0.01];
        let results: Vec<f64> =
            design.iter().enumerate().map(|(i, p)| hill(p) + noise[i % 2]).collect();
        let surface = response_surface(&design, &results, None).unwrap();
        let top = surface.stationary_point.clone().unwrap();
        assert!((top[0] - 0.3).abs() < 0.02 && (top[1] + 0.2).abs() < 0.02);
        assert!((surface.eigenvalues[0] + 1.0).abs() < 0.02);
        assert!((surface.value(&top).unwrap() - 5.0).abs() < 0.02);
        assert!(response_surface(&design[..4], &results[..4], None).is_err());
    }
}
