//! Flat gap: seal channel, stopper-glass gap.

use digits::scalar::ln;

/// `1/sqrt(π)`.
const INVERSE_ROOT_PI: f64 = 0.564_189_583_547_756_3;

/// Rarefaction (full height) and coefficient `G` of a long plane gap, diffuse
/// walls: linearised BGK. Source: physics.md 1.4 (independent program).
const LONG_SLIT: [(f64, f64); 23] = [
    (0.001, 4.27361),
    // Not in the note: solution of the same equation in tests/kinetic_slit.rs.
    (0.003, 3.67639),
    (0.01, 3.04965),
    (0.02, 2.7111),
    (0.04, 2.3970),
    (0.08, 2.1151),
    (0.1, 2.03271),
    (0.2, 1.80821),
    (0.4, 1.6409),
    (0.6, 1.5762),
    (0.8, 1.54828),
    (1.0, 1.53868),
    (1.5, 1.55347),
    (2.0, 1.59486),
    (3.0, 1.71050),
    (4.0, 1.8455),
    (5.0, 1.99077),
    (7.0, 2.29493),
    (10.0, 2.76863),
    (15.0, 3.57769),
    (20.0, 4.39721),
    (30.0, 6.04813),
    (50.0, 9.36068),
];

/// Free-molecular transmission of a plane gap against depth over height,
/// Clausing's integral equation. Source: physics.md 1.6 (independent program).
const TRANSMISSION: [(f64, f64); 7] = [
    (0.1, 0.952_452),
    (0.5, 0.804_724),
    (1.0, 0.684_381),
    (2.0, 0.542_058),
    (5.0, 0.356_409),
    (10.0, 0.240_557),
    (100.0, 0.047_091),
];

/// Interpolates a table of positive abscissae by a piecewise cubic in the
/// logarithm (Catmull-Rom slopes; the table must be smooth and dense). What grows
/// in proportion to `x`, `slope_of_x x`, is set apart: its logarithm is no cubic.
pub(super) fn interpolate_in_log(table: &[(f64, f64)], slope_of_x: f64, x: f64) -> f64 {
    let upper = table.partition_point(|point| point.0 < x).clamp(1, table.len() - 1);
    let lower = upper - 1;
    let at = |index: usize| (ln(table[index].0), table[index].1 - slope_of_x * table[index].0);
    let ((x0, y0), (x1, y1)) = (at(lower), at(upper));
    let secant = (y1 - y0) / (x1 - x0);
    // Slope at an inner point: the derivative of the parabola through three.
    let slope = |index: usize| {
        if index == 0 || index + 1 == table.len() {
            return None;
        }
        let ((xa, ya), (xb, yb), (xc, yc)) = (at(index - 1), at(index), at(index + 1));
        let (left, right) = ((yb - ya) / (xb - xa), (yc - yb) / (xc - xb));
        Some((left * (xc - xb) + right * (xb - xa)) / (xc - xa))
    };
    let s0 = slope(lower);
    let s1 = slope(upper);
    // At an end the parabola's own slope: 2 secant - slope of the neighbour.
    let first = s0.unwrap_or_else(|| 2.0 * secant - s1.unwrap_or(secant));
    let second = s1.unwrap_or_else(|| 2.0 * secant - s0.unwrap_or(secant));
    let width = x1 - x0;
    let t = (ln(x) - x0) / width;
    let (u, v) = (1.0 - t, t);
    slope_of_x * x
        + u * u * (1.0 + 2.0 * v) * y0
        + v * v * (1.0 + 2.0 * u) * y1
        + width * u * v * (u * first - v * second)
}

/// Conductance coefficient of an endless plane gap of endless width.
///
/// Above δ = 50 `δ/6 + 1.0162`; towards zero it grows as `-ln δ / sqrt(π)`,
/// which a real gap of finite depth cuts off.
#[must_use]
pub fn slit_conductance_coefficient(rarefaction: f64) -> f64 {
    let d = rarefaction;
    let last = LONG_SLIT[LONG_SLIT.len() - 1];
    if d > last.0 {
        // The remainder of the table's last row decays as 1/δ.
        return d / 6.0 + 1.0162 + (last.1 - last.0 / 6.0 - 1.0162) * last.0 / d;
    }
    if d < LONG_SLIT[0].0 {
        return LONG_SLIT[0].1 + INVERSE_ROOT_PI * (ln(LONG_SLIT[0].0) - ln(d.max(1e-300)));
    }
    interpolate_in_log(&LONG_SLIT, 1.0 / 6.0, d)
}

