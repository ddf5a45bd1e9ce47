//! Numbers as people write them where no unit of the table stands behind:
//! shares, and quantities with units of their own.

use intake::written_quantity::{QuantityError, read_plain_number};

/// A share written as `2%` or `0.02`.
pub fn share(text: &str) -> Result<f64, QuantityError> {
    match text.trim().strip_suffix('%') {
        Some(percent) => Ok(read_plain_number(percent)? / 100.0),
        None => read_plain_number(text),
    }
}

/// What stands before one of the units, and the factor of that unit; the first
/// unit that fits counts, so one that ends like another stands before it.
pub fn before_unit<'a>(text: &'a str, units: &[(&str, f64)]) -> Option<(&'a str, f64)> {
    units.iter().find_map(|(unit, factor)| Some((text.trim().strip_suffix(unit)?.trim(), *factor)))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn shares_and_units() {
        assert_eq!(share(" 2% ").ok(), Some(0.02));
        assert_eq!(share("0.02").ok(), Some(0.02));
        assert!(share("2 %%").is_err() && share("two").is_err());
        let units = [("mg", 1e-6), ("g", 1e-3)];
        assert_eq!(before_unit("3 mg", &units), Some(("3", 1e-6)));
        assert_eq!(before_unit("3g", &units), Some(("3", 1e-3)));
        assert_eq!(before_unit("3", &units), None);
    }
}
