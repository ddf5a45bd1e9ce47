//! Binomial likelihood of a straight line behind a link.

use super::link::Link;
use digits::scalar::ln;
use digits::sums;

/// One row on the axis of the fit.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Row {
    /// Size or its logarithm, shifted and scaled for the fit.
    pub x: f64,
    /// Hits.
    pub hits: f64,
    /// Misses.
    pub misses: f64,
}

/// Log-likelihood with gradient and (negative) Hessian in intercept, slope.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Likelihood {
    pub value: f64,
    pub gradient: [f64; 2],
    /// Negative second derivatives: intercept, mixed, slope.
    pub hessian: [f64; 3],
}

/// Log-likelihood and derivatives at a line `intercept + slope x`.
pub(crate) fn at(rows: &[Row], link: Link, intercept: f64, slope: f64) -> Likelihood {
    let mut result = Likelihood { value: 0.0, gradient: [0.0; 2], hessian: [0.0; 3] };
    for row in rows {
        let eta = intercept + slope * row.x;
        let (mut first, mut second) = (0.0, 0.0);
        if row.hits > 0.0 {
            let term = link.log_hit(eta);
            result.value += row.hits * term.value;
            first += row.hits * term.slope;
            second += row.hits * term.curvature;
        }
        if row.misses > 0.0 {
            let term = link.log_miss(eta);
            result.value += row.misses * term.value;
            first += row.misses * term.slope;
            second += row.misses * term.curvature;
        }
        result.gradient[0] += first;
        result.gradient[1] += first * row.x;
        result.hessian[0] -= second;
        result.hessian[1] -= second * row.x;
        result.hessian[2] -= second * row.x * row.x;
    }
    result
}

/// Expected information in intercept, mixed, slope.
pub(crate) fn information(rows: &[Row], link: Link, intercept: f64, slope: f64) -> [f64; 3] {
    let mut total = [0.0; 3];
    for row in rows {
        let w = (row.hits + row.misses) * link.information(intercept + slope * row.x);
        total[0] += w;
        total[1] += w * row.x;
        total[2] += w * row.x * row.x;
    }
    total
}

/// Largest log-likelihood any curve could reach: each row at its own share.
pub(crate) fn saturated(rows: &[Row]) -> f64 {
    sums::sum(rows.iter().map(|row| {
        let of = row.hits + row.misses;
        let part = |count: f64| if count > 0.0 { count * ln(count / of) } else { 0.0 };
        part(row.hits) + part(row.misses)
    }))
}

/// Maximum of the likelihood by Newton's method with halving.
///
/// The log-likelihood of all three links is concave, so the maximum is the
/// only one. `None` when no maximum was reached.
pub(crate) fn maximise(rows: &[Row], link: Link) -> Option<(f64, f64, Likelihood)> {
    let hits: f64 = rows.iter().map(|row| row.hits).sum();
    let of: f64 = rows.iter().map(|row| row.hits + row.misses).sum();
    let mut line = (link.line((hits + 0.5) / (of + 1.0)), 0.0);
    let mut here = at(rows, link, line.0, line.1);
    for _ in 0..100 {
        let [a, b, c] = here.hessian;
        let determinant = a * c - b * b;
        if !(determinant > 0.0) {
            return None;
        }
        let [g, h] = here.gradient;
        let move_0 = (c * g - b * h) / determinant;
        let move_1 = (a * h - b * g) / determinant;
        let gain = g * move_0 + h * move_1;
        if gain < 1e-9 * (1.0 + here.value.abs()) {
            // One more full step, whose error is the square of this one's, and
            // one more look at where it leads.
            let last = (line.0 + move_0, line.1 + move_1);
            let there = at(rows, link, last.0, last.1);
            if there.value.is_finite() && there.value > here.value - 1e-9 {
                line = last;
                here = there;
            }
            if gain < 1e-16 * (1.0 + here.value.abs()) {
                return Some((line.0, line.1, here));
            }
            continue;
        }
        let mut share = 1.0;
        let mut moved = false;
        for _ in 0..60 {
            let next = (line.0 + share * move_0, line.1 + share * move_1);
            let there = at(rows, link, next.0, next.1);
            if there.value.is_finite() && there.value >= here.value {
                moved = next != line;
                line = next;
                here = there;
                break;
            }
            share *= 0.5;
        }
        if !moved {
            // No further gain in double arithmetic: at the maximum if the
            // promised gain was rounding.
            return (gain < 1e-9).then_some((line.0, line.1, here));
        }
    }
    None
}
