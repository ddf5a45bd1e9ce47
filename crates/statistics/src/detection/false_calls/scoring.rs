//! Largest likelihood of a curve above its floor, quickly.
//!
//! Fisher's scoring with halving, on floor, intercept and slope: a few steps of
//! closed formulas each, so that thousands of simulated samples can be fitted.
//! The likelihood may have several summits; the climb starts from several
//! places, and curves that leap from the floor to one are looked at as well.

use super::Floor;
use super::axis::Axis;
use crate::detection::likelihood::Row;
use crate::detection::link::Link;
use digits::scalar::{exp, exp_m1, ln};

/// Slope on the axis of the fit beyond which a curve is a leap.
const STEEPEST: f64 = 1e3;

/// A curve above its floor and its log-likelihood.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Curve {
    pub floor: f64,
    pub intercept: f64,
    pub slope: f64,
    pub value: f64,
}

/// Probability of a hit, of a miss, and the derivative of the former.
fn parts(link: Link, eta: f64) -> (f64, f64, f64) {
    match link {
        Link::Logit => {
            let e = exp(-eta.abs());
            let (large, small) = (1.0 / (1.0 + e), e / (1.0 + e));
            let (hit, miss) = if eta >= 0.0 { (large, small) } else { (small, large) };
            (hit, miss, large * small)
        }
        Link::Probit => (
            link.probability(eta),
            link.probability(-eta),
            crate::distributions::normal::density(eta),
        ),
        Link::Cloglog => {
            let e = exp(eta.min(700.0));
            let miss = exp(-e);
            (-exp_m1(-e), miss, e * miss)
        }
    }
}

/// Value, gradient and expected information in floor, intercept, slope.
struct Terms {
    value: f64,
    gradient: [f64; 3],
    information: [[f64; 3]; 3],
}

/// The climb: data, what is free, and the point through which the curve runs.
#[derive(Clone, Copy)]
pub(super) struct Climb<'a> {
    pub axis: &'a Axis,
    pub free_floor: bool,
    /// Place and height that the line is held to.
    pub pin: Option<(f64, f64)>,
}

impl Climb<'_> {
    fn terms(&self, floor: f64, intercept: f64, slope: f64) -> Option<Terms> {
        let pivot = self.pin.map_or(0.0, |(x, _)| x);
        let (hits, misses) = self.axis.blanks;
        let mut terms = Terms { value: 0.0, gradient: [0.0; 3], information: [[0.0; 3]; 3] };
        if hits > 0.0 {
            terms.value += hits * ln(floor);
            terms.gradient[0] += hits / floor;
        }
        if misses > 0.0 {
            terms.value += misses * ln(1.0 - floor);
            terms.gradient[0] -= misses / (1.0 - floor);
        }
        if floor > 0.0 {
            terms.information[0][0] += (hits + misses) / (floor * (1.0 - floor));
        }
        for Row { x, hits, misses } in &self.axis.rows {
            let (g, rest, bend) = parts(self.axis.link, intercept + slope * x);
            let (p, q) = (floor + (1.0 - floor) * g, (1.0 - floor) * rest);
            let mut weight = 0.0;
            if *hits > 0.0 {
                terms.value += hits * ln(p);
                weight += hits / p;
            }
            if *misses > 0.0 {
                terms.value += misses * ln(q);
                weight -= misses / q;
            }
            let along = (1.0 - floor) * bend;
            let moves = [rest, along, along * (x - pivot)];
            let product = p * q;
            let information = if product > 1e-280 { (hits + misses) / product } else { 0.0 };
            for i in 0..3 {
                terms.gradient[i] += weight * moves[i];
                for j in 0..=i {
                    terms.information[i][j] += information * moves[i] * moves[j];
                }
            }
        }
        let finite = terms.value.is_finite() && terms.gradient.iter().all(|v| v.is_finite());
        finite.then_some(terms)
    }

    /// Intercept of the line with this slope through the pin.
    fn through(&self, intercept: f64, slope: f64) -> f64 {
        self.pin.map_or(intercept, |(x, eta)| eta - slope * x)
    }

    /// Climbs from a curve; `None` where it has no likelihood.
    pub(super) fn from(&self, start: Curve) -> Option<Curve> {
        let mut here = Curve { intercept: self.through(start.intercept, start.slope), ..start };
        let mut terms = self.terms(here.floor, here.intercept, here.slope)?;
        here.value = terms.value;
        let mut floor_moves = self.free_floor && here.floor > 0.0;
        let mut lifted = false;
        for _ in 0..80 {
            let mut free: Vec<usize> = Vec::with_capacity(3);
            if floor_moves {
                free.push(0);
            }
            if self.pin.is_none() {
                free.push(1);
            }
            free.push(2);
            let step = solve(&terms, &free);
            let gain: f64 = (0..3).map(|i| step[i] * terms.gradient[i]).sum();
            let flat = !(gain > 1e-9 * (1.0 + here.value.abs()));
            let mut moved = false;
            if !flat {
                let longest = step[1].abs().max(step[2].abs());
                let mut share = if longest > 4.0 { 4.0 / longest } else { 1.0 };
                for _ in 0..30 {
                    let floor = (here.floor + share * step[0]).clamp(0.0, 0.999);
                    let slope = here.slope + share * step[2];
                    let intercept = self.through(here.intercept + share * step[1], slope);
                    if let Some(there) = self.terms(floor, intercept, slope)
                        && there.value > here.value
                    {
                        here = Curve { floor, intercept, slope, value: there.value };
                        terms = there;
                        moved = true;
                        break;
                    }
                    share *= 0.5;
                }
                if floor_moves && here.floor <= 0.0 {
                    floor_moves = false;
                }
            }
            if flat || !moved || here.slope.abs() > STEEPEST {
                // A floor of zero may be left once, if it leads up.
                if self.free_floor && !floor_moves && !lifted && terms.gradient[0] > 1e-6 {
                    lifted = true;
                    if let Some(there) = self.terms(0.01, here.intercept, here.slope)
                        && there.value > here.value
                    {
                        here = Curve { floor: 0.01, value: there.value, ..here };
                        terms = there;
                        floor_moves = true;
                        continue;
                    }
                }
                break;
            }
        }
        Some(here)
    }
}

