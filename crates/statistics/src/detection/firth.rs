//! Penalised likelihood of a curve, finite under separation.
//!
//! The logarithm of the likelihood plus half the logarithm of the determinant
//! of the information. For the logit link this is the bias-reducing fit of D.
//! Firth, Biometrika 80 (1993) 27; for the others it is the mode under the
//! Jeffreys prior. Its delta-method intervals are not trustworthy under
//! separation (G. Heinze and M. Schemper, Stat. Med. 21 (2002) 2409), so
//! bounds are by the profile of the penalised likelihood.

use super::likelihood::{self, Row};
use super::link::Link;
use crate::account::{Account, Counted};
use crate::note::{Assumption, Note};
use digits::scalar::ln;

/// A penalised curve, labelled as such.
#[derive(Debug, Clone, PartialEq)]
#[non_exhaustive]
pub struct PenalisedFit {
    /// Intercept of the line.
    pub intercept: f64,
    /// Slope of the line.
    pub slope: f64,
    /// Standard errors of intercept and slope, for information only.
    pub standard_errors: (f64, f64),
    /// Size found with probability one half.
    pub a50: Option<f64>,
    /// Size found with probability 0.9.
    pub a90: Option<f64>,
    /// One-sided upper bound of `a90` by the profile of the penalised
    /// likelihood.
    pub a90_95: Option<f64>,
    /// Number of units on the curve.
    pub n_units: u64,
    /// Name of the method.
    pub method: &'static str,
}

impl Account for PenalisedFit {
    fn method(&self) -> &str {
        self.method
    }

    fn counted(&self) -> Counted {
        Counted::effective(self.n_units as f64, "units")
    }

    fn assumptions(&self) -> Vec<Assumption> {
        vec![
            Assumption::looked_at(
                "hits and misses overlap",
                "separation, exact",
                false,
                "They are separated: the curve owes its slope to the penalty.",
            ),
            Assumption::unchecked(
                "units independent of each other",
                "from the plan",
                "numbers do not show it; state how the units were drawn",
            ),
        ]
    }

    fn notes(&self) -> Vec<Note> {
        vec![Note::new(
            "penalised-only",
            "No maximum-likelihood curve exists. This curve shows what the data can \
                     bear and proves no size.",
            "Test more units between the largest miss and the smallest hit; claim only \
                     the exact bound of a size tested.",
        )]
    }
}

/// Penalised log-likelihood; minus infinity where the information vanishes.
pub(crate) fn penalised(rows: &[Row], link: Link, b0: f64, b1: f64) -> f64 {
    let [i00, i01, i11] = likelihood::information(rows, link, b0, b1);
    let determinant = i00 * i11 - i01 * i01;
    if !(determinant > 0.0) {
        return f64::NEG_INFINITY;
    }
    likelihood::at(rows, link, b0, b1).value + 0.5 * ln(determinant)
}

/// Half the logarithm of the determinant alone.
fn penalty(rows: &[Row], link: Link, b0: f64, b1: f64) -> f64 {
    let [i00, i01, i11] = likelihood::information(rows, link, b0, b1);
    0.5 * ln((i00 * i11 - i01 * i01).max(1e-300))
}

/// Central difference of fourth order.
fn slope_of(f: impl Fn(f64) -> f64, h: f64) -> f64 {
    (8.0 * (f(h) - f(-h)) - (f(2.0 * h) - f(-2.0 * h))) / (12.0 * h)
}

/// Maximum of the penalised likelihood; `None` when none is reached.
pub(crate) fn maximise(rows: &[Row], link: Link) -> Option<(f64, f64)> {
    let hits: f64 = rows.iter().map(|row| row.hits).sum();
    let of: f64 = rows.iter().map(|row| row.hits + row.misses).sum();
    let (mut b0, mut b1) = (link.line((hits + 0.5) / (of + 1.0)), 0.0);
    let mut value = penalised(rows, link, b0, b1);
    if !value.is_finite() {
        return None;
    }
    let h = 1e-3;
    for _ in 0..200 {
        let here = likelihood::at(rows, link, b0, b1);
        let g0 = here.gradient[0] + slope_of(|d| penalty(rows, link, b0 + d, b1), h);
        let g1 = here.gradient[1] + slope_of(|d| penalty(rows, link, b0, b1 + d), h);
        // Fisher scoring: the information is positive everywhere.
        let [i00, i01, i11] = likelihood::information(rows, link, b0, b1);
        let determinant = i00 * i11 - i01 * i01;
        let s0 = (i11 * g0 - i01 * g1) / determinant;
        let s1 = (i00 * g1 - i01 * g0) / determinant;
        let gain = g0 * s0 + g1 * s1;
        if gain.abs() < 1e-20 {
            return Some((b0, b1));
        }
        let mut share = 1.0;
        let mut moved = false;
        for _ in 0..50 {
            let (n0, n1) = (b0 + share * s0, b1 + share * s1);
            let next = penalised(rows, link, n0, n1);
            if next > value || (share == 1.0 && (next - value).abs() < 1e-13 && gain < 1e-10) {
                moved = (n0, n1) != (b0, b1);
                (b0, b1, value) = (n0, n1, next);
                break;
            }
            share *= 0.5;
        }
        if !moved {
            return (gain < 1e-9).then_some((b0, b1));
        }
    }
    Some((b0, b1))
}

/// Largest penalised likelihood of all lines through `(x, eta)`.
pub(crate) fn pinned(rows: &[Row], link: Link, x: f64, eta: f64, start: f64) -> f64 {
    let f = |b: f64| penalised(rows, link, eta - b * x, b);
    let mut b = start;
    let mut value = f(b);
    if !value.is_finite() {
        b = 0.0;
        value = f(b);
    }
    let mut stride = 0.25 * (1.0 + b.abs());
    // Climb, then close in: the function is smooth with one maximum.
    for _ in 0..200 {
        let (left, right) = (f(b - stride), f(b + stride));
        if left > value && left >= right {
            b -= stride;
            value = left;
        } else if right > value {
            b += stride;
            value = right;
        } else {
            // The vertex of the parabola through the three points.
            let bend = left - 2.0 * value + right;
            if bend < 0.0 && left.is_finite() && right.is_finite() {
                let vertex = b + 0.5 * stride * (left - right) / bend;
                let top = f(vertex);
                if top > value {
                    b = vertex;
                    value = top;
                }
            }
            stride *= 0.3;
            if stride < 1e-7 {
                break;
            }
        }
    }
    value
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn separated_rows_have_a_finite_maximum() {
        let rows =
            [Row { x: -1.0, hits: 0.0, misses: 4.0 }, Row { x: 1.0, hits: 4.0, misses: 0.0 }];
        for link in [Link::Logit, Link::Probit, Link::Cloglog] {
            let (b0, b1) = maximise(&rows, link).unwrap();
            assert!(b1 > 0.0 && b1 < 20.0, "{link:?} {b0} {b1}");
            let best = penalised(&rows, link, b0, b1);
            assert!(best >= penalised(&rows, link, b0 + 1e-3, b1));
            assert!(best >= penalised(&rows, link, b0, b1 - 1e-3));
            assert!((pinned(&rows, link, 0.3, b0 + 0.3 * b1, 1.0) - best).abs() < 1e-9);
        }
        // The logit fit is symmetric: intercept zero.
        assert!(maximise(&rows, Link::Logit).unwrap().0.abs() < 1e-9);
    }
}
