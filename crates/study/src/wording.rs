//! Numbers inside sentences.

/// Three significant digits, for sentences.
pub(crate) fn rounded(value: f64) -> String {
    if value == 0.0 || !value.is_finite() {
        return format!("{value}");
    }
    let magnitude = digits::scalar::log10(value.abs()).floor() as i32;
    if !(-3..6).contains(&magnitude) {
        return format!("{value:.2e}");
    }
    let decimals = usize::try_from((2 - magnitude).max(0)).unwrap_or(0);
    let text = format!("{value:.decimals$}");
    if text.contains('.') {
        text.trim_end_matches('0').trim_end_matches('.').to_owned()
    } else {
        text
    }
}

#[cfg(test)]
mod tests {
    use super::rounded;

    #[test]
    fn sentences_carry_three_digits() {
        assert_eq!(rounded(12.345), "12.3");
        assert_eq!(rounded(0.05), "0.05");
        assert_eq!(rounded(101_325.0), "101325");
        assert_eq!(rounded(1.0e-7), "1.00e-7");
    }
}
