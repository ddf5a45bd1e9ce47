//! What every size proves by itself: exact bounds without a curve.

use statistics::detection::HitMiss;
use statistics::proportions::{ProportionBounds, clopper_pearson};

use crate::fault::Fault;

/// Sizes in order, with their exact bounds.
pub fn by_size(data: &[HitMiss], confidence: f64) -> Result<Vec<(f64, ProportionBounds)>, Fault> {
    let mut rows: Vec<(f64, u64, u64)> = Vec::new();
    let mut sorted: Vec<&HitMiss> = data.iter().filter(|row| row.of > 0).collect();
    sorted.sort_by(|a, b| a.size.total_cmp(&b.size));
    for row in sorted {
        match rows.last_mut() {
            Some(last) if last.0 == row.size => {
                last.1 += row.hits;
                last.2 += row.of;
            }
            _ => rows.push((row.size, row.hits, row.of)),
        }
    }
    rows.into_iter()
        .map(|(size, hits, of)| Ok((size, clopper_pearson(hits, of, confidence)?)))
        .collect()
}
