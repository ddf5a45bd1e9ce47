//! Ticks of a logarithmic axis: powers of ten with a label, the steps between
//! them as minor ticks.

use super::Tick;
use crate::logarithm::{log10, ten_to};
use crate::number::{power_of_ten, significant};

/// Ticks from `low` to `high`, both positive.
///
/// Over less than one and a half decades the steps 2 and 5 carry labels too;
/// over less than three quarters of a decade the ticks are those of a linear
/// axis; over many decades only every second, third ... power of ten does, so that
/// at most about `target` labels stand on the axis.
#[must_use]
pub fn log_ticks(low: f64, high: f64, target: usize) -> Vec<Tick> {
    let (Some(first), Some(last)) = (log10(low), log10(high)) else { return Vec::new() };
    if high <= low {
        return Vec::new();
    }
    let decades = last - first;
    if decades < 0.75 {
        return super::linear_ticks(low, high, target.min(6));
    }
    let every = (decades / target.max(1) as f64).ceil().max(1.0) as i32;
    let mut ticks = Vec::new();
    for exponent in (first - 1e-9).floor() as i32..=(last + 1e-9).floor() as i32 {
        for step in 1..=9_i32 {
            let at = format!("{step}e{exponent}").parse().unwrap_or(f64::NAN);
            if at < low * (1.0 - 1e-9) || at > high * (1.0 + 1e-9) {
                continue;
            }
            let label = if step == 1 && exponent.rem_euclid(every) == 0 {
                plain_or_power(exponent)
            } else if decades < 1.5 && (step == 2 || step == 5) {
                significant(at, 1)
            } else {
                String::new()
            };
            // Steps inside a decade would blacken an axis of many decades.
            if step == 1 || decades <= 12.0 {
                ticks.push(Tick { at, label });
            }
        }
    }
    ticks
}

/// 0.01 to 1000 as they are, other powers of ten with a raised exponent.
fn plain_or_power(exponent: i32) -> String {
    if (-2..=3).contains(&exponent) {
        significant(ten_to(exponent), 1)
    } else {
        power_of_ten(exponent)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn labels(ticks: &[Tick]) -> Vec<&str> {
        ticks.iter().map(|tick| tick.label.as_str()).filter(|label| !label.is_empty()).collect()
    }

    #[test]
    fn decades_by_hand() {
        let ticks = log_ticks(1e-6, 1e-3, 8);
        assert_eq!(labels(&ticks), ["10⁻⁶", "10⁻⁵", "10⁻⁴", "10⁻³"]);
        assert_eq!(ticks.len(), 3 * 9 + 1, "eight minor ticks in each decade");
        assert_eq!(labels(&log_ticks(0.5, 200.0, 8)), ["1", "10", "100"]);
    }

    #[test]
    fn a_short_axis_has_labels_between_the_powers() {
        assert_eq!(labels(&log_ticks(1.0, 20.0, 8)), ["1", "2", "5", "10", "20"]);
    }

    #[test]
    fn an_axis_within_a_decade_has_even_steps() {
        assert_eq!(labels(&log_ticks(1.2, 4.0, 8)), ["1.5", "2.0", "2.5", "3.0", "3.5", "4.0"]);
    }

    #[test]
    fn a_long_axis_has_fewer_labels() {
        assert!(labels(&log_ticks(1e-12, 1e12, 8)).len() <= 9);
    }

    #[test]
    fn no_place_for_what_is_not_positive() {
        assert!(log_ticks(0.0, 1.0, 5).is_empty());
        assert!(log_ticks(1.0, 1.0, 5).is_empty());
    }
}
