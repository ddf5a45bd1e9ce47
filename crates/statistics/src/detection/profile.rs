//! Profile likelihood of a curve pinned at one point.

use super::likelihood::{Row, at};
use super::link::Link;

/// Slope on the axis of the fit beyond which a curve is a step.
const STEEPEST: f64 = 1e4;

/// Largest log-likelihood of all lines through `(x, eta)`, and its slope.
///
/// One free slope, concave, by Newton's method with halving.
pub(crate) fn pinned(rows: &[Row], link: Link, x: f64, eta: f64, start: f64) -> (f64, f64) {
    let mut slope = start;
    let value_at = |slope: f64| at(rows, link, eta - slope * x, slope);
    let mut here = value_at(slope);
    if !here.value.is_finite() {
        slope = 0.0;
        here = value_at(slope);
    }
    for _ in 0..100 {
        // Derivatives along the pinned family: d/d slope = (x_i - x).
        let gradient = here.gradient[1] - x * here.gradient[0];
        let curvature = here.hessian[2] - 2.0 * x * here.hessian[1] + x * x * here.hessian[0];
        if !(curvature > 0.0) {
            break;
        }
        let step = gradient / curvature;
        let gain = gradient * step;
        if slope.abs() > STEEPEST {
            break;
        }
        if gain < 1e-9 * (1.0 + here.value.abs()) {
            // The last step of Newton's method: half the promised gain is what
            // it brings, to the square of the gain.
            return (here.value + 0.5 * gain, slope + step);
        }
        let mut share = 1.0;
        let mut moved = false;
        for _ in 0..60 {
            let next = slope + share * step;
            let there = value_at(next);
            if there.value.is_finite() && there.value >= here.value {
                moved = next != slope;
                slope = next;
                here = there;
                break;
            }
            share *= 0.5;
        }
        if !moved {
            break;
        }
    }
    (here.value, slope)
}

/// Upper limit of the `x` at which the line reaches `eta`: the largest `x` in
/// reach whose pinned likelihood is within `drop` of the maximum.
///
/// `None` where the profile stays within `drop` as far as `farthest`: the
/// limit does not exist.
pub(crate) fn upper_crossing(
    rows: &[Row],
    link: Link,
    line: (f64, f64),
    maximum: f64,
    eta: f64,
    drop: f64,
    farthest: f64,
) -> Option<f64> {
    outward_crossing((eta - line.0) / line.1, farthest, |x| {
        maximum - pinned(rows, link, x, eta, line.1).0 - drop
    })
}

/// First place beyond `best` where a function that is negative there turns
/// positive; `None` where it does not within `farthest`.
pub(crate) fn outward_crossing(
    best: f64,
    farthest: f64,
    excess: impl Fn(f64) -> f64,
) -> Option<f64> {
    let mut width = 0.05;
    let mut inner = best;
    let mut outer = best + width;
    while excess(outer) < 0.0 {
        inner = outer;
        width *= 1.5;
        outer += width;
        if outer > farthest {
            return None;
        }
    }
    digits::roots::between(inner, outer, 1e-12, excess)
}

/// Lower limit of the height of the line at `x`.
pub(crate) fn lower_height(
    rows: &[Row],
    link: Link,
    line: (f64, f64),
    maximum: f64,
    x: f64,
    drop: f64,
) -> Option<f64> {
    let best = line.0 + line.1 * x;
    let excess = |eta: f64| maximum - pinned(rows, link, x, eta, line.1).0 - drop;
    let mut width = 0.1;
    let mut inner = best;
    let mut outer = best - width;
    while excess(outer) < 0.0 {
        inner = outer;
        width *= 1.5;
        outer -= width;
        if outer < -600.0 {
            return None;
        }
    }
    digits::roots::between(outer, inner, 1e-12, excess)
}
