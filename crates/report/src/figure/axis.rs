//! An axis: what is measured along it, in which unit, between which ends.

use super::{linear_ticks, log_ticks};
use crate::logarithm::{log10, ten_to};

/// How values are laid out along an axis.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Scale {
    /// Equal steps.
    Linear,
    /// Equal ratios; only positive values have a place.
    Logarithmic,
}

/// An axis of a figure.
#[derive(Debug, Clone, PartialEq)]
pub struct Axis {
    /// What is measured, without the unit.
    pub label: String,
    /// Unit; empty for a pure number.
    pub unit: String,
    /// Linear or logarithmic.
    pub scale: Scale,
    /// Value at the left or lower end.
    pub low: f64,
    /// Value at the right or upper end.
    pub high: f64,
    /// Names in place of numbers: the first stands at 0.5, the next at 1.5;
    /// empty for an axis of numbers.
    pub names: Vec<String>,
}

/// A tick of an axis.
#[derive(Debug, Clone, PartialEq)]
pub struct Tick {
    /// Value at which it stands.
    pub at: f64,
    /// Its text; empty for a minor tick.
    pub label: String,
}

/// A second scale along the far edge: marks in another unit at values of the
/// axis they belong to.
#[derive(Debug, Clone, PartialEq)]
pub struct SecondScale {
    /// What the marks mean, with the unit.
    pub label: String,
    /// Value on the axis and text of the mark.
    pub ticks: Vec<Tick>,
}

impl Axis {
    /// A linear axis from `low` to `high`.
    #[must_use]
    pub fn linear(label: impl Into<String>, unit: impl Into<String>, low: f64, high: f64) -> Self {
        Self {
            label: label.into(),
            unit: unit.into(),
            scale: Scale::Linear,
            low,
            high,
            names: Vec::new(),
        }
    }

    /// An axis of things with names, side by side: the first from 0 to 1 with
    /// its name at 0.5.
    #[must_use]
    pub fn named(label: impl Into<String>, names: Vec<String>) -> Self {
        let high = names.len().max(1) as f64;
        Self { names, ..Self::linear(label, "", 0.0, high) }
    }

    /// A logarithmic axis from `low` to `high`, both positive.
    #[must_use]
    pub fn logarithmic(
        label: impl Into<String>,
        unit: impl Into<String>,
        low: f64,
        high: f64,
    ) -> Self {
        let scale = Scale::Logarithmic;
        Self { label: label.into(), unit: unit.into(), scale, low, high, names: Vec::new() }
    }

    /// A linear axis that holds all finite values with a margin of 4 % and
    /// ends at whole ticks.
    #[must_use]
    pub fn holding(
        label: impl Into<String>,
        unit: impl Into<String>,
        values: impl IntoIterator<Item = f64>,
    ) -> Self {
        let (low, high) = extremes(values.into_iter().filter(|value| value.is_finite()));
        let span = if high > low { high - low } else { low.abs().max(1.0) };
        let (wide_low, wide_high) = (low - 0.04 * span, high + 0.04 * span);
        // Never cross zero only because of the margin.
        let wide_low = if low >= 0.0 { wide_low.max(0.0) } else { wide_low };
        let step = super::ticks_linear::step_for(wide_low, wide_high, 6);
        Self::linear(
            label,
            unit,
            (wide_low / step).floor() * step,
            (wide_high / step).ceil() * step,
        )
    }

    /// A logarithmic axis over the whole decades that hold all positive
    /// values.
    #[must_use]
    pub fn holding_decades(
        label: impl Into<String>,
        unit: impl Into<String>,
        values: impl IntoIterator<Item = f64>,
    ) -> Self {
        let positive = values.into_iter().filter(|value| value.is_finite() && *value > 0.0);
        let (low, high) = extremes(positive);
        let decade = |value: f64| log10(value).unwrap_or(0.0);
        // A value on a power of ten must not be pushed out by a rounding.
        let first = (decade(low) + 1e-9).floor();
        let last = (decade(high) - 1e-9).ceil().max(first + 1.0);
        Self::logarithmic(label, unit, ten_to(first as i32), ten_to(last as i32))
    }

    /// Place of a value between the ends, 0 at `low` and 1 at `high`; `None`
    /// where the value has no place on this axis.
    #[must_use]
    pub fn place(&self, value: f64) -> Option<f64> {
        let place = match self.scale {
            Scale::Linear => (value - self.low) / (self.high - self.low),
            Scale::Logarithmic => {
                let (low, high) = (log10(self.low)?, log10(self.high)?);
                (log10(value)? - low) / (high - low)
            }
        };
        place.is_finite().then_some(place)
    }

    /// Ticks of the axis, major ones with a label, minor ones without.
    #[must_use]
    pub fn ticks(&self, target: usize) -> Vec<Tick> {
        if !self.names.is_empty() {
            let places = self.names.iter().enumerate();
            return places
                .map(|(index, name)| Tick { at: index as f64 + 0.5, label: name.clone() })
                .collect();
        }
        match self.scale {
            Scale::Linear => linear_ticks(self.low, self.high, target),
            Scale::Logarithmic => log_ticks(self.low, self.high, target),
        }
    }

    /// Label with the unit in brackets.
    #[must_use]
    pub fn text(&self) -> String {
        if self.unit.is_empty() {
            self.label.clone()
        } else {
            format!("{} ({})", self.label, self.unit)
        }
    }
}

/// Smallest and largest; 0 and 1 where there is nothing.
fn extremes(values: impl Iterator<Item = f64>) -> (f64, f64) {
    let (low, high) = values.fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), value| {
        (low.min(value), high.max(value))
    });
    if low <= high { (low, high) } else { (0.0, 1.0) }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn places_by_hand() {
        let linear = Axis::linear("time", "s", 10.0, 30.0);
        assert_eq!(linear.place(20.0), Some(0.5));
        let log = Axis::logarithmic("flow", "Pa·m³/s", 1e-6, 1e-2);
        assert!((log.place(1e-4).expect("on the axis") - 0.5).abs() < 1e-12);
        assert_eq!(log.place(0.0), None);
        assert_eq!(log.place(-1.0), None);
        assert_eq!(linear.place(f64::NAN), None);
    }

    #[test]
    fn axes_hold_their_values() {
        let axis = Axis::holding("rise", "Pa", [3.0, 97.0]);
        assert_eq!((axis.low, axis.high), (0.0, 120.0));
        let flat = Axis::holding("rise", "Pa", [5.0, 5.0]);
        assert!(flat.low < 5.0 && flat.high > 5.0);
        let none = Axis::holding("rise", "Pa", []);
        assert!(none.low < none.high);
        let log = Axis::holding_decades("flow", "Pa·m³/s", [1e-5, 3e-3, 0.0]);
        assert_eq!((log.low, log.high), (1e-5, 1e-2));
        let point = Axis::holding_decades("flow", "Pa·m³/s", [1e-5]);
        assert_eq!((point.low, point.high), (1e-5, 1e-4));
    }

    #[test]
    fn names_stand_in_the_middle_of_their_room() {
        let axis = Axis::named("method", vec!["one".into(), "two".into()]);
        assert_eq!((axis.low, axis.high), (0.0, 2.0));
        let ticks = axis.ticks(6);
        assert_eq!((ticks[1].at, ticks[1].label.as_str()), (1.5, "two"));
    }

    #[test]
    fn unit_in_brackets() {
        assert_eq!(Axis::linear("Rise", "Pa", 0.0, 1.0).text(), "Rise (Pa)");
        assert_eq!(Axis::linear("Share", "", 0.0, 1.0).text(), "Share");
    }
}
