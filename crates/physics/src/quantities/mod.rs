//! Physical quantities: one file per kind, the coherent SI unit inside.
//!
//! Public functions take and return these types; inside a function a value is
//! unwrapped once into a suffixed `f64` (`pressure_pa`). There is no general
//! algebra of dimensions: only the products that the physics uses exist.

mod declare;
mod flow;
mod geometry;
mod pressure;
mod probability;
mod temperature;
mod time;
pub mod units;

pub use flow::{
    Conductance, MassFlow, MolarFlow, PressureRate, STANDARD_ATMOSPHERE_PA, StandardFlow,
    Throughput, flow_from_rise, pressure_rise_rate,
};
pub use geometry::{Area, Length, Volume};
pub use pressure::{AbsolutePressure, PressureDifference};
pub use probability::Probability;
pub use temperature::{Temperature, TemperatureDifference};
pub use time::Duration;

/// Molar gas constant, exact since the 2019 revision of the SI.
/// Source: CODATA 2018, `R = N_A k`.
pub const MOLAR_GAS_CONSTANT_J_PER_MOL_K: f64 = 8.314_462_618_153_24;