/// Step of scoring in the free directions, by elimination with a small ridge.
fn solve(terms: &Terms, free: &[usize]) -> [f64; 3] {
    let n = free.len();
    let mut a = [[0.0; 4]; 3];
    for i in 0..n {
        for j in 0..n {
            let (r, c) = (free[i].max(free[j]), free[i].min(free[j]));
            a[i][j] = terms.information[r][c];
        }
        a[i][i] += 1e-9 * a[i][i] + 1e-12;
        a[i][3] = terms.gradient[free[i]];
    }
    let mut step = [0.0; 3];
    for i in 0..n {
        if !(a[i][i] > 0.0) {
            return step;
        }
        for k in i + 1..n {
            let share = a[k][i] / a[i][i];
            let above = a[i];
            for (cell, from) in a[k].iter_mut().zip(above).skip(i) {
                *cell -= share * from;
            }
        }
    }
    for i in (0..n).rev() {
        let mut rest = a[i][3];
        for k in i + 1..n {
            rest -= a[i][k] * step[free[k]];
        }
        step[free[i]] = rest / a[i][i];
    }
    step
}

/// A curve that leaps from its floor to one, and between which places.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Leap {
    pub value: f64,
    pub after: f64,
    pub before: f64,
}

/// Largest likelihood of curves without end in their slope.
pub(super) fn leap(axis: &Axis, fixed: Option<f64>) -> Leap {
    let times = |count: f64, p: f64| if count > 0.0 { count * ln(p) } else { 0.0 };
    let mut best = Leap { value: f64::NEG_INFINITY, after: 0.0, before: 0.0 };
    let (mut hits, mut misses) = axis.blanks;
    let mut place = f64::NEG_INFINITY;
    for first in 0..=axis.rows.len() {
        if axis.rows[first..].iter().all(|row| row.misses == 0.0) {
            let share = if hits + misses > 0.0 { hits / (hits + misses) } else { 0.0 };
            let floor = fixed.unwrap_or(share);
            let value = times(hits, floor) + times(misses, 1.0 - floor);
            let before = axis.rows.get(first).map_or(f64::INFINITY, |row| row.x);
            if value > best.value {
                best = Leap { value, after: place, before };
            }
        }
        let Some(row) = axis.rows.get(first) else { break };
        // The leap on a size, which then has a share of its own.
        if axis.rows[first + 1..].iter().all(|row| row.misses == 0.0) {
            let share = if hits + misses > 0.0 { hits / (hits + misses) } else { 0.0 };
            let floor = fixed.unwrap_or(share);
            let own = (row.hits / (row.hits + row.misses)).max(floor);
            let value = times(hits, floor)
                + times(misses, 1.0 - floor)
                + times(row.hits, own)
                + times(row.misses, 1.0 - own);
            if value > best.value {
                best = Leap { value, after: row.x, before: row.x };
            }
        }
        hits += row.hits;
        misses += row.misses;
        place = row.x;
    }
    best
}

