//! Mass.

use super::error::QuantityError;
use super::number::read_plain_number;
use super::spelling::before_unit;

/// Units of mass and how many make a kilogram, whole numbers so that a division
/// rounds once; a unit that ends like another stands before it.
const UNITS: [(&str, f64); 5] = [("kg", 1.0), ("mg", 1e6), ("ug", 1e9), ("µg", 1e9), ("g", 1e3)];

/// Reads a mass such as `1 mg` or `0.05g`, kg.
///
/// # Errors
/// A unit that is missing or not of mass, a number that is none, a mass below
/// zero.
///
/// ```
/// assert_eq!(intake::written_quantity::read_mass_kg("50mg").unwrap(), 50.0e-6);
/// assert!(intake::written_quantity::read_mass_kg("50").is_err());
/// ```
pub fn read_mass_kg(text: &str) -> Result<f64, QuantityError> {
    let Some((number, in_a_kilogram)) = before_unit(text, &UNITS) else {
        return Err(QuantityError::new(
            text,
            "the unit of mass is missing",
            "Write a mass like \"1 mg\"; known: kg, g, mg, ug.",
        ));
    };
    let mass = read_plain_number(number)? / in_a_kilogram;
    if mass < 0.0 {
        return Err(QuantityError::new(text, "it cannot be negative", "Leave out the sign."));
    }
    Ok(mass)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn units_are_told_apart() {
        let units = [("mg", 1e-6), ("g", 1e-3)];
        assert_eq!(before_unit("3 mg", &units), Some(("3", 1e-6)));
        assert_eq!(before_unit("3g", &units), Some(("3", 1e-3)));
        assert_eq!(before_unit("3", &units), None);
        assert_eq!(read_mass_kg("1 kg").ok(), Some(1.0));
        assert_eq!(read_mass_kg("2g").ok(), Some(2e-3));
        assert_eq!(read_mass_kg("3 µg").ok(), Some(3e-9));
        assert!(read_mass_kg("-1 mg").is_err() && read_mass_kg("1 mol").is_err());
    }
}
