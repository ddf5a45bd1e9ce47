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

/// Edges of a curve: the first size with the required detection, and the last
/// size up to which it holds without a gap.
pub(super) fn edges(points: &[DetectionPoint], probability: Probability) -> Edges {
    edges_of(&plain(points), probability)
}

fn plain(points: &[DetectionPoint]) -> Vec<(f64, f64)> {
    points.iter().map(|point| (point.flow_equivalent_um, point.probability)).collect()
}

/// As [`edges`], from sizes in µm and probabilities.
pub(crate) fn edges_of(points: &[(f64, f64)], probability: Probability) -> Edges {
    let needed = required(probability);
    let Some(first) = points.iter().position(|point| point.1 >= needed) else {
        return Edges { smallest_um: None, largest_um: None, largest_beyond: false };
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

/// Size at which the probability passes `needed` between two points, on the
/// log axis of size and the normal scale of probability.
fn crossing(below: (f64, f64), above: (f64, f64), needed: f64) -> f64 {
    let z = |p: f64| digits::normal::quantile(p.clamp(1e-12, 1.0 - 1e-12));
    let (from, to) = (z(below.1), z(above.1));
    let weight = if from == to { 0.5 } else { ((z(needed) - from) / (to - from)).clamp(0.0, 1.0) };
    below.0 * digits::scalar::pow(above.0 / below.0, weight)
}

/// The window at the stated inputs with its interval from the draws.
pub(super) fn combine(
    nominal: &[DetectionPoint],
    draws: &[Edges],
    probability: Probability,
) -> Window {
    let at_inputs = edges(nominal, probability);
    let with_window = draws.iter().filter(|draw| draw.smallest_um.is_some()).count();
    let interval = |pick: fn(&Edges) -> Option<f64>, um: f64| {
        let mut values: Vec<f64> = draws.iter().filter_map(pick).collect();
        values.sort_by(f64::total_cmp);
        if values.is_empty() {
            return (um, um);
        }
        (quantile(&values, 0.05).min(um), quantile(&values, 0.95).max(um))
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
pub(super) fn blind_gap(points: &[DetectionPoint], probability: Probability) -> Option<(f64, f64)> {
    let points = plain(points);
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
        let edges = edges(&points, p(0.95));
        assert!(edges.smallest_um.unwrap() > 2.0 && edges.smallest_um.unwrap() <= 4.0);
        assert!(edges.largest_um.unwrap() >= 8.0 && edges.largest_um.unwrap() < 16.0);
        assert!(!edges.largest_beyond);
        let (from, to) = blind_gap(&points, p(0.95)).unwrap();
        assert!((8.0..16.0).contains(&from) && to > 32.0 && to <= 64.0);
    }

    #[test]
    fn without_a_detectable_size_there_is_no_window() {
        let points = curve(&[0.0, 0.1, 0.2]);
        assert_eq!(edges(&points, p(0.9)).smallest_um, None);
        assert_eq!(blind_gap(&points, p(0.9)), None);
    }

    #[test]
    fn a_window_to_the_end_of_the_range_is_at_least_that() {
        let edges = edges(&curve(&[0.1, 1.0, 1.0]), p(0.9));
        assert_eq!(edges.largest_um, Some(4.0));
        assert!(edges.largest_beyond);
    }
}
