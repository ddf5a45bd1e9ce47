//! Sums in a fixed order with a carried rounding error.

/// Sum of the values in their order, with the rounding error carried along.
///
/// Method: Neumaier's variant of compensated summation. The result does not
/// depend on vector width, because the order is fixed.
/// Source: A. Neumaier, Z. Angew. Math. Mech. 54 (1974) 39 (from memory).
#[must_use]
pub fn sum(values: impl IntoIterator<Item = f64>) -> f64 {
    let mut total = 0.0_f64;
    let mut carried = 0.0_f64;
    for value in values {
        let next = total + value;
        if total.abs() >= value.abs() {
            carried += (total - next) + value;
        } else {
            carried += (value - next) + total;
        }
        total = next;
    }
    // An infinite total makes the carried part NaN; the total alone is right.
    if total.is_finite() { total + carried } else { total }
}

/// Arithmetic mean; `None` for no values, because an absent mean is not zero.
#[must_use]
pub fn mean(values: &[f64]) -> Option<f64> {
    if values.is_empty() {
        return None;
    }
    let first = sum(values.iter().copied()) / values.len() as f64;
    // A second pass removes the rounding of the division.
    Some(first + sum(values.iter().map(|value| value - first)) / values.len() as f64)
}

/// Sum of squared deviations from the mean, centred before squaring.
///
/// Pressures near 100 000 Pa that change by 0.1 Pa lose every digit in a
/// naive sum of squares; centring first keeps them.
#[must_use]
pub fn squared_deviations(values: &[f64]) -> Option<f64> {
    let centre = mean(values)?;
    Some(sum(values.iter().map(|value| (value - centre) * (value - centre))))
}

/// Sample standard deviation with `n - 1`; `None` below two values.
#[must_use]
pub fn standard_deviation(values: &[f64]) -> Option<f64> {
    if values.len() < 2 {
        return None;
    }
    squared_deviations(values).map(|total| (total / (values.len() - 1) as f64).sqrt())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn small_addend_survives_a_large_one() {
        assert_eq!(sum([1e16, 1.0, -1e16]), 1.0);
    }

    #[test]
    fn one_value_has_no_standard_deviation() {
        assert_eq!(standard_deviation(&[3.0]), None);
        assert_eq!(mean(&[]), None);
    }

    #[test]
    fn deviation_survives_a_large_offset() {
        let deviation = standard_deviation(&[1e9 + 1.0, 1e9 + 2.0, 1e9 + 3.0]).unwrap_or(0.0);
        assert_eq!(deviation, 1.0);
    }
}
