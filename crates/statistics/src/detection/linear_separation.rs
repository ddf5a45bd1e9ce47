//! Separation by several columns, as a linear program.
//!
//! Outcomes are separated when some combination of the columns is never on
//! the wrong side. Source: K. Konis (2007), after A. Albert and J. A. Anderson,
//! Biometrika 71 (1984) 1 (formulation from memory).

use super::Separation;
use super::logistic::LogisticRow;

/// Rows turned so that a separating combination is never negative.
fn turned(rows: &[LogisticRow]) -> Vec<Vec<f64>> {
    let p = rows.first().map_or(0, |row| row.columns.len());
    let mut scale = vec![0.0_f64; p];
    for row in rows {
        for (s, value) in scale.iter_mut().zip(&row.columns) {
            *s = s.max(value.abs());
        }
    }
    let mut all = Vec::new();
    for row in rows {
        let scaled = |sign: f64| {
            row.columns
                .iter()
                .zip(&scale)
                .map(|(value, s)| if *s > 0.0 { sign * value / s } else { 0.0 })
                .collect::<Vec<f64>>()
        };
        if row.hits > 0 {
            all.push(scaled(1.0));
        }
        if row.hits < row.of {
            all.push(scaled(-1.0));
        }
    }
    all
}

/// Separation of the outcomes by the columns.
pub(crate) fn of_rows(rows: &[LogisticRow]) -> Separation {
    let z = turned(rows);
    let p = z.first().map_or(0, Vec::len);
    if p == 0 {
        return Separation::None;
    }
    // Quasi: maximise the sum of z b subject to z b >= 0, -1 <= b <= 1.
    let sum: Vec<f64> = (0..p).map(|j| z.iter().map(|row| row[j]).sum()).collect();
    let objective: Vec<f64> = sum.iter().copied().chain(sum.iter().map(|v| -v)).collect();
    let mut constraints: Vec<(Vec<f64>, f64)> = z
        .iter()
        .map(|row| (row.iter().map(|v| -v).chain(row.iter().copied()).collect(), 0.0))
        .collect();
    for j in 0..2 * p {
        let mut unit = vec![0.0; 2 * p];
        unit[j] = 1.0;
        constraints.push((unit, 1.0));
    }
    if maximum(&objective, &constraints) < 1e-7 {
        return Separation::None;
    }
    // Complete: maximise the margin t with z b >= t.
    let mut objective = vec![0.0; 2 * p + 1];
    objective[2 * p] = 1.0;
    let mut wider: Vec<(Vec<f64>, f64)> = constraints
        .into_iter()
        .enumerate()
        .map(|(i, (mut row, bound))| {
            row.push(if i < z.len() { 1.0 } else { 0.0 });
            (row, bound)
        })
        .collect();
    let mut last = vec![0.0; 2 * p + 1];
    last[2 * p] = 1.0;
    wider.push((last, 1.0));
    if maximum(&objective, &wider) > 1e-9 { Separation::Complete } else { Separation::Quasi }
}

/// Maximum of a linear objective over `A u <= b`, `u >= 0`, with `b >= 0`, by
/// the simplex method with Bland's rule, which cannot cycle.
fn maximum(objective: &[f64], constraints: &[(Vec<f64>, f64)]) -> f64 {
    let (m, n) = (constraints.len(), objective.len());
    // Tableau: structural columns, slack columns, right-hand side.
    let mut table: Vec<Vec<f64>> = constraints
        .iter()
        .enumerate()
        .map(|(i, (row, bound))| {
            let mut line = row.clone();
            line.resize(n + m, 0.0);
            line[n + i] = 1.0;
            line.push(*bound);
            line
        })
        .collect();
    let mut cost: Vec<f64> = objective.iter().map(|c| -c).collect();
    cost.resize(n + m + 1, 0.0);
    let mut basis: Vec<usize> = (n..n + m).collect();
    for _ in 0..50_000 {
        let Some(entering) = (0..n + m).find(|j| cost[*j] < -1e-10) else { break };
        let mut leaving: Option<usize> = None;
        for i in 0..m {
            if table[i][entering] > 1e-10 {
                let ratio = table[i][n + m] / table[i][entering];
                let better = leaving.is_none_or(|old: usize| {
                    let best = table[old][n + m] / table[old][entering];
                    ratio < best - 1e-12 || ((ratio - best).abs() <= 1e-12 && basis[i] < basis[old])
                });
                if better {
                    leaving = Some(i);
                }
            }
        }
        let Some(row) = leaving else { return f64::INFINITY };
        let pivot = table[row][entering];
        for value in &mut table[row] {
            *value /= pivot;
        }
        let source = table[row].clone();
        for (i, line) in table.iter_mut().enumerate() {
            let factor = line[entering];
            if i != row && factor != 0.0 {
                for (value, s) in line.iter_mut().zip(&source) {
                    *value -= factor * s;
                }
            }
        }
        let factor = cost[entering];
        for (value, s) in cost.iter_mut().zip(&source) {
            *value -= factor * s;
        }
        basis[row] = entering;
    }
    cost[n + m]
}

#[cfg(test)]
mod tests {
    use super::*;

    fn rows(data: &[(u64, &[f64])]) -> Vec<LogisticRow> {
        data.iter().map(|(hit, x)| LogisticRow { hits: *hit, of: 1, columns: x.to_vec() }).collect()
    }

    #[test]
    fn a_small_program_by_hand() {
        // Maximise 3a + 2b with a + b <= 4, a <= 2: 2, 2 gives 10.
        let best = maximum(&[3.0, 2.0], &[(vec![1.0, 1.0], 4.0), (vec![1.0, 0.0], 2.0)]);
        assert!((best - 10.0).abs() < 1e-12);
    }

    #[test]
    fn separation_along_a_slanted_line() {
        let complete = rows(&[
            (0, &[1.0, 0.0, 1.0]),
            (0, &[1.0, 1.0, 0.2]),
            (1, &[1.0, 2.0, 1.5]),
            (1, &[1.0, 1.5, 2.0]),
        ]);
        assert_eq!(of_rows(&complete), Separation::Complete);
        let quasi = rows(&[(0, &[1.0, 1.0]), (1, &[1.0, 2.0]), (0, &[1.0, 2.0]), (1, &[1.0, 3.0])]);
        assert_eq!(of_rows(&quasi), Separation::Quasi);
        let mixed = rows(&[(0, &[1.0, 1.0]), (1, &[1.0, 1.5]), (0, &[1.0, 2.0]), (1, &[1.0, 3.0])]);
        assert_eq!(of_rows(&mixed), Separation::None);
    }
}
