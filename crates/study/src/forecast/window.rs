//! The window: from the curve of detection against size to its two edges.

use physics::quantities::Probability;

use super::compute::required;
use super::{DetectionPoint, Edge, Window};

/// Edges of one curve, µm; `None` where there is no window.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Edges {
    pub smallest_um: Option<f64>,
    pub largest_um: Option<f64>,
    pub largest_beyond: bool,
}

impl Edges {
    /// No window.
    pub(crate) const NONE: Self =
        Self { smallest_um: None, largest_um: None, largest_beyond: false };
}

/// Sizes and probabilities of a curve.
pub(super) fn plain(points: &[DetectionPoint]) -> Vec<(f64, f64)> {
    points.iter().map(|point| (point.flow_equivalent_um, point.probability)).collect()
}

/// Edges of a curve of sizes in µm and probabilities: the first size with the
/// required detection, and the last size up to which it holds without a gap.
pub(crate) fn edges_of(points: &[(f64, f64)], probability: Probability) -> Edges {
    let needed = required(probability);
    let Some(first) = points.iter().position(|point| point.1 >= needed) else {
        return Edges::NONE;
    };
    let smallest =
        if first == 0 { points[0].0 } else { crossing(points[first - 1], points[first], needed) };
    let lost = points[first..].iter().position(|point| point.1 < needed);
    let (largest, beyond) = match lost {
        Some(offset) => {
            (crossing(points[first + offset - 1], points[first + offset], needed), false)
        }
        None => (points[points.len() - 1].0, true),
    };
    Edges { smallest_um: Some(smallest), largest_um: Some(largest), largest_beyond: beyond }
}

/// Sizes simulated between two neighbours where something happens.
const BETWEEN: usize = 3;

/// Sizes that a curve should be simulated at as well, µm: between neighbours
/// on either side of the required detection, and around a fall that comes
/// close to it, where a gap may lie between two sizes.
pub(super) fn sizes_at_edges(points: &[(f64, f64)], probability: Probability) -> Vec<f64> {
    let needed = required(probability);
    let crosses = |pair: &[(f64, f64)]| (pair[0].1 >= needed) != (pair[1].1 >= needed);
    // A hollow that does not reach the required detection at its sizes.
    let missed = 1.0 - needed;
    let hollow = |place: usize| {
        place > 0
            && place + 1 < points.len()
            && points[place].1 < points[place - 1].1
            && points[place].1 <= points[place + 1].1
            && points[place].1 >= needed
            && 1.0 - points[place].1 > 0.02 * missed
    };
    let mut sizes = Vec::new();
    for (place, pair) in points.windows(2).enumerate() {
        if crosses(pair) || hollow(place) || hollow(place + 1) {
            let ratio = pair[1].0 / pair[0].0;
            sizes.extend((1..=BETWEEN).map(|part| {
                pair[0].0 * digits::scalar::pow(ratio, part as f64 / (BETWEEN + 1) as f64)
            }));
        }
    }
    sizes
}

/// Two parts of one curve in the order of their sizes.
pub(super) fn merged(mut points: Vec<(f64, f64)>, more: Vec<(f64, f64)>) -> Vec<(f64, f64)> {
    points.extend(more);
    points.sort_by(|a, b| a.0.total_cmp(&b.0));
    points
}

/// Size at which the probability passes `needed` between two points, on the
/// log axis of size and the normal scale of probability.
fn crossing(below: (f64, f64), above: (f64, f64), needed: f64) -> f64 {
    let z = |p: f64| digits::normal::quantile(p.clamp(1e-12, 1.0 - 1e-12));
    let (from, to) = (z(below.1), z(above.1));
    let weight = if from == to { 0.5 } else { ((z(needed) - from) / (to - from)).clamp(0.0, 1.0) };
    below.0 * digits::scalar::pow(above.0 / below.0, weight)
}

/// The window at the stated inputs with its interval from the draws.
///
/// The interval is that of the draws alone. Where it does not hold the edge at
/// the stated inputs, the inputs pull the edge one way: stretching it there
/// would only hide that.
pub(super) fn combine(at_inputs: Edges, draws: &[Edges]) -> Window {
    let with_window = draws.iter().filter(|draw| draw.smallest_um.is_some()).count();
    let interval = |pick: fn(&Edges) -> Option<f64>, um: f64| {
        let mut values: Vec<f64> = draws.iter().filter_map(pick).collect();
        values.sort_by(f64::total_cmp);
        if values.is_empty() {
            return (um, um);
        }
        (quantile(&values, 0.05), quantile(&values, 0.95))
    };
    let smallest = at_inputs.smallest_um.map(|um| {
        let (low_um, high_um) = interval(|draw| draw.smallest_um, um);
        Edge { um, low_um, high_um, beyond_range: false }
    });
    let largest = at_inputs.largest_um.map(|um| {
        let (low_um, high_um) = interval(|draw| draw.largest_um, um);
        Edge { um, low_um, high_um, beyond_range: at_inputs.largest_beyond }
    });
    Window {
        smallest,
        largest,
        share_of_draws_with_window: with_window as f64 / draws.len().max(1) as f64,
    }
}

