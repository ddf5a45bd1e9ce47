//! Largest value of a smooth function of a few variables.
//!
//! Quasi-Newton ascent with the update of Broyden, Fletcher, Goldfarb and
//! Shanno on differences, then Newton steps. Source: J. Nocedal and S. J.
//! Wright, Numerical Optimization (2006), chapter 6 (from memory).

use nalgebra::{DMatrix, DVector};

/// A place and the value there.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Summit {
    pub place: Vec<f64>,
    pub value: f64,
}

/// Function of a place; `None` where it is not defined.
type Height<'a> = &'a dyn Fn(&[f64]) -> Option<f64>;

fn moved(place: &[f64], j: usize, by: f64) -> Vec<f64> {
    let mut next = place.to_vec();
    next[j] += by;
    next
}

/// Slopes by symmetric differences; `None` next to the edge of the domain.
fn gradient(height: Height<'_>, place: &[f64], share: f64) -> Option<DVector<f64>> {
    let mut slopes = DVector::zeros(place.len());
    for j in 0..place.len() {
        let h = share * (1.0 + place[j].abs());
        slopes[j] = (height(&moved(place, j, h))? - height(&moved(place, j, -h))?) / (2.0 * h);
    }
    Some(slopes)
}

/// Climbs from `start`; `None` where the start is outside the domain.
pub(crate) fn ascend(height: Height<'_>, start: &[f64]) -> Option<Summit> {
    let n = start.len();
    let mut place = DVector::from_column_slice(start);
    let mut value = height(start).filter(|v| v.is_finite())?;
    let mut inverse = DMatrix::<f64>::identity(n, n) * 0.1;
    let mut slopes = gradient(height, place.as_slice(), 1e-6)?;
    let mut fresh = true;
    for _ in 0..300 {
        let mut step = &inverse * &slopes;
        let mut gain = slopes.dot(&step);
        if !(gain > 0.0) {
            inverse = DMatrix::identity(n, n) * 0.1;
            fresh = true;
            step = &inverse * &slopes;
            gain = slopes.dot(&step);
        }
        // No variable moves by more than four at once.
        let longest = step.amax();
        if longest > 4.0 {
            step *= 4.0 / longest;
            gain *= 4.0 / longest;
        }
        if gain < 1e-13 * (1.0 + value.abs()) {
            break;
        }
        let mut share = 1.0;
        let mut found = None;
        for _ in 0..40 {
            let next = &place + &step * share;
            if let Some(there) = height(next.as_slice())
                && there >= value + 1e-4 * share * gain
                && let Some(slope) = gradient(height, next.as_slice(), 1e-6)
            {
                found = Some((next, there, slope));
                break;
            }
            share *= 0.5;
        }
        let Some((next, there, slope)) = found else {
            if fresh {
                break;
            }
            inverse = DMatrix::identity(n, n) * 0.1;
            fresh = true;
            continue;
        };
        let (s, y) = (&next - &place, &slopes - &slope);
        let turn = s.dot(&y);
        if turn > 1e-12 * s.norm() * y.norm() {
            let iy = &inverse * &y;
            let scale = (1.0 + y.dot(&iy) / turn) / turn;
            inverse +=
                &s * s.transpose() * scale - (&iy * s.transpose() + &s * iy.transpose()) / turn;
            fresh = false;
        }
        (place, value, slopes) = (next, there, slope);
    }
    Some(Summit { place: place.as_slice().to_vec(), value })
}

/// Negative second derivatives by differences.
pub(crate) fn curvature(height: Height<'_>, place: &[f64]) -> Option<DMatrix<f64>> {
    let n = place.len();
    let here = height(place)?;
    let step: Vec<f64> = place.iter().map(|v| 1e-4 * (1.0 + v.abs())).collect();
    let mut bends = DMatrix::zeros(n, n);
    for i in 0..n {
        let (up, down) = (moved(place, i, step[i]), moved(place, i, -step[i]));
        bends[(i, i)] = (2.0 * here - height(&up)? - height(&down)?) / (step[i] * step[i]);
        for j in 0..i {
            let corner = |a: &[f64], by: f64| height(&moved(a, j, by));
            let mixed = (corner(&up, step[j])? - corner(&up, -step[j])? - corner(&down, step[j])?
                + corner(&down, -step[j])?)
                / (4.0 * step[i] * step[j]);
            bends[(i, j)] = -mixed;
            bends[(j, i)] = -mixed;
        }
    }
    Some(bends)
}

/// Climbs, then goes the last bit by Newton's method.
pub(crate) fn summit(height: Height<'_>, start: &[f64]) -> Option<Summit> {
    let mut best = ascend(height, start)?;
    for _ in 0..3 {
        let Some(bends) = curvature(height, &best.place) else { break };
        let Some(factor) = nalgebra::Cholesky::new(bends) else { break };
        let Some(slopes) = gradient(height, &best.place, 1e-5) else { break };
        let step = factor.solve(&slopes);
        let next: Vec<f64> = best.place.iter().zip(step.iter()).map(|(a, b)| a + b).collect();
        match height(&next) {
            Some(value) if value >= best.value - 1e-12 * (1.0 + best.value.abs()) => {
                best = Summit { place: next, value };
            }
            _ => break,
        }
        if slopes.dot(&step).abs() < 1e-16 {
            break;
        }
    }
    Some(best)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_bent_valley() {
        // Rosenbrock's function, turned over: summit at (1, 1).
        let height = |p: &[f64]| {
            let (a, b) = (1.0 - p[0], p[1] - p[0] * p[0]);
            Some(-a * a - 100.0 * b * b)
        };
        let top = summit(&height, &[-1.2, 1.0]).unwrap();
        assert!((top.place[0] - 1.0).abs() < 1e-6 && (top.place[1] - 1.0).abs() < 1e-6, "{top:?}");
        assert!(summit(&|_| None, &[0.0]).is_none());
    }
}
