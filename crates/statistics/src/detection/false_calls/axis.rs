//! Likelihood of a curve above its floor, on an axis from -1 to 1.

use super::Floor;
use crate::ascent::{ascend, summit};
use crate::cannot_say::{self, CannotSay};
use crate::detection::fit::HitMiss;
use crate::detection::likelihood::{self, Row};
use crate::detection::link::Link;
use crate::detection::profile::outward_crossing;
use core::cell::RefCell;
use digits::scalar::{exp, ln, ln_1p};

/// The data on an axis from -1 to 1.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Axis {
    pub rows: Vec<Row>,
    /// Hits and misses of blanks.
    pub blanks: (f64, f64),
    pub link: Link,
    pub centre: f64,
    pub scale: f64,
}

/// `a ln b`, nothing where `a` is zero.
fn times_ln(a: f64, b: f64) -> f64 {
    if a == 0.0 { 0.0 } else { a * ln(b) }
}

impl Axis {
    fn value(&self, floor: f64, b0: f64, b1: f64) -> Option<f64> {
        if !(floor < 1.0) || b0.abs() + b1.abs() > 1e5 {
            return None;
        }
        let (hits, misses) = self.blanks;
        let mut value = times_ln(hits, floor) + misses * ln_1p(-floor);
        for row in &self.rows {
            let eta = b0 + b1 * row.x;
            if row.hits > 0.0 {
                value += row.hits
                    * if floor == 0.0 {
                        self.link.log_hit(eta).value
                    } else {
                        ln(floor + (1.0 - floor) * self.link.probability(eta))
                    };
            }
            if row.misses > 0.0 {
                value += row.misses * (ln_1p(-floor) + self.link.log_miss(eta).value);
            }
        }
        value.is_finite().then_some(value)
    }

    /// Line of the hits that are left when the floor is taken off.
    pub(super) fn line_above(&self, floor: f64) -> [f64; 2] {
        let rows: Vec<Row> = self
            .rows
            .iter()
            .map(|row| {
                let of = row.hits + row.misses;
                let hits = ((row.hits - floor * of) / (1.0 - floor)).clamp(0.02 * of, 0.98 * of);
                Row { x: row.x, hits, misses: of - hits }
            })
            .collect();
        likelihood::maximise(&rows, self.link).map_or([0.0, 2.0], |(b0, b1, _)| [b0, b1])
    }

    /// Best line at a given floor.
    pub(super) fn at_floor(&self, floor: f64) -> Option<(Vec<f64>, f64)> {
        let top = summit(&|p| self.value(floor, p[0], p[1]), &self.line_above(floor))?;
        Some((top.place, top.value))
    }

    /// Largest likelihood at a given floor, climbed to from a line; to the
    /// digits that a limit needs.
    pub(super) fn height_at_floor(&self, floor: f64, line: &[f64]) -> Option<f64> {
        ascend(&|p| self.value(floor, p[0], p[1]), line).map(|top| top.value)
    }

    /// Best floor and line.
    pub(super) fn free(&self) -> Option<(f64, Vec<f64>, f64)> {
        let (hits, misses) = self.blanks;
        let lowest = self.rows.first().map_or(0.0, |row| row.hits / (row.hits + row.misses));
        let height = |p: &[f64]| self.value(floor_of(p[2]), p[0], p[1]);
        [(hits + 0.5) / (hits + misses + 1.0), 0.7 * lowest, 0.03]
            .into_iter()
            .map(|start: f64| start.clamp(0.003, 0.6))
            .filter_map(|start| {
                let [b0, b1] = self.line_above(start);
                summit(&height, &[b0, b1, (start / (1.0 - start)).sqrt()])
            })
            .max_by(|a, b| a.value.total_cmp(&b.value))
            .map(|top| (floor_of(top.place[2]), top.place[..2].to_vec(), top.value))
    }

    /// Largest likelihood of curves that leap from the floor to one: what a
    /// slope without end reaches.
    pub(super) fn leap(&self, fixed: Option<f64>) -> f64 {
        let mut best = f64::NEG_INFINITY;
        for first in 0..=self.rows.len() {
            // Rows from `first` on lie above the leap; the one before may
            // stand on it, with a share of its own.
            if self.rows[first..].iter().any(|row| row.misses > 0.0) {
                continue;
            }
            for on in [false, true] {
                if on && first == 0 {
                    continue;
                }
                let below = &self.rows[..if on { first - 1 } else { first }];
                let hits = self.blanks.0 + below.iter().map(|row| row.hits).sum::<f64>();
                let misses = self.blanks.1 + below.iter().map(|row| row.misses).sum::<f64>();
                let share = if hits + misses > 0.0 { hits / (hits + misses) } else { 0.0 };
                let floor = fixed.unwrap_or(share);
                let mut value = times_ln(hits, floor) + times_ln(misses, 1.0 - floor);
                if on {
                    let row = &self.rows[first - 1];
                    let of = row.hits + row.misses;
                    let own = (row.hits / of).max(floor);
                    value += times_ln(row.hits, own) + times_ln(row.misses, 1.0 - own);
                }
                best = best.max(value);
            }
        }
        best
    }

