//! Probability and confidence, as a fraction; percent exists only in print.

/// A probability, between 0 and 1.
#[derive(Debug, Clone, Copy, PartialEq, PartialOrd)]
pub struct Probability(f64);

impl Probability {
    /// From a fraction; `None` outside 0 to 1 and for NaN.
    #[must_use]
    pub fn new(fraction: f64) -> Option<Self> {
        (0.0..=1.0).contains(&fraction).then_some(Self(fraction))
    }

    /// The value as a fraction.
    #[must_use]
    pub const fn fraction(self) -> f64 {
        self.0
    }

    /// The value in percent, for print.
    #[must_use]
    pub fn percent(self) -> f64 {
        self.0 * 100.0
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn percent_is_not_taken_for_a_fraction() {
        assert_eq!(Probability::new(95.0), None);
        assert_eq!(Probability::new(f64::NAN), None);
        assert_eq!(Probability::new(0.95).map(Probability::percent), Some(95.0));
    }
}
