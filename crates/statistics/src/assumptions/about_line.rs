//! What is left of points about a line: curvature, and scatter that grows.

use super::order;
use crate::note::Assumption;

/// Residuals in the order of their place along the line.
pub(crate) fn along(places: &[f64], residuals: &[f64]) -> Vec<f64> {
    let mut order: Vec<usize> = (0..places.len()).collect();
    order.sort_by(|a, b| places[*a].total_cmp(&places[*b]));
    order.into_iter().map(|i| residuals[i]).collect()
}

/// A straight relation: neighbours along the line are not alike.
pub(crate) fn straight(name: &'static str, along: &[f64]) -> Assumption {
    super::independent(name, along)
}

/// Scatter that neither grows nor shrinks along the line, by Mann and Kendall
/// on the sizes of the residuals at 1 %.
pub(crate) fn even_scatter(name: &'static str, along: &[f64]) -> Assumption {
    let sizes: Vec<f64> = along.iter().map(|rest| rest.abs()).collect();
    let test = "Mann-Kendall on the sizes of the residuals";
    match order::mann_kendall(&sizes) {
        Ok(found) => Assumption::tested(
            name,
            test,
            found.p_value,
            0.01,
            format!("S = {}, p = {:.4}.", found.s, found.p_value),
        ),
        Err(reason) => Assumption::refused(name, test, &reason),
    }
}

/// A straight relation by the running sum of signs about the line, at 5 %.
///
/// Points above count `sqrt(below/above)`, points below the opposite, so that
/// the sum ends at zero; its largest distance from zero over the root of the
/// number follows Kolmogorov's distribution. Source: H. Passing and W. Bablok,
/// J. Clin. Chem. Clin. Biochem. 21 (1983) 709 for the idea (from memory).
pub(crate) fn running_signs(name: &'static str, along: &[f64]) -> Assumption {
    let test = "running sum of signs about the line";
    let above = along.iter().filter(|rest| **rest > 0.0).count() as f64;
    let below = along.iter().filter(|rest| **rest < 0.0).count() as f64;
    let n = above + below;
    if n < 8.0 || above == 0.0 || below == 0.0 {
        let reason = "fewer than eight points lie off the line, or all on one side";
        return Assumption::unchecked(name, test, reason);
    }
    let (mut sum, mut largest) = (0.0_f64, 0.0_f64);
    for rest in along {
        if *rest > 0.0 {
            sum += (below / above).sqrt();
        } else if *rest < 0.0 {
            sum -= (above / below).sqrt();
        }
        largest = largest.max(sum.abs());
    }
    let distance = largest / n.sqrt();
    let p = kolmogorov(distance);
    Assumption::tested(name, test, p, 0.05, format!("Distance {distance:.3}, p = {p:.4}."))
}

/// Probability of a distance at least so large between a bridge and zero.
fn kolmogorov(distance: f64) -> f64 {
    if distance < 0.2 {
        return 1.0;
    }
    let mut total = 0.0;
    let mut sign = 1.0;
    for k in 1..=40 {
        let k = f64::from(k);
        total += sign * digits::scalar::exp(-2.0 * k * k * distance * distance);
        sign = -sign;
    }
    (2.0 * total).clamp(0.0, 1.0)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// 5 % and 1 % points of Kolmogorov's distribution, 1.358 and 1.628 (common
    /// tables).
    #[test]
    fn kolmogorovs_table() {
        assert!((kolmogorov(1.3581) - 0.05).abs() < 1e-4);
        assert!((kolmogorov(1.6276) - 0.01).abs() < 1e-4);
        assert_eq!(kolmogorov(0.1), 1.0);
    }
}
