//! What every size proves by itself: exact bounds without a curve.

use serde_json::{Value, json};
use statistics::detection::HitMiss;
use statistics::proportions::{ProportionBounds, clopper_pearson};

use crate::answer::number;
use crate::fault::Fault;
use crate::table_text::{plain, table};

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

/// The shares found by size with their bounds.
pub fn by_size_table(by_size: &[(f64, ProportionBounds)]) -> String {
    let rows: Vec<Vec<String>> = by_size
        .iter()
        .map(|(size, bounds)| {
            vec![
                plain(*size, 4),
                format!("{} of {}", bounds.hits, bounds.of),
                format!("{:.1} %", bounds.one_sided_lower * 100.0),
            ]
        })
        .collect();
    table(&["size", "found", "lower bound"], &rows)
}

/// The same as JSON.
pub fn by_size_json(by_size: &[(f64, ProportionBounds)]) -> Value {
    by_size
        .iter()
        .map(|(size, bounds)| {
            json!({
                "size": number(*size),
                "hits": bounds.hits,
                "of": bounds.of,
                "one_sided_lower": number(bounds.one_sided_lower),
            })
        })
        .collect()
}