    pub(super) fn saturated(&self) -> f64 {
        let blanks = Row { x: 0.0, hits: self.blanks.0, misses: self.blanks.1 };
        likelihood::saturated(&self.rows)
            + if blanks.hits + blanks.misses > 0.0 { likelihood::saturated(&[blanks]) } else { 0.0 }
    }

    /// Upper limit of the place where the curve above the floor reaches `eta`.
    pub(super) fn upper(
        &self,
        floor: Floor,
        (best, b1, from): (f64, f64, f64),
        eta: f64,
        maximum: f64,
        drop: f64,
    ) -> Option<f64> {
        let start = match floor {
            Floor::Estimated => vec![b1, (from / (1.0 - from)).sqrt().max(0.05)],
            Floor::Fixed(_) => vec![b1],
        };
        let warm = RefCell::new(start.clone());
        outward_crossing(best, 1e3, |x| {
            let height = |p: &[f64]| {
                let share = match floor {
                    Floor::Estimated => floor_of(p[1]),
                    Floor::Fixed(share) => share,
                };
                self.value(share, eta - p[0] * x, p[0])
            };
            let top = [warm.borrow().clone(), start.clone()]
                .iter()
                .filter_map(|start| ascend(&height, start))
                .max_by(|a, b| a.value.total_cmp(&b.value));
            match top {
                Some(top) => {
                    let mut next = top.place;
                    // No floor is level ground, from which no climb begins.
                    next.iter_mut().skip(1).for_each(|u| *u = u.abs().max(0.05));
                    *warm.borrow_mut() = next;
                    maximum - top.value - drop
                }
                None => f64::INFINITY,
            }
        })
    }

    pub(super) fn size(&self, log_size: bool, x: f64) -> Option<f64> {
        let place = self.centre + self.scale * x;
        let value = if log_size { exp(place) } else { place };
        value.is_finite().then_some(value)
    }
}

/// Floor as a smooth function of a number without bounds; its square, so that
/// a floor of zero is an ordinary summit.
fn floor_of(u: f64) -> f64 {
    u * u / (1.0 + u * u)
}

/// Sizes with a leak on the axis, blanks apart.
pub(super) fn axis(data: &[HitMiss], link: Link, log_size: bool) -> Result<Axis, CannotSay> {
    let mut ordered: Vec<&HitMiss> = data.iter().filter(|row| row.of > 0).collect();
    for row in &ordered {
        cannot_say::finite("a size", row.size)?;
        if row.hits > row.of {
            return Err(CannotSay::OutOfRange {
                what: format!("the number of hits at size {}", row.size),
                value: row.hits as f64,
                allowed: format!("a whole number from 0 to {}", row.of),
            });
        }
    }
    ordered.sort_by(|a, b| a.size.total_cmp(&b.size));
    let mut blanks = (0.0, 0.0);
    let mut sizes: Vec<(f64, f64, f64)> = Vec::new();
    for row in ordered {
        let (hits, misses) = (row.hits as f64, (row.of - row.hits) as f64);
        if row.size <= 0.0 {
            blanks = (blanks.0 + hits, blanks.1 + misses);
            continue;
        }
        let x = if log_size { ln(row.size) } else { row.size };
        match sizes.last_mut() {
            Some(last) if last.0 == x => {
                last.1 += hits;
                last.2 += misses;
            }
            _ => sizes.push((x, hits, misses)),
        }
    }
    cannot_say::at_least("different sizes above zero", 2, sizes.len())?;
    let (low, high) = (sizes[0].0, sizes[sizes.len() - 1].0);
    let (centre, scale) = (0.5 * low + 0.5 * high, 0.5 * high - 0.5 * low);
    cannot_say::computed("the range of sizes", scale)?;
    if !(scale > 0.0) {
        return Err(CannotSay::NoSpread { what: "the sizes".into() });
    }
    let rows = sizes
        .iter()
        .map(|(x, hits, misses)| Row { x: (x - centre) / scale, hits: *hits, misses: *misses })
        .collect();
    Ok(Axis { rows, blanks, link, centre, scale })
}