/// The slit element of a gap of finite depth.
#[derive(Debug, Clone, Copy)]
pub(super) struct SlitLaw {
    /// Free-molecular coefficient of this depth.
    pub molecular: f64,
}

impl SlitLaw {
    /// The free-molecular transmission `W` of the whole gap is an opening in
    /// series with the gap proper, `1/W = 1 + 1/W_gap`; its coefficient is
    /// `W_gap (L/h) / sqrt(π)`.
    pub fn new(depth_over_height: f64) -> Self {
        let l = depth_over_height;
        let coefficient = |(l, w): (f64, f64)| (l, w / (1.0 - w) * l * INVERSE_ROOT_PI);
        let table = TRANSMISSION.map(coefficient);
        let (first, last) = (table[0], table[table.len() - 1]);
        // L -> 0: W = 1 - L/(2h), so the coefficient tends to 2/sqrt(π).
        let molecular = if l < first.0 {
            let limit = 2.0 * INVERSE_ROOT_PI;
            limit + (first.1 - limit) * l / first.0
        } else if l > last.0 {
            last.1 + INVERSE_ROOT_PI * (ln(l) - ln(last.0))
        } else {
            interpolate_in_log(&table, 0.0, l)
        };
        Self { molecular }
    }

    /// Rarefaction up to which the finite depth cuts the coefficient off; zero
    /// where none is found.
    pub fn cut(&self) -> f64 {
        let excess = |d: f64| slit_conductance_coefficient(d) - d / 6.0 - self.molecular;
        crate::roots::bracketed_root(excess, 1e-12, 1e6).unwrap_or(0.0)
    }

    /// Coefficient: the endless gap, cut off by the finite depth.
    pub fn coefficient(&self, rarefaction: f64) -> f64 {
        slit_conductance_coefficient(rarefaction).min(self.molecular + rarefaction / 6.0)
    }

    /// Mean of the coefficient between two rarefactions; three panels of
    /// Simpson's rule in the logarithm would miss zero, so Gauss in two halves.
    pub fn mean_coefficient(&self, high: f64, low: f64) -> f64 {
        const POINTS: [(f64, f64); 5] = [
            (-0.906_179_845_938_664, 0.236_926_885_056_189_08),
            (-0.538_469_310_105_683_1, 0.478_628_670_499_366_47),
            (0.0, 0.568_888_888_888_888_9),
            (0.538_469_310_105_683_1, 0.478_628_670_499_366_47),
            (0.906_179_845_938_664, 0.236_926_885_056_189_08),
        ];
        // Panels shrink towards the low end, where the coefficient bends.
        let width = high - low;
        let edges = [low, low + 0.01 * width, low + 0.1 * width, low + 0.4 * width, high];
        let integral = edges.windows(2).fold(0.0, |sum, edge| {
            let (middle, half) = (0.5 * (edge[0] + edge[1]), 0.5 * (edge[1] - edge[0]));
            POINTS
                .iter()
                .fold(sum, |sum, &(x, w)| sum + half * w * self.coefficient(middle + half * x))
        });
        if width > 0.0 { integral / width } else { self.coefficient(high) }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_table_joins_both_limits() {
        for point in [0.001, 50.0] {
            let (below, above) = (
                slit_conductance_coefficient(point * (1.0 - 1e-9)),
                slit_conductance_coefficient(point * (1.0 + 1e-9)),
            );
            assert!((below / above - 1.0).abs() < 1e-7);
        }
    }

    #[test]
    fn a_gap_without_depth_has_the_limit_of_the_opening() {
        assert!((SlitLaw::new(1e-9).molecular - 2.0 * INVERSE_ROOT_PI).abs() < 1e-8);
    }
}
