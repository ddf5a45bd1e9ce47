//! Probability that several responses lie within limits at once.
//!
//! Multivariate Student's t: one scale for all, correlated normals over it.
//! Conditioned one after the other on a set of points that fills the cube
//! evenly. Source: A. Genz and F. Bretz, Computation of Multivariate Normal and
//! t Probabilities (2009) for the order of conditioning (from memory).

use crate::distributions::{chi_squared, normal};
use digits::sobol::Sobol;

/// Points of the cube; a power of two.
const POINTS: u32 = 1024;

/// A multivariate t with its points.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct JointT {
    /// Lower triangle of the root of the correlation.
    root: Vec<Vec<f64>>,
    /// Scale and uniform numbers of each point.
    points: Vec<(f64, Vec<f64>)>,
}

/// Lower triangle of the root of a correlation; responses that depend on each
/// other keep a rest too small to matter.
fn triangle(correlation: &[Vec<f64>]) -> Vec<Vec<f64>> {
    let n = correlation.len();
    let mut root = vec![vec![0.0; n]; n];
    for i in 0..n {
        for j in 0..=i {
            let taken: f64 = (0..j).map(|k| root[i][k] * root[j][k]).sum();
            root[i][j] = if i == j {
                (1.0 - taken).max(1e-10).sqrt()
            } else {
                (correlation[i][j] - taken) / root[j][j]
            };
        }
    }
    root
}

impl JointT {
    /// For a correlation and degrees of freedom; `None` for more responses than
    /// the points have dimensions.
    pub(super) fn new(correlation: &[Vec<f64>], degrees_of_freedom: f64) -> Option<Self> {
        let n = correlation.len();
        let sequence = Sobol::new(n, 20_251_125)?;
        let points = (0..POINTS)
            .map(|index| {
                let share = sequence.at(index, 0).clamp(1e-12, 1.0 - 1e-12);
                let chi = chi_squared::quantile(share, degrees_of_freedom);
                let rest = (1..n).map(|j| sequence.at(index, j)).collect();
                ((chi / degrees_of_freedom).sqrt(), rest)
            })
            .collect();
        Some(Self { root: triangle(correlation), points })
    }

    /// Probability that every response lies between its limits, given as
    /// distances from the centre over the scale of each.
    pub(super) fn within(&self, limits: &[(f64, f64)]) -> f64 {
        let mut total = 0.0;
        let mut drawn = vec![0.0; limits.len()];
        for (scale, uniform) in &self.points {
            let mut product = 1.0;
            for (i, (low, high)) in limits.iter().enumerate() {
                let own = self.root[i][i];
                let given: f64 = (0..i).map(|k| self.root[i][k] * drawn[k]).sum();
                let below = |limit: f64| normal::cumulative((scale * limit - given) / own);
                let from = if *low == f64::NEG_INFINITY { 0.0 } else { below(*low) };
                let to = if *high == f64::INFINITY { 1.0 } else { below(*high) };
                product *= (to - from).max(0.0);
                if i + 1 < limits.len() {
                    let share = from + uniform[i] * (to - from);
                    drawn[i] = normal::quantile(share.clamp(1e-15, 1.0 - 1e-15));
                }
            }
            total += product;
        }
        (total / f64::from(POINTS)).clamp(0.0, 1.0)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Quadrant of two responses: 1/4 + asin(r) / 2 pi, whatever the degrees
    /// of freedom (W. F. Sheppard 1899).
    #[test]
    fn quadrants_are_known() {
        let sixth = core::f64::consts::FRAC_PI_6;
        for (r, asin) in [
            (-0.95, -1.253_235_897_5),
            (-0.5, -sixth),
            (0.0, 0.0),
            (0.5, sixth),
            (0.8, 0.927_295_218_0),
            (0.999, 1.526_071_239_6),
        ] {
            let joint = JointT::new(&[vec![1.0, r], vec![r, 1.0]], 5.0).unwrap();
            let found = joint.within(&[(0.0, f64::INFINITY), (0.0, f64::INFINITY)]);
            let exact = 0.25 + asin / (2.0 * core::f64::consts::PI);
            assert!((found - exact).abs() < 6e-4, "{r}: {found} {exact}");
        }
    }

    #[test]
    fn one_response_is_students_t_and_equal_ones_are_one() {
        use crate::distributions::student_t;
        let wide = 1.3;
        let exact = student_t::cumulative(wide, 4.0);
        let one = JointT::new(&[vec![1.0]], 4.0).unwrap();
        assert!((one.within(&[(f64::NEG_INFINITY, wide)]) - exact).abs() < 5e-4);
        let twins = JointT::new(&[vec![1.0, 1.0], vec![1.0, 1.0]], 4.0).unwrap();
        let both = twins.within(&[(f64::NEG_INFINITY, wide), (f64::NEG_INFINITY, wide)]);
        assert!((both - exact).abs() < 1e-3, "{both} {exact}");
        let too_many = digits::sobol::MOST_DIMENSIONS + 1;
        assert!(JointT::new(&vec![vec![0.0; too_many]; too_many], 4.0).is_none());
    }
}
