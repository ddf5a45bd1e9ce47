//! Sums of squares of factors one after the other, for data of any sizes.
//!
//! Each factor takes what the factors before it have left. A sum of squares is
//! a quadratic form of the values, so its expectation is exact for any
//! imbalance: `E(SS_k) = sum_j s_j^2 tr(Z_j' Q_k Z_j) + s^2 rank_k`. Balanced
//! data give the usual analysis of variance. Source: C. R. Henderson,
//! Biometrics 9 (1953) 226, method 3; S. R. Searle, G. Casella and C. E.
//! McCulloch, Variance Components (1992) (from memory).

use super::random_factors::Factor;
use crate::cannot_say::CannotSay;

/// What one factor, or the residual, takes.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Share {
    pub sum_of_squares: f64,
    pub degrees_of_freedom: f64,
    /// Variance as estimated; may be negative.
    pub variance: f64,
}

/// Shares of the factors in their order, then of the residual. `values` are
/// centred; `columns` hold the level of each value, counted from zero.
pub(super) fn shares(
    values: &[f64],
    factors: &[Factor<'_>],
    columns: &[Vec<usize>],
    levels: &[usize],
) -> Result<Vec<Share>, CannotSay> {
    let n = values.len();
    let mut basis: Vec<Vec<f64>> = vec![vec![1.0 / (n as f64).sqrt(); n]];
    let mut left = values.to_vec();
    take_off(&mut left, &basis[0]);
    let mut found: Vec<(f64, f64, Vec<f64>)> = Vec::new();
    for (k, factor) in factors.iter().enumerate() {
        let (mut squares, mut rank) = (0.0, 0.0);
        // Trace of Z_j' Q_k Z_j for this and later factors.
        let mut traces = vec![0.0; factors.len()];
        for level in 0..levels[k] {
            let mut column: Vec<f64> =
                columns[k].iter().map(|l| f64::from(u8::from(*l == level))).collect();
            let before = norm(&column);
            for _ in 0..2 {
                for direction in &basis {
                    take_off(&mut column, direction);
                }
            }
            let after = norm(&column);
            if !(after > 1e-9 * before) {
                continue;
            }
            column.iter_mut().for_each(|v| *v /= after);
            rank += 1.0;
            squares += {
                let part = take_off(&mut left, &column);
                part * part
            };
            for (j, trace) in traces.iter_mut().enumerate().skip(k) {
                let mut sums = vec![0.0; levels[j]];
                for (value, l) in column.iter().zip(&columns[j]) {
                    sums[*l] += value;
                }
                *trace += sums.iter().map(|s| s * s).sum::<f64>();
            }
            basis.push(column);
        }
        if rank == 0.0 {
            return Err(CannotSay::not_determined(
                format!(
                    "the levels of {} are already given by the factors named before it",
                    factor.name
                ),
                "Name the outer factor before the inner one, or leave one of the two out.",
            ));
        }
        found.push((squares, rank, traces));
    }
    let residual_df = n as f64 - basis.len() as f64;
    if !(residual_df > 0.0) {
        return Err(CannotSay::not_determined(
            "the factors leave no degrees of freedom for the repeats",
            "Leave out the innermost factor: without repeats it is the error.",
        ));
    }
    let squares = left.iter().map(|v| v * v).sum::<f64>();
    let error = squares / residual_df;
    let mut shares =
        vec![Share { sum_of_squares: squares, degrees_of_freedom: residual_df, variance: error }];
    // From the last factor back: later variances are known by then.
    let mut variances = vec![0.0; factors.len()];
    for (k, (squares, rank, traces)) in found.iter().enumerate().rev() {
        let later: f64 = (k + 1..factors.len()).map(|j| traces[j] * variances[j]).sum();
        variances[k] = (squares - rank * error - later) / traces[k];
        shares.push(Share {
            sum_of_squares: *squares,
            degrees_of_freedom: *rank,
            variance: variances[k],
        });
    }
    shares.reverse();
    Ok(shares)
}

fn norm(column: &[f64]) -> f64 {
    column.iter().map(|v| v * v).sum::<f64>().sqrt()
}

/// Takes the part along a direction of length one off; gives its size.
fn take_off(column: &mut [f64], direction: &[f64]) -> f64 {
    let along: f64 = column.iter().zip(direction).map(|(a, b)| a * b).sum();
    if along != 0.0 {
        column.iter_mut().zip(direction).for_each(|(a, b)| *a -= along * b);
    }
    along
}
