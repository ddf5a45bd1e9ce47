//! Labels side by side without touching: each as near to its wanted place as
//! the others allow.

/// Places for labels of given heights near their wanted centres, at least
/// `gap` apart and within `low` to `high`.
///
/// The result is in the order of the input. Labels that touch form a block
/// that sits at the mean of what its members want, so that the sum of squared
/// shifts is smallest. Where all together need more room than there is, they
/// are packed from `low` on.
#[must_use]
pub fn spread(wanted: &[f64], heights: &[f64], gap: f64, low: f64, high: f64) -> Vec<f64> {
    let mut order: Vec<usize> = (0..wanted.len().min(heights.len())).collect();
    order.sort_by(|&left, &right| wanted[left].total_cmp(&wanted[right]));
    let mut blocks: Vec<Block> = Vec::new();
    for &index in &order {
        blocks.push(Block {
            members: vec![index],
            height: heights[index],
            first: wanted[index] - heights[index] / 2.0,
        });
        settle_last(&mut blocks, low, high);
        while blocks.len() > 1 {
            let (upper, lower) = (&blocks[blocks.len() - 2], &blocks[blocks.len() - 1]);
            if upper.first + upper.height + gap <= lower.first {
                break;
            }
            merge_last(&mut blocks, wanted, heights, gap);
            settle_last(&mut blocks, low, high);
        }
    }
    let mut places = vec![0.0; wanted.len()];
    for block in &blocks {
        let mut edge = block.first;
        for &index in &block.members {
            places[index] = edge + heights[index] / 2.0;
            edge += heights[index] + gap;
        }
    }
    places
}

struct Block {
    members: Vec<usize>,
    height: f64,
    first: f64,
}

fn settle_last(blocks: &mut [Block], low: f64, high: f64) {
    if let Some(block) = blocks.last_mut() {
        block.first = block.first.min(high - block.height).max(low);
    }
}

fn merge_last(blocks: &mut Vec<Block>, wanted: &[f64], heights: &[f64], gap: f64) {
    let (Some(lower), Some(mut upper)) = (blocks.pop(), blocks.pop()) else { return };
    upper.members.extend(lower.members);
    upper.height += gap + lower.height;
    let mut offset = 0.0;
    let mut sum = 0.0;
    for &index in &upper.members {
        sum += wanted[index] - heights[index] / 2.0 - offset;
        offset += heights[index] + gap;
    }
    upper.first = sum / upper.members.len() as f64;
    blocks.push(upper);
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn two_that_collide_move_apart_equally() {
        let places = spread(&[50.0, 50.0], &[10.0, 10.0], 2.0, 0.0, 100.0);
        assert_eq!(places, [44.0, 56.0]);
    }

    #[test]
    fn one_that_is_free_stays() {
        assert_eq!(spread(&[20.0, 80.0], &[10.0, 10.0], 2.0, 0.0, 100.0), [20.0, 80.0]);
    }

    #[test]
    fn edges_hold() {
        assert_eq!(spread(&[-5.0], &[10.0], 2.0, 0.0, 100.0), [5.0]);
        assert_eq!(spread(&[120.0], &[10.0], 2.0, 0.0, 100.0), [95.0]);
    }

    proptest! {
        #![proptest_config(ProptestConfig::with_cases(64))]
        #[test]
        fn labels_never_overlap_and_stay_inside(wanted in proptest::collection::vec(0.0_f64..400.0, 1..15)) {
            let heights: Vec<f64> = wanted.iter().map(|w| 8.0 + (w % 3.0) * 4.0).collect();
            let places = spread(&wanted, &heights, 2.0, 0.0, 400.0);
            let mut order: Vec<usize> = (0..places.len()).collect();
            order.sort_by(|&a, &b| places[a].total_cmp(&places[b]));
            for pair in order.windows(2) {
                let below = places[pair[0]] + heights[pair[0]] / 2.0;
                prop_assert!(below + 2.0 <= places[pair[1]] - heights[pair[1]] / 2.0 + 1e-9);
            }
            for (place, height) in places.iter().zip(&heights) {
                prop_assert!(*place - height / 2.0 >= -1e-9 && *place + height / 2.0 <= 400.0 + 1e-9);
            }
        }
    }
}
