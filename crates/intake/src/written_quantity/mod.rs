//! Quantities as people write them: `5um`, `0.3bar`, `1 sccm@0C`.
//!
//! A value always carries its unit. A standard flow always carries the
//! temperature that "standard" means. What cannot be read in exactly one way
//! is refused, with a hint that shows how to write it.

mod error;
mod flow;
mod force;
mod liquid_property;
mod number;
mod mass;
mod simple;
mod spelling;
mod target;

pub use error::QuantityError;
pub use flow::{DEFAULT_THROUGHPUT_TEMPERATURE, WrittenFlow, read_flow};
pub use force::read_force_n;
pub use liquid_property::{
    DENSITY_UNITS, TENSION_UNITS, VISCOSITY_UNITS, read_angle_degrees, read_density,
    read_surface_tension, read_viscosity,
};
pub use mass::read_mass_kg;
pub use number::read_plain_number;
pub use simple::{
    read_absolute_pressure, read_area, read_conductance, read_duration, read_length,
    read_pressure_difference, read_pressure_rate, read_temperature, read_volume,
};
pub use spelling::{before_unit, nearest_of, unit_of};
pub use target::{TargetUnit, WrittenQuantity, read_any, read_target_unit};
