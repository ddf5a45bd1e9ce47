//! Routine monitoring: charts with frozen limits, run lengths, capability.

pub mod capability;
pub mod change_point;
pub mod constants;
pub mod cusum;
pub mod ewma;
pub mod individuals;
pub mod means;
pub mod zones;
