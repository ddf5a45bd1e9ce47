//! Correlations of inputs: whether they can exist, and normals that have them.
//!
//! A Gaussian copula joins inputs of any distribution: correlated normals are
//! carried through the distribution functions. The normals are given the
//! correlation that leaves the inputs with the one that was asked for, because
//! the law of propagation speaks of that one. Sources: JCGM 101:2008, 5.3.4
//! and 6.4.8 (from memory); M. C. Cario and B. L. Nelson (1997) for the
//! correlation of the normals (from memory).

use super::monte_carlo::Distribution;
use crate::cannot_say::{self, CannotSay};
use crate::distributions::{normal, student_t};
use crate::quadrature::gauss_legendre;
use nalgebra::{Cholesky, DMatrix, DVector};

/// What a correlation matrix is.
#[derive(Debug, Clone, PartialEq)]
pub enum Shape {
    /// Positive definite: its lower triangular root, row by row.
    Definite(Vec<Vec<f64>>),
    /// Some inputs are exact sums of others: the pair at which that shows.
    Singular(usize, usize),
}

/// Pivots below this are zero.
const SMALLEST: f64 = 1e-10;

/// Checks a correlation matrix and takes its root.
///
/// # Errors
/// Another shape than one row and column per name; a coefficient outside -1 to
/// 1, a diagonal that is not 1, a matrix that is not symmetric; correlations
/// that no quantities can have together, naming the pair that must change.
pub fn shape(matrix: &[Vec<f64>], names: &[&str]) -> Result<Shape, CannotSay> {
    let n = names.len();
    if matrix.len() != n || matrix.iter().any(|row| row.len() != n) {
        return Err(CannotSay::LengthsDiffer {
            left: "inputs".into(),
            left_count: n,
            right: "rows of the correlation matrix".into(),
            right_count: matrix.len(),
        });
    }
    for i in 0..n {
        for j in 0..n {
            let value = matrix[i][j];
            let right = if i == j { (value - 1.0).abs() <= 1e-9 } else { value.abs() <= 1.0 };
            if !right || (value - matrix[j][i]).abs() > 1e-9 {
                return Err(CannotSay::OutOfRange {
                    what: format!("the correlation of {} and {}", names[i], names[j]),
                    value,
                    allowed: "a number from -1 to 1, the same both ways, and 1 of an input with \
                              itself"
                        .into(),
                });
            }
        }
    }
    let mut root = vec![vec![0.0; n]; n];
    let mut singular = None;
    for k in 0..n {
        for j in 0..k {
            let rest = matrix[k][j] - (0..j).map(|l| root[k][l] * root[j][l]).sum::<f64>();
            if root[j][j] > 0.0 {
                root[k][j] = rest / root[j][j];
            } else if rest.abs() > 1e-7 {
                return Err(impossible(matrix, names, k));
            }
        }
        let pivot = 1.0 - (0..k).map(|l| root[k][l] * root[k][l]).sum::<f64>();
        if pivot < -SMALLEST {
            return Err(impossible(matrix, names, k));
        }
        if pivot > SMALLEST {
            root[k][k] = pivot.sqrt();
        } else {
            let strongest =
                (0..k).max_by(|a, b| matrix[k][*a].abs().total_cmp(&matrix[k][*b].abs()));
            singular = singular.or(strongest.map(|j| (j, k)));
        }
    }
    Ok(match singular {
        Some((j, k)) => Shape::Singular(j, k),
        None => Shape::Definite(root),
    })
}

/// The refusal for the first row that no longer fits, with the pair whose
/// change by the least would mend it.
fn impossible(matrix: &[Vec<f64>], names: &[&str], k: usize) -> CannotSay {
    let mut best: Option<(f64, usize, f64, f64)> = None;
    for j in 0..k {
        let rest: Vec<usize> = (0..k).filter(|i| *i != j).collect();
        let m = rest.len();
        let inner = DMatrix::from_fn(m, m, |a, b| matrix[rest[a]][rest[b]]);
        let Some(factor) = Cholesky::new(inner) else { continue };
        let column = |of: usize| DVector::from_fn(m, |a, _| matrix[of][rest[a]]);
        let (a, b) = (column(k), column(j));
        let solved = factor.solve(&a);
        let (own, other, middle) = (a.dot(&solved), b.dot(&factor.solve(&b)), b.dot(&solved));
        if own >= 1.0 || other >= 1.0 {
            continue;
        }
        let half = ((1.0 - own) * (1.0 - other)).sqrt();
        let distance = (matrix[k][j] - middle).abs() - half;
        if best.is_none_or(|found| distance < found.0) {
            best = Some((distance, j, middle - half, middle + half));
        }
    }
    let reason = match best {
        Some((_, j, low, high)) => format!(
            "no quantities have these correlations: that of {} and {} is {}, and with the others \
             as given it must lie between {low:.4} and {high:.4}",
            names[j], names[k], matrix[k][j]
        ),
        None => {
            let j = (0..k)
                .max_by(|a, b| matrix[k][*a].abs().total_cmp(&matrix[k][*b].abs()))
                .unwrap_or(0);
            format!(
                "no quantities have these correlations: those of {} do not fit the others, first \
                 that with {}",
                names[k], names[j]
            )
        }
    };
    CannotSay::not_determined(
        reason,
        "Estimate all correlations from the same readings, or set the doubtful ones nearer to zero.",
    )
}

