//! Numbers as people write them where no unit stands behind: shares.

use intake::written_quantity::{QuantityError, read_plain_number};

/// A share written as `2%` or `0.02`.
pub fn share(text: &str) -> Result<f64, QuantityError> {
    match text.trim().strip_suffix('%') {
        Some(percent) => Ok(read_plain_number(percent)? / 100.0),
        None => read_plain_number(text),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn shares() {
        assert_eq!(share(" 2% ").ok(), Some(0.02));
        assert_eq!(share("0.02").ok(), Some(0.02));
        assert!(share("2 %%").is_err() && share("two").is_err());
    }
}
