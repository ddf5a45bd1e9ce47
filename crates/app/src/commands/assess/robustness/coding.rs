//! Levels of a filled table turned into coded units, -1 for low and 1 for high.

use std::path::Path;

use intake::result_table::Table;

use super::factor::Factor;
use crate::commands::assess::tables;
use crate::fault::Fault;

/// Runs in coded units, one row each; factors get the levels found.
pub fn coded(path: &Path, table: &Table, factors: &mut [Factor]) -> Result<Vec<Vec<f64>>, Fault> {
    let mut rows = vec![Vec::with_capacity(factors.len()); table.n_rows()];
    for factor in factors {
        let values = tables::numbers(path, table, &factor.name)?;
        let (low, high) = match factor.levels {
            Some(levels) => levels,
            None => levels(&factor.name, &values)?,
        };
        factor.levels = Some((low, high));
        let (middle, half) = (0.5 * (low + high), 0.5 * (high - low));
        for (row, value) in rows.iter_mut().zip(values) {
            let place = (value - middle) / half;
            // Levels are set by hand: the last digits of the arithmetic are not.
            let near = [-1.0, 0.0, 1.0].into_iter().find(|at| (place - at).abs() < 1e-9);
            row.push(near.unwrap_or(place));
        }
    }
    Ok(rows)
}

/// Low and high level from the values of a column.
fn levels(name: &str, values: &[f64]) -> Result<(f64, f64), Fault> {
    let mut distinct = values.to_vec();
    distinct.sort_by(f64::total_cmp);
    distinct.dedup();
    match distinct[..] {
        [low, high] | [low, _, high] => Ok((low, high)),
        // Axial runs lie outside the factorial ones.
        [_, low, _, high, _] => Ok((low, high)),
        [_] => Err(Fault::users(
            format!("the factor {name} has one level in every run"),
            "leave it out, or name the column that was varied",
        )),
        _ => Err(Fault::users(
            format!("the factor {name} has {} levels: low and high are not plain", distinct.len()),
            format!("write --factor {name}=LOW,HIGH"),
        )),
    }
}