impl Distribution {
    /// Value at a normal score.
    pub(super) fn at_score(self, z: f64) -> f64 {
        match self {
            Self::Normal(m, s) => m + s * z,
            Self::Rectangular(a, b) => a + (b - a) * normal::cumulative(z),
            Self::Triangular(a, b) => {
                let half = 0.5 * (b - a);
                let from_end = (2.0 * normal::cumulative(-z.abs())).sqrt();
                0.5 * (a + b) + (half * (1.0 - from_end)).copysign(z)
            }
            // So near to normal that no digit that matters differs.
            Self::StudentT(m, s, nu) if nu > 1e7 => m + s * z,
            Self::StudentT(m, s, nu) => {
                m - s * student_t::quantile(normal::cumulative(-z.abs()), nu).copysign(-z)
            }
        }
    }

    /// Mean and standard deviation; `None` where there is none.
    fn moments(self) -> Option<(f64, f64)> {
        match self {
            Self::Normal(m, s) => Some((m, s)),
            Self::Rectangular(a, b) => Some((0.5 * (a + b), (b - a) / 12.0_f64.sqrt())),
            Self::Triangular(a, b) => Some((0.5 * (a + b), (b - a) / 24.0_f64.sqrt())),
            Self::StudentT(m, s, nu) if nu > 2.0 => Some((m, s * (nu / (nu - 2.0)).sqrt())),
            Self::StudentT(..) => None,
        }
    }

    /// Means of the standardised value times Hermite's polynomials of the
    /// score, each of variance one.
    fn hermite(self) -> Option<Vec<f64>> {
        let (mean, deviation) = self.moments()?;
        if !(deviation > 0.0) {
            return None;
        }
        let mut parts = vec![0.0; TERMS];
        for (z, weight) in gauss_legendre(240, -9.0, 9.0) {
            let value = (self.at_score(z) - mean) / deviation * weight * normal::density(z);
            let (mut here, mut before) = (1.0, 0.0);
            for (k, part) in parts.iter_mut().enumerate() {
                *part += value * here;
                let k = k as f64;
                let next = (z * here - k.sqrt() * before) / (k + 1.0).sqrt();
                before = here;
                here = next;
            }
        }
        Some(parts)
    }
}

/// Terms of the series in Hermite's polynomials.
const TERMS: usize = 60;

/// Correlation of the normal scores that leaves two inputs with the
/// correlation `wanted`; `None` where an input has no variance to speak of and
/// the correlation is that of the scores.
///
/// `E g(z1) h(z2) = sum c_k d_k r^k` (Mehler's series).
///
/// # Errors
/// A correlation that these two distributions cannot have.
pub fn of_scores(
    first: (&str, Distribution),
    second: (&str, Distribution),
    wanted: f64,
) -> Result<Option<f64>, CannotSay> {
    let plain = |d: Distribution| matches!(d, Distribution::Normal(..));
    if wanted == 0.0 || (plain(first.1) && plain(second.1)) {
        return Ok(Some(wanted));
    }
    let (Some(c), Some(d)) = (first.1.hermite(), second.1.hermite()) else { return Ok(None) };
    let reached = |r: f64| {
        // Horner from the last term; the constant terms are zero.
        let mut sum = 0.0;
        for (c, d) in c.iter().zip(&d).skip(1).rev() {
            sum = (sum + c * d) * r;
        }
        sum
    };
    match digits::roots::between(-1.0, 1.0, 1e-13, |r| reached(r) - wanted) {
        Some(r) => Ok(Some(r)),
        None => Err(CannotSay::OutOfRange {
            what: format!("the correlation of {} and {}", first.0, second.0),
            value: wanted,
            allowed: format!(
                "with these distributions a number from {:.4} to {:.4}",
                reached(-1.0),
                reached(1.0)
            ),
        }),
    }
}

