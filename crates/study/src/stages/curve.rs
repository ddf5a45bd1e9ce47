//! A parabola through some samples, to be carried on beyond them.

/// Least-squares parabola with what it leaves.
#[derive(Debug, Clone, Copy)]
pub(super) struct Curve {
    centre_s: f64,
    scale_s: f64,
    coefficients: [f64; 3],
    /// Standard deviation of what it leaves, Pa.
    pub(super) sd: f64,
}

impl Curve {
    /// Through the samples given; a line where there are few of them.
    pub(super) fn through(times: &[f64], values: &[f64]) -> Option<Self> {
        let n = times.len().min(values.len());
        if n < 3 {
            return None;
        }
        let (first, last) = (times[0], times[n - 1]);
        let (centre_s, scale_s) = (0.5 * (first + last), 0.5 * (last - first));
        if !(scale_s > 0.0) {
            return None;
        }
        let k = if n < 8 { 2 } else { 3 };
        let mut gram = [[0.0; 3]; 3];
        let mut cross = [0.0; 3];
        let origin = values[0];
        for (time, value) in times.iter().zip(values) {
            let x = (time - centre_s) / scale_s;
            let powers = [1.0, x, x * x];
            for i in 0..k {
                for j in 0..k {
                    gram[i][j] += powers[i] * powers[j];
                }
                cross[i] += powers[i] * (value - origin);
            }
        }
        let mut coefficients = solve(gram, cross, k)?;
        coefficients[0] += origin;
        let mut curve = Self { centre_s, scale_s, coefficients, sd: 0.0 };
        let squares: f64 =
            times.iter().zip(values).map(|(t, v)| (v - curve.at(*t)) * (v - curve.at(*t))).sum();
        curve.sd = (squares / (n - k).max(1) as f64).sqrt();
        Some(curve)
    }

    /// Its value at a time.
    pub(super) fn at(&self, time: f64) -> f64 {
        let x = (time - self.centre_s) / self.scale_s;
        let [a, b, c] = self.coefficients;
        a + x * (b + x * c)
    }
}

/// Gaussian elimination with the largest pivot; `None` where times coincide.
fn solve(mut gram: [[f64; 3]; 3], mut cross: [f64; 3], k: usize) -> Option<[f64; 3]> {
    for column in 0..k {
        let pivot =
            (column..k).max_by(|a, b| gram[*a][column].abs().total_cmp(&gram[*b][column].abs()))?;
        if !(gram[pivot][column].abs() > 1e-12) {
            return None;
        }
        gram.swap(column, pivot);
        cross.swap(column, pivot);
        let pivot_row = gram[column];
        for row in column + 1..k {
            let factor = gram[row][column] / pivot_row[column];
            for (slot, of_pivot) in gram[row].iter_mut().zip(pivot_row).skip(column) {
                *slot -= factor * of_pivot;
            }
            cross[row] -= factor * cross[column];
        }
    }
    let mut found = [0.0; 3];
    for row in (0..k).rev() {
        let known: f64 = (row + 1..k).map(|place| gram[row][place] * found[place]).sum();
        found[row] = (cross[row] - known) / gram[row][row];
    }
    Some(found)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_parabola_is_given_back_and_carried_on() {
        let times: Vec<f64> = (0..20).map(|i| 5.0 + 0.1 * f64::from(i)).collect();
        let values: Vec<f64> = times.iter().map(|t| 3.0 - 2.0 * t + 0.5 * t * t).collect();
        let curve = Curve::through(&times, &values).expect("a curve");
        assert!(curve.sd < 1e-9 && (curve.at(0.0) - 3.0).abs() < 1e-9);
        assert!(Curve::through(&[1.0, 1.0, 1.0], &[1.0, 2.0, 3.0]).is_none());
    }
}
