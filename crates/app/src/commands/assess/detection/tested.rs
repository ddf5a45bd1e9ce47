//! The sizes that were tested: no sentence says that a size beyond them was
//! found.

use crate::table_text::digits;

/// The smallest and the largest leak tested.
#[derive(Clone, Copy)]
pub struct Tested {
    low: f64,
    high: f64,
}

impl Tested {
    /// From the sizes of leaks; blanks (zero) are none.
    pub fn of(sizes: impl IntoIterator<Item = f64>) -> Self {
        let ends = (f64::INFINITY, f64::NEG_INFINITY);
        let (low, high) = sizes
            .into_iter()
            .filter(|size| *size > 0.0)
            .fold(ends, |(low, high), size| (low.min(size), high.max(size)));
        Self { low, high }
    }

    /// Whether a size lies among them. A size that was tested and went through
    /// a logarithm comes back to twelve digits.
    pub fn holds(&self, size: f64) -> bool {
        size >= self.low * (1.0 - 1e-12) && size <= self.high * (1.0 + 1e-12)
    }

    /// A size that a curve gives, with a word where nobody tested it.
    pub fn estimate(&self, size: f64) -> String {
        let written = digits(size, 3);
        if self.holds(size) {
            return written;
        }
        format!("{written} (beyond the sizes tested, {self}: read off the curve, not observed)")
    }

    /// The claim of a bound: `found` says what holds of the bound and of larger
    /// sizes, as "are found with probability 0.9".
    pub fn bound(&self, size: f64, percent: f64, found: &str) -> String {
        let written = digits(size, 3);
        if self.holds(size) {
            format!("with {percent} % confidence units of size {written} and above {found}")
        } else if size > self.high {
            format!(
                "no size tested ({self}) is shown with {percent} % confidence to be one whose \
                 units {found}, and the bound {written} rests on the curve beyond the data"
            )
        } else {
            format!(
                "with {percent} % confidence units of every size tested ({self}) {found}; the \
                 bound {written} itself lies below them and rests on the curve beyond the data"
            )
        }
    }
}

impl std::fmt::Display for Tested {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "{} to {}", digits(self.low, 3), digits(self.high, 3))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_size_that_nobody_tested_is_never_found() {
        let tested = Tested::of([0.0, 2.0, 8.0]);
        let found = "are found";
        assert_eq!(tested.estimate(8.0), "8.00");
        let through_logarithm = digits::scalar::exp(digits::scalar::ln(8.0));
        assert_eq!(tested.estimate(through_logarithm), "8.00");
        assert!(tested.estimate(8.1).contains("beyond the sizes tested, 2.00 to 8.00"));
        assert!(tested.bound(8.0, 95.0, found).contains("size 8.00 and above are found"));
        assert!(tested.bound(9.0, 95.0, found).starts_with("no size tested (2.00 to 8.00)"));
        assert!(
            tested.bound(1.0, 95.0, found).contains("every size tested (2.00 to 8.00) are found")
        );
    }
}
