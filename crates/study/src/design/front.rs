//! The front of time against smallest leak.

/// Places of the candidates of which none other is both quicker and finer, by
/// rising time. Candidates are given as time and smallest size.
pub(super) fn front(candidates: &[(f64, f64)]) -> Vec<usize> {
    let mut order: Vec<usize> = (0..candidates.len()).collect();
    order.sort_by(|&a, &b| {
        let (left, right) = (candidates[a], candidates[b]);
        left.0.total_cmp(&right.0).then(left.1.total_cmp(&right.1)).then(a.cmp(&b))
    });
    let mut finest = f64::INFINITY;
    order.retain(|&place| {
        let finer = candidates[place].1 < finest;
        if finer {
            finest = candidates[place].1;
        }
        finer
    });
    order
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn the_dominated_are_left_out() {
        let candidates = [(10.0, 5.0), (12.0, 6.0), (12.0, 3.0), (20.0, 3.0), (30.0, 1.0)];
        assert_eq!(front(&candidates), vec![0, 2, 4]);
    }

    proptest! {
        #[test]
        fn nobody_beats_the_front(points in prop::collection::vec((0.0..50.0f64, 0.0..9.0f64), 1..40)) {
            let chosen = front(&points);
            for &place in &chosen {
                let better = points.iter().any(|point| {
                    point.0 <= points[place].0 && point.1 < points[place].1
                });
                prop_assert!(!better);
            }
            let falls = chosen.windows(2).all(|pair| {
                points[pair[0]].0 <= points[pair[1]].0 && points[pair[0]].1 > points[pair[1]].1
            });
            prop_assert!(falls);
        }
    }
}
