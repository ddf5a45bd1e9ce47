//! Root of a function on a bracket, to the last digit.

/// Root of `function` between `low` and `high`, where it changes sign.
///
/// Stops when the bracket is within four rounding steps of the root. `None`
/// where the ends have one sign or a value is not a number.
pub(crate) fn bracketed_root(function: impl FnMut(f64) -> f64, low: f64, high: f64) -> Option<f64> {
    digits::roots::between(low, high, 0.0, function)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn square_root_of_two() {
        let root = bracketed_root(|x| x * x - 2.0, 0.0, 2.0);
        assert!((root.unwrap_or(0.0) - 2.0_f64.sqrt()).abs() < 1e-15);
    }

    #[test]
    fn a_root_far_below_the_bracket_keeps_its_digits() {
        let root = bracketed_root(|x| x / (1.0 + x) - 1e-12, 0.0, 1.0).unwrap_or(0.0);
        assert!((root / 1.000_000_000_001e-12 - 1.0).abs() < 1e-14);
    }

    #[test]
    fn no_change_of_sign_no_root() {
        assert_eq!(bracketed_root(|x| x * x + 1.0, -1.0, 1.0), None);
        assert_eq!(bracketed_root(|_| f64::NAN, -1.0, 1.0), None);
    }
}
