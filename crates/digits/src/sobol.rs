//! Points that fill a cube evenly: the sequence of Sobol', with a random shift.
//!
//! A mean over such points comes nearer to the integral than one over
//! independent random points, most of all where few inputs matter.

use crate::RandomStream;

/// Most dimensions of the sequence.
pub const MOST_DIMENSIONS: usize = 20;

const BITS: usize = 32;

/// Primitive polynomials (degree, inner coefficients) and first directions of
/// the dimensions from the second on: S. Joe and F. Y. Kuo, SIAM J. Sci.
/// Comput. 30 (2008) 2635, first rows of their table (from memory; checked
/// point by point against an independent program).
const POLYNOMIALS: [(usize, u32, &[u32]); MOST_DIMENSIONS - 1] = [
    (1, 0, &[1]),
    (2, 1, &[1, 3]),
    (3, 1, &[1, 3, 1]),
    (3, 2, &[1, 1, 1]),
    (4, 1, &[1, 1, 3, 3]),
    (4, 4, &[1, 3, 5, 13]),
    (5, 2, &[1, 1, 5, 5, 17]),
    (5, 4, &[1, 1, 5, 5, 5]),
    (5, 7, &[1, 1, 7, 11, 19]),
    (5, 11, &[1, 1, 5, 1, 1]),
    (5, 13, &[1, 1, 1, 3, 11]),
    (5, 14, &[1, 3, 5, 5, 31]),
    (6, 1, &[1, 3, 3, 9, 7, 49]),
    (6, 13, &[1, 1, 1, 15, 21, 21]),
    (6, 16, &[1, 3, 1, 13, 27, 49]),
    (6, 19, &[1, 1, 1, 15, 7, 5]),
    (6, 22, &[1, 3, 1, 15, 13, 25]),
    (6, 25, &[1, 1, 5, 5, 19, 61]),
    (7, 1, &[1, 3, 7, 11, 23, 15, 103]),
];

/// The sequence in some dimensions.
///
/// Best used with a power of two as the number of points.
///
/// ```
/// let points = digits::sobol::Sobol::new(2, 7).unwrap();
/// let mean = (0..256).map(|i| points.at(i, 0) * points.at(i, 1)).sum::<f64>() / 256.0;
/// assert!((mean - 0.25).abs() < 2e-3);
/// ```
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Sobol {
    directions: Vec<[u32; BITS]>,
    shifts: Vec<u32>,
    is_shifted: bool,
}

impl Sobol {
    /// The sequence with every coordinate shifted digit by digit (exclusive or)
    /// by a random number of the seed: each point is then uniform, and the mean
    /// of a function without bias. `None` for no dimension or more than
    /// [`MOST_DIMENSIONS`].
    #[must_use]
    pub fn new(dimensions: usize, seed: u64) -> Option<Self> {
        let mut sequence = Self::unshifted(dimensions)?;
        let mut stream = RandomStream::new(seed, u64::MAX);
        for shift in &mut sequence.shifts {
            *shift = (stream.bits() >> 32) as u32;
        }
        sequence.is_shifted = true;
        Some(sequence)
    }

    /// The sequence as published; its first point is the origin.
    #[must_use]
    pub fn unshifted(dimensions: usize) -> Option<Self> {
        if dimensions == 0 || dimensions > MOST_DIMENSIONS {
            return None;
        }
        Some(Self {
            directions: (0..dimensions).map(directions).collect(),
            shifts: vec![0; dimensions],
            is_shifted: false,
        })
    }

    /// A coordinate of a point, from 0 to 1; strictly inside where the
    /// sequence is shifted. The points follow the Gray code.
    ///
    /// # Panics
    /// Where the dimension is not one of the sequence.
    #[must_use]
    pub fn at(&self, index: u32, dimension: usize) -> f64 {
        let mut gray = index ^ (index >> 1);
        let mut bits = self.shifts[dimension];
        while gray != 0 {
            bits ^= self.directions[dimension][gray.trailing_zeros() as usize];
            gray &= gray - 1;
        }
        let half = if self.is_shifted { 0.5 } else { 0.0 };
        (f64::from(bits) + half) * (1.0 / 4_294_967_296.0)
    }
}

/// Direction numbers of a dimension, the first bit highest.
fn directions(dimension: usize) -> [u32; BITS] {
    let mut v = [0_u32; BITS];
    if dimension == 0 {
        for (bit, value) in v.iter_mut().enumerate() {
            *value = 1 << (BITS - 1 - bit);
        }
        return v;
    }
    let (degree, coefficients, first) = POLYNOMIALS[dimension - 1];
    for (bit, m) in first.iter().enumerate() {
        v[bit] = m << (BITS - 1 - bit);
    }
    for bit in degree..BITS {
        let mut value = v[bit - degree] ^ (v[bit - degree] >> degree);
        for inner in 1..degree {
            if coefficients >> (degree - 1 - inner) & 1 == 1 {
                value ^= v[bit - inner];
            }
        }
        v[bit] = value;
    }
    v
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_interval_gets_its_share() {
        let sequence = Sobol::new(MOST_DIMENSIONS, 3).unwrap();
        for dimension in 0..MOST_DIMENSIONS {
            let mut seen = [0; 64];
            for index in 0..64 {
                let value = sequence.at(index, dimension);
                assert!(value > 0.0 && value < 1.0);
                seen[(value * 64.0) as usize] += 1;
            }
            assert_eq!(seen, [1; 64], "dimension {dimension}");
        }
    }

    #[test]
    fn a_mean_comes_nearer_than_that_of_random_points() {
        // The mean of the product of 1 + (x - 1/2) over 8 dimensions is 1; its
        // variance over random points is (13/12)^8 - 1 = 0.897.
        let n = 1024;
        let random_error = (0.897_f64 / f64::from(n)).sqrt();
        let mut squares = 0.0;
        for seed in 0..20 {
            let sequence = Sobol::new(8, seed).unwrap();
            let values = (0..n).map(|i| (0..8).map(|d| 0.5 + sequence.at(i, d)).product::<f64>());
            let mean = crate::sums::sum(values) / f64::from(n);
            squares += (mean - 1.0) * (mean - 1.0);
        }
        let error = (squares / 20.0).sqrt();
        assert!(error < 0.2 * random_error, "{error} {random_error}");
    }

    #[test]
    fn dimensions_have_a_limit() {
        assert!(Sobol::new(0, 1).is_none() && Sobol::new(MOST_DIMENSIONS + 1, 1).is_none());
    }
}
