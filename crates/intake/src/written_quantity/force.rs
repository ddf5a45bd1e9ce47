//! Forces.

use super::error::QuantityError;
use super::liquid_property::read_in_units;

/// Units of force and how many make a newton; of units that end alike the longer
/// stands first.
const FORCE_UNITS: [(&str, f64); 3] = [("mN", 1e3), ("kN", 1e-3), ("N", 1.0)];

/// Reads a force such as `5 N`, N.
///
/// # Errors
/// A unit that is missing or of another kind, a number that is none, a value
/// below zero.
///
/// ```
/// use intake::written_quantity::read_force_n;
/// assert_eq!(read_force_n("5 N").unwrap(), 5.0);
/// assert!(read_force_n("5").is_err() && read_force_n("5 bar").is_err());
/// ```
pub fn read_force_n(text: &str) -> Result<f64, QuantityError> {
    read_in_units(text, "force", &FORCE_UNITS, "5 N")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn units_are_told_apart() {
        assert_eq!(read_force_n("500 mN").ok(), Some(0.5));
        assert_eq!(read_force_n("0.005kN").ok(), Some(5.0));
        assert!(read_force_n("-5 N").is_err() && read_force_n("5 n").is_err());
        assert!(read_force_n("5").is_err_and(|error| error.hint.contains("5 N")));
    }
}
