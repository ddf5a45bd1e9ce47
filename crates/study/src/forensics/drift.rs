//! Sensor drift: a zero that wanders steadily.

use super::term::Cause;

/// Name of a steady trend: upward it is a leak (or a drift, which one trace
/// cannot tell), downward no gas can do it.
pub(super) fn name_of_trend(coefficient: f64) -> Cause {
    if coefficient < 0.0 { Cause::Drift } else { Cause::Leak }
}