/// Quantile of sorted values by linear interpolation.
pub(super) fn quantile(sorted: &[f64], p: f64) -> f64 {
    let position = p * (sorted.len() - 1) as f64;
    let below = position.floor() as usize;
    let above = (below + 1).min(sorted.len() - 1);
    sorted[below] + (position - below as f64) * (sorted[above] - sorted[below])
}

/// The stretch of sizes above the window that is missed before the reach
/// limit finds larger ones again.
pub(super) fn blind_gap(points: &[(f64, f64)], probability: Probability) -> Option<(f64, f64)> {
    let needed = required(probability);
    let first = points.iter().position(|point| point.1 >= needed)?;
    let lost = first + points[first..].iter().position(|point| point.1 < needed)?;
    let from = crossing(points[lost - 1], points[lost], needed);
    let to = points[lost..]
        .iter()
        .position(|point| point.1 >= needed)
        .map_or(points[points.len() - 1].0, |offset| {
            crossing(points[lost + offset - 1], points[lost + offset], needed)
        });
    Some((from, to))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn curve(probabilities: &[f64]) -> Vec<DetectionPoint> {
        probabilities
            .iter()
            .enumerate()
            .map(|(index, &probability)| DetectionPoint {
                flow_equivalent_um: f64::from(1 << index),
                reference_throughput_pa_m3_per_s: 0.0,
                rise_pa: None,
                challenge_pa_m3_per_s: None,
                reach_pa: 0.0,
                by_rise: probability,
                by_reach: 0.0,
                probability,
            })
            .collect()
    }

    fn p(fraction: f64) -> Probability {
        Probability::new(fraction).unwrap()
    }

    #[test]
    fn a_gap_ends_the_window_and_is_named() {
        let points = curve(&[0.0, 0.2, 1.0, 1.0, 0.3, 0.1, 1.0]);
        let edges = edges_of(&plain(&points), p(0.95));
        assert!(edges.smallest_um.unwrap() > 2.0 && edges.smallest_um.unwrap() <= 4.0);
        assert!(edges.largest_um.unwrap() >= 8.0 && edges.largest_um.unwrap() < 16.0);
        assert!(!edges.largest_beyond);
        let (from, to) = blind_gap(&plain(&points), p(0.95)).unwrap();
        assert!((8.0..16.0).contains(&from) && to > 32.0 && to <= 64.0);
    }

    #[test]
    fn without_a_detectable_size_there_is_no_window() {
        let points = curve(&[0.0, 0.1, 0.2]);
        assert_eq!(edges_of(&plain(&points), p(0.9)).smallest_um, None);
        assert_eq!(blind_gap(&plain(&points), p(0.9)), None);
    }

    #[test]
    fn a_window_to_the_end_of_the_range_is_at_least_that() {
        let edges = edges_of(&plain(&curve(&[0.1, 1.0, 1.0])), p(0.9));
        assert_eq!(edges.largest_um, Some(4.0));
        assert!(edges.largest_beyond);
    }

    #[test]
    fn sizes_are_added_where_the_curve_crosses_and_in_a_hollow() {
        // Crosses between the second and the third size; its hollow at 8 does
        // not reach 0.9 and may still do so beside it.
        let points = plain(&curve(&[0.0, 0.2, 1.0, 0.93, 1.0, 1.0]));
        let sizes = sizes_at_edges(&points, p(0.9));
        assert_eq!(sizes.len(), 3 * BETWEEN);
        assert!(sizes[..BETWEEN].iter().all(|um| (2.0..4.0).contains(um)));
        assert!(sizes[BETWEEN..].iter().all(|um| (4.0..16.0).contains(um)));
        assert!(sizes_at_edges(&plain(&curve(&[1.0, 1.0, 1.0])), p(0.9)).is_empty());
        let all = merged(points, vec![(3.0, 0.5)]);
        assert_eq!(all[2], (3.0, 0.5));
    }

    #[test]
    fn an_interval_is_that_of_the_draws_and_not_stretched() {
        let draws: Vec<Edges> = (0..101)
            .map(|place| Edges {
                smallest_um: Some(2.0 + 0.01 * f64::from(place)),
                largest_um: Some(50.0),
                largest_beyond: false,
            })
            .collect();
        let at_inputs =
            Edges { smallest_um: Some(1.5), largest_um: Some(60.0), largest_beyond: true };
        let window = combine(at_inputs, &draws);
        let smallest = window.smallest.unwrap();
        assert!((smallest.low_um - 2.05).abs() < 1e-9 && (smallest.high_um - 2.95).abs() < 1e-9);
        assert_eq!(smallest.um, 1.5);
        assert_eq!(window.share_of_draws_with_window, 1.0);
    }
}
