//! Numerical integration over fixed nodes.

use digits::scalar::cos;

/// Nodes and weights of the Gauss-Legendre rule on `low` to `high`.
///
/// Nodes are the zeros of the Legendre polynomial, by Newton's method from
/// the usual cosine (Abramowitz and Stegun 25.4.30, from memory).
pub(crate) fn gauss_legendre(count: usize, low: f64, high: f64) -> Vec<(f64, f64)> {
    let (middle, half) = (0.5 * (low + high), 0.5 * (high - low));
    let n = count as f64;
    (0..count)
        .map(|i| {
            let mut x = cos(core::f64::consts::PI * (i as f64 + 0.75) / (n + 0.5));
            let mut slope = 1.0;
            for _ in 0..100 {
                let (mut p, mut before) = (1.0, 0.0);
                for j in 0..count {
                    let j = j as f64;
                    let next = ((2.0 * j + 1.0) * x * p - j * before) / (j + 1.0);
                    before = p;
                    p = next;
                }
                slope = n * (x * p - before) / (x * x - 1.0);
                let step = p / slope;
                x -= step;
                if step.abs() < 1e-15 {
                    break;
                }
            }
            (middle - half * x, 2.0 * half / ((1.0 - x * x) * slope * slope))
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn exact_for_polynomials() {
        let rule = gauss_legendre(6, 0.0, 2.0);
        let integral: f64 = rule.iter().map(|(x, w)| w * digits::scalar::powi(*x, 11)).sum();
        assert!((integral - 4096.0 / 12.0).abs() < 1e-10);
    }
}
