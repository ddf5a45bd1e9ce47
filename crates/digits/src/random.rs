//! Random streams keyed by a seed and a unit number.
//!
//! Each simulated unit draws from its own stream, so its numbers do not
//! depend on how many units run before it or on how many threads run beside
//! it. There is no unseeded chance anywhere in the project.

use crate::normal;

/// A stream of random numbers, fixed by a seed and a unit number.
///
/// Generator: xoshiro256++ of D. Blackman and S. Vigna (ACM TOMS 47, 2021),
/// state filled by SplitMix64; both written from their published definition.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct RandomStream {
    state: [u64; 4],
}

impl RandomStream {
    /// Stream of one unit under one seed.
    #[must_use]
    pub fn new(seed: u64, unit: u64) -> Self {
        // The two keys are mixed one after the other so that (1, 2) and
        // (2, 1) give unrelated streams.
        let mut mixer = SplitMix(seed);
        let mut mixer = SplitMix(mixer.next() ^ unit.wrapping_mul(0xD134_2543_DE82_EF95));
        Self { state: [mixer.next(), mixer.next(), mixer.next(), mixer.next()] }
    }

    /// Next 64 random bits.
    pub fn bits(&mut self) -> u64 {
        let s = &mut self.state;
        let result = s[0].wrapping_add(s[3]).rotate_left(23).wrapping_add(s[0]);
        let shifted = s[1] << 17;
        s[2] ^= s[0];
        s[3] ^= s[1];
        s[1] ^= s[2];
        s[0] ^= s[3];
        s[2] ^= shifted;
        s[3] = s[3].rotate_left(45);
        result
    }

    /// Uniform value strictly between 0 and 1.
    pub fn uniform(&mut self) -> f64 {
        // 53 bits, shifted by half a step: 0 and 1 cannot occur, so a normal
        // quantile of it is always finite.
        ((self.bits() >> 11) as f64 + 0.5) * (1.0 / 9_007_199_254_740_992.0)
    }

    /// Standard normal value, by the inverse distribution function.
    pub fn normal(&mut self) -> f64 {
        normal::quantile(self.uniform())
    }

    /// Whole number from 0 to `n - 1`, each equally likely; 0 for `n` below 2.
    pub fn below(&mut self, n: u64) -> u64 {
        if n < 2 {
            return 0;
        }
        // Rejection removes the bias of the remainder.
        let limit = u64::MAX - u64::MAX % n;
        loop {
            let bits = self.bits();
            if bits < limit {
                return bits % n;
            }
        }
    }

    /// Random order of the items (Fisher-Yates).
    pub fn shuffle<T>(&mut self, items: &mut [T]) {
        for last in (1..items.len()).rev() {
            let chosen = self.below(last as u64 + 1) as usize;
            items.swap(last, chosen);
        }
    }
}

struct SplitMix(u64);

impl SplitMix {
    fn next(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9E37_79B9_7F4A_7C15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
        z ^ (z >> 31)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn same_key_same_stream() {
        let (mut a, mut b) = (RandomStream::new(7, 3), RandomStream::new(7, 3));
        assert!((0..100).all(|_| a.bits() == b.bits()));
        let mut c = RandomStream::new(3, 7);
        assert_ne!(RandomStream::new(7, 3).bits(), c.bits());
    }

    #[test]
    fn splitmix_matches_its_published_first_value() {
        // First output for seed 0 as given with the reference code
        // (from memory): 0xe220a8397b1dcdaf.
        assert_eq!(SplitMix(0).next(), 0xE220_A839_7B1D_CDAF);
    }

    #[test]
    fn moments_of_the_normal_stream() {
        let mut stream = RandomStream::new(1, 1);
        let values: Vec<f64> = (0..20_000).map(|_| stream.normal()).collect();
        let mean = crate::sums::mean(&values).unwrap_or(9.0);
        let deviation = crate::sums::standard_deviation(&values).unwrap_or(9.0);
        // Four standard errors of a mean and of a deviation at n = 20 000.
        assert!(mean.abs() < 4.0 / 141.4);
        assert!((deviation - 1.0).abs() < 4.0 / 200.0);
    }

    #[test]
    fn shuffle_keeps_every_item() {
        let mut items: Vec<u32> = (0..50).collect();
        RandomStream::new(5, 0).shuffle(&mut items);
        assert_ne!(items, (0..50).collect::<Vec<_>>());
        items.sort_unstable();
        assert_eq!(items, (0..50).collect::<Vec<_>>());
    }
}
