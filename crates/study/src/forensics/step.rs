//! A step: a plunger or stopper that moves, or a valve.

use super::fit::{Prepared, Problem};
use super::term::{Cause, STEP, Shape};
use super::window::Window;

/// A step at a moment, either sign, that takes `width_s` to happen.
pub(super) fn at(window: &Window, moment_s: f64, width_s: f64) -> Shape {
    let begin = moment_s - 0.5 * width_s;
    let value = |time: f64| {
        if width_s > 0.0 {
            ((time - begin) / width_s).clamp(0.0, 1.0)
        } else if time >= moment_s {
            1.0
        } else {
            0.0
        }
    };
    Shape {
        cause: Cause::Step,
        place: STEP,
        column: window.times_s.iter().map(|&time| value(time)).collect(),
        lowest: f64::NEG_INFINITY,
        highest: f64::INFINITY,
        constant: Some(moment_s),
        age_s: width_s,
        // Where in the record it lies is searched over all points, which
        // finds a step in noise more easily than one constant would.
        n_searched: 2,
    }
}

/// Widths that are tried, in intervals between points.
const WIDTHS: [f64; 4] = [0.0, 1.0, 2.0, 4.0];

/// The moment at which a step helps most beside smooth shapes; at least two
/// points stand on either side.
pub(super) fn likeliest(window: &Window, smooth: &[Shape]) -> Option<Shape> {
    let n = window.n();
    if n < 12 {
        return None;
    }
    let prepared = Prepared::new(window, 0.0);
    let mut columns: Vec<Vec<f64>> =
        smooth.iter().map(|shape| prepared.column(&shape.column)).collect();
    columns.push(Vec::new());
    let all: Vec<usize> = (0..columns.len()).collect();
    let mut best: Option<(f64, Shape)> = None;
    let mut try_one = |shape: Shape, best: &mut Option<(f64, Shape)>| {
        if let Some(last) = columns.last_mut() {
            *last = prepared.column(&shape.column);
        }
        let problem = Problem::of_columns(window, prepared.values(), &columns);
        let Some(solved) = problem.solve(&all) else { return };
        if best.as_ref().is_none_or(|(least, _)| solved.squares < *least) {
            *best = Some((solved.squares, shape));
        }
    };
    for place in 2..n - 2 {
        try_one(at(window, window.times_s[place], 0.0), &mut best);
    }
    let centre = best.as_ref()?.1.constant?;
    let interval = window.length_s() / (n - 1) as f64;
    for width in &WIDTHS[1..] {
        for shift in [-1.0, -0.5, 0.0, 0.5, 1.0] {
            let moment = centre + (shift - 0.5) * interval;
            try_one(at(window, moment, width * interval), &mut best);
        }
    }
    best.map(|(_, shape)| shape)
}
