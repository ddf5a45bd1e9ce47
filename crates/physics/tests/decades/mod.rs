//! Sizes and pressures for fuzzed tests.

use proptest::prelude::*;

/// Values spread evenly over decades.
pub fn decades(low: f64, high: f64) -> impl Strategy<Value = f64> {
    (digits::scalar::ln(low)..digits::scalar::ln(high)).prop_map(digits::scalar::exp)
}
