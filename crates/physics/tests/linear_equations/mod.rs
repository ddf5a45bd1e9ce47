//! Linear equations of the kinetic tests.

/// Solves `(1 - A) u = f` by elimination with pivoting.
pub fn solve(a: &[Vec<f64>], f: &[f64]) -> Vec<f64> {
    let n = f.len();
    let mut m: Vec<Vec<f64>> = (0..n)
        .map(|i| {
            let mut row: Vec<f64> = (0..n).map(|j| f64::from(u8::from(i == j)) - a[i][j]).collect();
            row.push(f[i]);
            row
        })
        .collect();
    for k in 0..n {
        let pivot = (k..n).max_by(|&i, &j| m[i][k].abs().total_cmp(&m[j][k].abs())).expect("rows");
        m.swap(k, pivot);
        let (above, below) = m.split_at_mut(k + 1);
        let head = &above[k];
        for row in below {
            let factor = row[k] / head[k];
            for (cell, top) in row.iter_mut().zip(head).skip(k) {
                *cell -= factor * top;
            }
        }
    }
    let mut u = vec![0.0; n];
    for k in (0..n).rev() {
        let rest: f64 = (k + 1..n).map(|j| m[k][j] * u[j]).sum();
        u[k] = (m[k][n] - rest) / m[k][k];
    }
    u
}
