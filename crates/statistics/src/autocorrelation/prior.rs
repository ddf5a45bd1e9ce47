//! What a correlation is taken to weigh before the readings are seen.
//!
//! No smooth prior lets short records hold as often as they say: even in the angle
//! `asin rho` (Jeffreys) ten independent values hold 0.98 and ten of correlation
//! 0.8 hold 0.90. So the logarithm of the prior was set by simulation for twelve
//! lengths, piecewise straight in the angle, to bring the real confidence of 95 %
//! intervals to 0.95 at correlations from -0.6 to 0.9 (a program in numpy, seed 5,
//! 2500 to 6000 records each; least squares of the excess, drawn towards the
//! prior of the next longer record). Between the lengths it is straight in their
//! logarithm, and from a thousand values on even in the angle. Checked with
//! another seed and other lengths: `docs/coverage.md`.

use digits::scalar;

/// Correlations at which the prior is given.
const CORRELATIONS: [f64; 8] = [-0.95, -0.6, -0.2, 0.2, 0.5, 0.75, 0.9, 0.98];

/// Lengths of a record, with the logarithm of the prior at each correlation.
const BY_LENGTH: [(f64, [f64; 8]); 13] = [
    (4.0, [6.65, -0.18, 0.00, 0.10, 0.45, 1.34, 3.21, 7.21]),
    (6.0, [7.65, 0.36, 0.00, -0.27, -0.24, 0.34, 1.91, 6.74]),
    (8.0, [6.54, 4.69, 0.00, -0.33, -0.36, 0.19, 2.06, 5.36]),
    (10.0, [2.67, 1.57, 0.00, -2.83, -3.32, -3.26, -2.45, 1.55]),
    (14.0, [1.15, 0.37, 0.00, -1.92, -3.53, -3.92, -3.03, -0.30]),
    (20.0, [0.92, -0.04, 0.00, -0.58, -2.85, -3.83, -3.25, -0.84]),
    (28.0, [0.73, 0.89, 0.00, 0.00, -0.51, -2.43, -2.29, -0.93]),
    (40.0, [0.56, 0.71, 0.00, 0.14, -0.56, -1.50, -1.81, -1.64]),
    (60.0, [0.50, 0.37, 0.00, -0.05, -0.02, -0.98, -1.64, -1.76]),
    (100.0, [-0.18, -0.08, 0.00, 0.09, 0.21, -1.05, -1.34, -2.57]),
    (200.0, [0.01, 0.46, 0.00, -0.28, 0.11, -0.59, -1.09, -2.47]),
    (400.0, [0.90, 0.73, 0.00, 1.37, 1.45, 1.46, 1.15, 0.48]),
    (1000.0, [0.00, 0.00, 0.00, 0.00, 0.00, 0.00, 0.00, 0.00]),
];

/// The prior for records of one length.
pub(super) struct Prior {
    angles: [f64; 8],
    logs: [f64; 8],
}

impl Prior {
    pub(super) fn of_length(n: usize) -> Self {
        let n = n as f64;
        let last = BY_LENGTH.len() - 1;
        let above = BY_LENGTH.iter().position(|row| row.0 >= n).unwrap_or(last).max(1);
        let (low, high) = (&BY_LENGTH[above - 1], &BY_LENGTH[above]);
        let part = scalar::ln(n / low.0) / scalar::ln(high.0 / low.0);
        let part = part.clamp(0.0, 1.0);
        Self {
            angles: CORRELATIONS.map(scalar::asin),
            logs: core::array::from_fn(|k| low.1[k] + part * (high.1[k] - low.1[k])),
        }
    }

    /// Logarithm of the weight, even in the angle where it is zero.
    pub(super) fn log_weight(&self, angle: f64) -> f64 {
        let above = self.angles.iter().position(|&place| place >= angle).unwrap_or(7);
        if above == 0 {
            return self.logs[0];
        }
        let part = (angle - self.angles[above - 1]) / (self.angles[above] - self.angles[above - 1]);
        self.logs[above - 1] + part.min(1.0) * (self.logs[above] - self.logs[above - 1])
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_prior_is_that_of_the_table_and_straight_between() {
        let ten = Prior::of_length(10);
        let row = BY_LENGTH.iter().find(|row| row.0 == 10.0).unwrap();
        for (correlation, log) in CORRELATIONS.iter().zip(row.1) {
            assert!((ten.log_weight(scalar::asin(*correlation)) - log).abs() < 1e-12);
        }
        // Beyond the table it stays.
        assert!((ten.log_weight(-1.57) - row.1[0]).abs() < 1e-12);
        assert!((ten.log_weight(1.57) - row.1[7]).abs() < 1e-12);
        for angle in [-1.5, 0.0, 1.2] {
            assert_eq!(Prior::of_length(100_000).log_weight(angle), 0.0);
            let four = Prior::of_length(4).log_weight(angle);
            assert!(four.is_finite());
        }
        // Half way between 10 and 14 in the logarithm: sqrt(140) values.
        let (low, high) = (BY_LENGTH[3].1[4], BY_LENGTH[4].1[4]);
        let between = Prior::of_length(12).logs[4];
        let part = scalar::ln(12.0 / 10.0) / scalar::ln(14.0 / 10.0);
        assert!((between - (low + part * (high - low))).abs() < 1e-12);
    }
}
