//! Numbers inside sentences.

use physics::quantities::Probability;

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

/// A probability in percent with every digit that it was stated with: 99.995 stays
/// 99.995, where three digits would make it 100.
pub(crate) fn percent(value: Probability) -> String {
    format!("{}", (value.percent() * 1.0e9).round() / 1.0e9)
}

#[cfg(test)]
mod tests {
    use super::{percent, rounded};

    #[test]
    fn a_probability_is_never_rounded_to_certainty() {
        let of = |fraction| percent(physics::quantities::Probability::new(fraction).unwrap());
        assert_eq!(of(0.95), "95");
        assert_eq!(of(0.999), "99.9");
        assert_eq!(of(0.999_95), "99.995");
        assert_eq!(of(0.07), "7");
    }

    #[test]
    fn sentences_carry_three_digits() {
        assert_eq!(rounded(12.345), "12.3");
        assert_eq!(rounded(0.05), "0.05");
        assert_eq!(rounded(101_325.0), "101325");
        assert_eq!(rounded(1.0e-7), "1.00e-7");
    }
}
