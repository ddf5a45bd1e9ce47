//! Ticks of a linear axis: steps of 1, 2 or 5 times a power of ten, each cut
//! into minor steps.

use super::Tick;
use crate::logarithm::{log10, ten_to};
use crate::number::decimals_of;

/// Ticks from `low` to `high`, about `target` of them with a label.
#[must_use]
pub fn linear_ticks(low: f64, high: f64, target: usize) -> Vec<Tick> {
    if !(low.is_finite() && high.is_finite()) || high <= low {
        return Vec::new();
    }
    let step = step_for(low, high, target);
    let minor_parts = if leading_digit(step) == 2 { 4 } else { 5 };
    let decimals = decimals_for(step);
    let large = low.abs().max(high.abs()) >= 1e6;
    let minor = step / f64::from(minor_parts);
    let slack = 1e-9 * step;
    let first = ((low - slack) / minor).ceil() as i64;
    let last = ((high + slack) / minor).floor() as i64;
    (first..=last)
        .map(|index| {
            let at = index as f64 * minor;
            let label = if index % i64::from(minor_parts) != 0 {
                String::new()
            } else if large {
                crate::number::significant(at, 3)
            } else {
                decimals_of(at, decimals)
            };
            Tick { at, label }
        })
        .collect()
}

/// The step of 1, 2 or 5 times a power of ten that cuts the range into about
/// `target` parts, never more.
pub(super) fn step_for(low: f64, high: f64, target: usize) -> f64 {
    let rough = (high - low) / target.max(1) as f64;
    let exponent = log10(rough).unwrap_or(0.0).floor() as i32;
    let decade = ten_to(exponent);
    [1.0, 2.0, 5.0, 10.0]
        .into_iter()
        .map(|factor| factor * decade)
        .find(|&step| step >= rough * (1.0 - 1e-9))
        .unwrap_or(10.0 * decade)
}

fn leading_digit(step: f64) -> u32 {
    format!("{step:e}").chars().next().and_then(|digit| digit.to_digit(10)).unwrap_or(1)
}

/// Decimals that show a step of this size.
fn decimals_for(step: f64) -> usize {
    let exponent = log10(step).unwrap_or(0.0);
    usize::try_from(-((exponent + 1e-9).floor() as i64)).unwrap_or(0)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn labels(ticks: &[Tick]) -> Vec<&str> {
        ticks.iter().map(|tick| tick.label.as_str()).filter(|label| !label.is_empty()).collect()
    }

    #[test]
    fn round_numbers_by_hand() {
        assert_eq!(labels(&linear_ticks(0.0, 10.0, 5)), ["0", "2", "4", "6", "8", "10"]);
        assert_eq!(labels(&linear_ticks(0.0, 1.0, 5)), ["0.0", "0.2", "0.4", "0.6", "0.8", "1.0"]);
        assert_eq!(
            labels(&linear_ticks(-1.0, 1.0, 4)),
            ["\u{2212}1.0", "\u{2212}0.5", "0.0", "0.5", "1.0"]
        );
        assert_eq!(
            labels(&linear_ticks(0.0, 20_000.0, 2)),
            ["0", "10\u{202f}000", "20\u{202f}000"]
        );
    }

    #[test]
    fn minor_ticks_cut_each_step() {
        let ticks = linear_ticks(0.0, 10.0, 5);
        assert_eq!(ticks.len(), 21, "steps of 2 in four parts");
        assert_eq!(linear_ticks(0.0, 10.0, 2).len(), 11, "steps of 5 in five parts");
    }

    #[test]
    fn a_range_without_extent_has_no_ticks() {
        assert!(linear_ticks(1.0, 1.0, 5).is_empty());
        assert!(linear_ticks(f64::NAN, 1.0, 5).is_empty());
    }
}
