//! Round channel: entrance, kinetic channel integral and sonic exit in series.

use digits::scalar::{ln, pow};

/// Free-molecular limit of the coefficient, `8 / (3 sqrt(π))`.
const MOLECULAR_LIMIT: f64 = 1.504_505_556_127_35;

/// Rarefaction and conductance coefficient `G` of a long tube, diffuse wall:
/// linearised BGK equation solved as an integral equation.
/// Source: physics.md 1.4 (independent program, converged to 2e-5).
const LONG_TUBE: [(f64, f64); 23] = [
    (0.001, 1.49949),
    (0.01, 1.47631),
    (0.02, 1.46030),
    (0.04, 1.43859),
    (0.08, 1.41254),
    (0.1, 1.40396),
    (0.2, 1.38159),
    (0.4, 1.37901),
    (0.6, 1.39747),
    (0.8, 1.42527),
    (1.0, 1.45829),
    (1.5, 1.55323),
    (2.0, 1.65765),
    (3.0, 1.87999),
    (4.0, 2.11162),
    (5.0, 2.34833),
    (7.0, 2.83025),
    (10.0, 3.56412),
    (15.0, 4.79976),
    (20.0, 6.04195),
    (30.0, 8.53370),
    (50.0, 13.5267),
    (100.0, 26.0203),
];

/// Conductance coefficient of a long tube by interpolation in the kinetic
/// table; the second route beside [`channel_conductance_fit`].
///
/// Below δ = 0.001 the free-molecular limit, above 100 `δ/4 + 1.0162 + 0.41/δ`,
/// which meets the table there.
#[must_use]
pub fn channel_conductance_coefficient(rarefaction: f64) -> f64 {
    let d = rarefaction;
    if d > 100.0 {
        return d / 4.0 + 1.0162 + 0.41 / d;
    }
    if d <= LONG_TUBE[0].0 {
        let share = (d / LONG_TUBE[0].0).clamp(0.0, 1.0);
        return MOLECULAR_LIMIT + share * (LONG_TUBE[0].1 - MOLECULAR_LIMIT);
    }
    super::slit::interpolate_in_log(&LONG_TUBE, 0.25, d)
}

/// Conductance coefficient of a long tube, closed form.
///
/// `G = (1.50451 + 0.18053 δ^0.68694 ln δ)/(1 + 0.60741 δ)
///      + (δ/4 + 1.0162) δ/(1.43622 + δ)`
///
/// Within 0.6 % of the kinetic table for δ from 0.001 to 100.
/// Source: physics.md 1.4, least squares (independent program).
#[must_use]
pub fn channel_conductance_fit(rarefaction: f64) -> f64 {
    let d = rarefaction;
    if d < 1e-9 {
        return MOLECULAR_LIMIT;
    }
    let ln_d = ln(d);
    (MOLECULAR_LIMIT + 0.180_527_4 * pow(d, 0.686_94) * ln_d) / (1.0 + 0.607_411 * d)
        + (d / 4.0 + 1.0162) * d / (1.436_217 + d)
}

/// Abscissae and weights of Gauss-Legendre quadrature with ten points, half.
const GAUSS: [(f64, f64); 5] = [
    (0.973_906_528_517_171_7, 0.066_671_344_308_688_1),
    (0.865_063_366_688_984_5, 0.149_451_349_150_580_6),
    (0.679_409_568_299_024_4, 0.219_086_362_515_982_04),
    (0.433_395_394_129_247_2, 0.269_266_719_309_996_35),
    (0.148_874_338_981_631_22, 0.295_524_224_714_752_87),
];

/// The channel element: its shape enters through `dip_weight` and the length
/// with its end correction.
#[derive(Debug, Clone, Copy)]
pub(super) struct ChannelLaw {
    /// 1 for a very short channel, 0 for a long one: suppresses the Knudsen
    /// minimum, which short channels do not show.
    pub dip_weight: f64,
    /// Length over radius, with the end length of Santeler.
    pub effective_length_over_radius: f64,
}

impl ChannelLaw {
    /// `w = 1/(1 + L/(10 a))`, effective length `L (1 + 1/(3 + 3L/(7a)))`.
    pub fn new(length_over_radius: f64) -> Self {
        let l = length_over_radius;
        Self {
            dip_weight: 1.0 / (1.0 + l / 10.0),
            effective_length_over_radius: l * (1.0 + 1.0 / (3.0 + 3.0 * l / 7.0)),
        }
    }

    /// Depth of the Knudsen minimum of a long channel below a straight rise.
    pub fn dip(rarefaction: f64) -> f64 {
        (MOLECULAR_LIMIT + rarefaction / 4.0 - channel_conductance_fit(rarefaction)).max(0.0)
    }

    /// Coefficient with the dip suppressed.
    pub fn coefficient(&self, rarefaction: f64) -> f64 {
        let g = channel_conductance_fit(rarefaction);
        g + self.dip_weight * (MOLECULAR_LIMIT + rarefaction / 4.0 - g).max(0.0)
    }

    /// Mean of the coefficient between two rarefactions.
    pub fn mean_coefficient(&self, high: f64, low: f64) -> f64 {
        let (middle, half) = (0.5 * (high + low), 0.5 * (high - low));
        GAUSS.iter().fold(0.0, |sum, &(x, weight)| {
            sum + 0.5
                * weight
                * (self.coefficient(middle + half * x) + self.coefficient(middle - half * x))
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn closed_form_follows_the_kinetic_table() {
        for (rarefaction, value) in LONG_TUBE {
            let error = channel_conductance_fit(rarefaction) / value - 1.0;
            assert!(error.abs() < 0.0062, "{rarefaction}: {error}");
        }
    }

    #[test]
    fn interpolation_meets_its_own_points_and_joins_the_limits() {
        for (rarefaction, value) in LONG_TUBE {
            assert!((channel_conductance_coefficient(rarefaction) / value - 1.0).abs() < 1e-9);
        }
        let step =
            channel_conductance_coefficient(100.001) / channel_conductance_coefficient(100.0);
        assert!((step - 1.0).abs() < 2e-4);
    }
}