/// Starts of a climb: what the blanks and the rest of the hits suggest, and a
/// curve that is at hand.
fn starts(axis: &Axis, floor: Floor, known: Curve) -> [Curve; 2] {
    let share = match floor {
        Floor::Fixed(share) => share,
        Floor::Estimated => {
            let (hits, misses) = axis.blanks;
            if hits + misses > 0.0 {
                ((hits + 0.5) / (hits + misses + 1.0)).min(0.6)
            } else {
                known.floor.clamp(0.02, 0.6)
            }
        }
    };
    let [intercept, slope] = axis.line_above(share);
    let known = match floor {
        Floor::Fixed(share) => Curve { floor: share, ..known },
        // A floor at zero is no place to start from.
        Floor::Estimated => Curve { floor: known.floor.clamp(0.003, 0.9), ..known },
    };
    [known, Curve { floor: share, intercept, slope, value: 0.0 }]
}

/// The curve of the largest likelihood.
fn highest(curves: impl Iterator<Item = Curve>) -> Option<Curve> {
    curves.max_by(|a, b| a.value.total_cmp(&b.value))
}

/// Signed root of the likelihood ratio of "the curve above the floor reaches
/// `eta` at `x`", large when it lies clearly higher there, and the best curve
/// through that point. `known` is any curve to start from.
pub(super) fn signed_root(
    axis: &Axis,
    floor: Floor,
    (x, eta): (f64, f64),
    known: Curve,
) -> Option<(f64, Curve)> {
    let free_floor = matches!(floor, Floor::Estimated);
    let free = Climb { axis, free_floor, pin: None };
    let starts = starts(axis, floor, known);
    let top = highest(starts.iter().filter_map(|start| free.from(*start)))?;
    let held = Climb { axis, free_floor, pin: Some((x, eta)) };
    let near = Curve { floor: if free_floor { top.floor.max(0.003) } else { top.floor }, ..top };
    let pinned = highest([known, near, starts[1]].iter().filter_map(|start| held.from(*start)))?;
    let leap = leap(axis, if free_floor { None } else { Some(known.floor) });
    let above = top.intercept + top.slope * x - eta;
    let (best, sign) = if leap.value >= top.value - 1e-6 {
        let sign = if x > leap.before {
            1.0
        } else if x < leap.after {
            -1.0
        } else {
            0.0
        };
        (leap.value, sign)
    } else {
        (top.value, above.signum())
    };
    let root = sign * (2.0 * (best - pinned.value)).max(0.0).sqrt();
    root.is_finite().then_some((root, pinned))
}

/// Likelihood ratio of "the floor is `floor`" against any floor, twice its
/// logarithm, and the best curve above that floor. `known` is any curve to
/// start from.
pub(super) fn floor_ratio(axis: &Axis, floor: f64, known: Curve) -> Option<(f64, Curve)> {
    let free = Climb { axis, free_floor: true, pin: None };
    let starts = starts(axis, Floor::Estimated, known);
    let top = highest(starts.iter().filter_map(|start| free.from(*start)))?;
    let held = Climb { axis, free_floor: false, pin: None };
    let [intercept, slope] = axis.line_above(floor);
    let from = [known, top, Curve { intercept, slope, ..known }];
    let pinned = highest(from.iter().filter_map(|start| held.from(Curve { floor, ..*start })))?;
    let best = top.value.max(pinned.value).max(leap(axis, None).value);
    let best_held = pinned.value.max(leap(axis, Some(floor)).value);
    let ratio = (2.0 * (best - best_held)).max(0.0);
    ratio.is_finite().then_some((ratio, pinned))
}
