//! One test cycle: evacuate, settle, measure, tier after tier.
//!
//! States are amounts of gas, so that gas is conserved to rounding: chamber,
//! headspace and pocket exchange amounts, pumped gas is counted, outgassing
//! enters in closed form. Pressure follows from amount and temperature.
//!
//! ```text
//! dn_c/dt = n_leak + n_pocket + n_outgassing - q_pump/(R T_c)
//! dT_c/dt = T_c/(p_c V_c) [ q_in (γ - T_c/T_w) - (γ-1) q_pump ] + (T_w - T_c)/τ
//! q_pump  = S C/(S + C) (p_c - p_u),  C = C_m + K p_c
//! ```
//! `q_in` enters at wall temperature `T_w`; headspace and pocket stay at it.

mod balance;
mod errors;
mod events;
pub mod extended;
mod lane_clock;
mod leak_lanes;
mod lockstep;
mod prepare;
mod program;
mod rates;
mod setup;
mod simulate;
mod stepping;
pub mod test_problem;
mod wide;

pub use balance::GasBalance;
pub use errors::CycleError;
pub(crate) use leak_lanes::OrificeConstants;
pub use setup::{Background, Chamber, CycleSetup, Headspace, Pump, Tier, VirtualLeak};
pub use simulate::{CycleOutcome, RiseContributions, TierOutcome, simulate, simulate_batch};