/// Root of the correlations of the scores, and whether some of them could only
/// be taken for those of the inputs themselves.
pub(super) fn scores(
    inputs: &[Distribution],
    names: &[&str],
    matrix: &[Vec<f64>],
) -> Result<(Vec<Vec<f64>>, bool), CannotSay> {
    cannot_say::at_least("names of inputs", inputs.len(), names.len())?;
    let singular = |(j, k): (usize, usize)| {
        CannotSay::not_determined(
            format!(
                "the correlations are not positive definite: {} and {} move as one with the other \
                 inputs",
                names[j], names[k]
            ),
            "Write the model in terms of what they share, and leave one of them out.",
        )
    };
    if let Shape::Singular(j, k) = shape(matrix, names)? {
        return Err(singular((j, k)));
    }
    let mut own: Vec<Vec<f64>> = matrix.to_vec();
    let mut rough = false;
    for i in 0..inputs.len() {
        for j in 0..i {
            let found = of_scores((names[i], inputs[i]), (names[j], inputs[j]), matrix[i][j])?;
            rough |= found.is_none();
            let value = found.unwrap_or(matrix[i][j]);
            own[i][j] = value;
            own[j][i] = value;
        }
    }
    match shape(&own, names)? {
        Shape::Definite(root) => Ok((root, rough)),
        Shape::Singular(j, k) => Err(singular((j, k))),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use digits::scalar::sin;

    #[test]
    fn rectangular_inputs_have_a_closed_form() {
        // Pearson's relation (1907): r = 2 sin(pi rho / 6).
        let flat = Distribution::Rectangular(3.0, 5.0);
        for wanted in [-0.95, -0.4, 0.1, 0.7, 0.97] {
            let own = of_scores(("a", flat), ("b", flat), wanted).unwrap().unwrap();
            let exact = 2.0 * sin(core::f64::consts::PI * wanted / 6.0);
            assert!((own - exact).abs() < 1e-6, "{wanted}: {own} {exact}");
        }
        let normal = Distribution::Normal(0.0, 2.0);
        assert_eq!(of_scores(("a", normal), ("b", normal), 0.3).unwrap(), Some(0.3));
        // A rectangular and a normal input: rho = r sqrt(3 / pi).
        let own = of_scores(("a", flat), ("b", normal), 0.5).unwrap().unwrap();
        assert!((own - 0.5 * (core::f64::consts::PI / 3.0).sqrt()).abs() < 1e-9);
        assert!(of_scores(("a", flat), ("b", normal), 0.99).is_err());
        let wild = Distribution::StudentT(0.0, 1.0, 2.0);
        assert_eq!(of_scores(("a", wild), ("b", normal), 0.5).unwrap(), None);
    }

    #[test]
    fn the_pair_that_does_not_fit_is_named() {
        let matrix = |ab: f64, ac: f64, bc: f64| {
            vec![vec![1.0, ab, ac], vec![ab, 1.0, bc], vec![ac, bc, 1.0]]
        };
        let names = ["volume", "pressure", "room"];
        assert!(matches!(shape(&matrix(0.5, 0.5, 0.5), &names).unwrap(), Shape::Definite(_)));
        // a = b, so both have the same correlation with c.
        assert_eq!(shape(&matrix(1.0, 0.5, 0.5), &names).unwrap(), Shape::Singular(0, 1));
        let refusal = shape(&matrix(0.9, 0.2, -0.5), &names).unwrap_err().to_string();
        assert!(refusal.contains("pressure and room is -0.5"), "{refusal}");
        // By hand: 0.9 times 0.2, give or take the root of 0.19 times 0.96.
        assert!(refusal.contains("between -0.2471 and 0.6071"), "{refusal}");
        assert!(shape(&matrix(1.2, 0.0, 0.0), &names).is_err());
        assert!(shape(&matrix(0.1, 0.1, f64::NAN), &names).is_err());
        assert!(shape(&matrix(0.1, 0.1, 0.1)[..2], &names).is_err());
        let mut skew = matrix(0.1, 0.1, 0.1);
        skew[0][1] = 0.2;
        assert!(shape(&skew, &names).is_err());
    }

    #[test]
    fn scores_give_the_quantiles() {
        for d in [
            Distribution::Rectangular(-1.0, 3.0),
            Distribution::Triangular(2.0, 6.0),
            Distribution::StudentT(1.0, 2.0, 5.0),
        ] {
            let middle = d.at_score(0.0);
            let (up, down) = (d.at_score(1.3) - middle, middle - d.at_score(-1.3));
            assert!(up > 0.0 && (up - down).abs() < 1e-12, "{d:?}");
        }
        // A quarter of the triangle from 0 to 2 lies below the root of a half.
        let z = normal::quantile(0.25);
        let value = Distribution::Triangular(0.0, 2.0).at_score(z);
        assert!((value - 0.5_f64.sqrt()).abs() < 1e-12, "{value}");
    }
}
