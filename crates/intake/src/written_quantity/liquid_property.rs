//! Properties of liquids, and angles.

use super::error::QuantityError;
use super::number::read_plain_number;
use super::spelling::before_unit;

/// Units of surface tension and how many make the SI unit; of units that end
/// alike the longer stands first.
pub const TENSION_UNITS: [(&str, f64); 3] = [("mN/m", 1e3), ("dyn/cm", 1e3), ("N/m", 1.0)];
/// Units of viscosity and how many make the SI unit.
pub const VISCOSITY_UNITS: [(&str, f64); 4] =
    [("mPa.s", 1e3), ("mPa\u{b7}s", 1e3), ("cP", 1e3), ("Pa.s", 1.0)];
/// Units of density and how many make the SI unit.
pub const DENSITY_UNITS: [(&str, f64); 3] = [("kg/m3", 1.0), ("g/mL", 1e-3), ("g/cm3", 1e-3)];
/// Units of an angle and how many make a degree.
const ANGLE_UNITS: [(&str, f64); 2] = [("deg", 1.0), ("°", 1.0)];

/// Reads a surface tension such as `72.7 mN/m`, N/m.
///
/// # Errors
/// A unit that is missing or of another kind, a number that is none, a value
/// below zero.
///
/// ```
/// use intake::written_quantity::read_surface_tension;
/// assert_eq!(read_surface_tension("45 mN/m").unwrap(), 0.045);
/// assert!(read_surface_tension("45").is_err() && read_surface_tension("45 cP").is_err());
/// ```
pub fn read_surface_tension(text: &str) -> Result<f64, QuantityError> {
    read_in_units(text, "surface tension", &TENSION_UNITS, "72.7 mN/m")
}

/// Reads a viscosity such as `1.002 mPa.s`, Pa·s.
///
/// # Errors
/// As [`read_surface_tension`].
pub fn read_viscosity(text: &str) -> Result<f64, QuantityError> {
    read_in_units(text, "viscosity", &VISCOSITY_UNITS, "1.002 mPa.s")
}

/// Reads a density such as `998 kg/m3`, kg/m³.
///
/// # Errors
/// As [`read_surface_tension`].
pub fn read_density(text: &str) -> Result<f64, QuantityError> {
    read_in_units(text, "density", &DENSITY_UNITS, "998 kg/m3")
}

/// Reads an angle such as `30 deg`, degrees.
///
/// # Errors
/// As [`read_surface_tension`].
pub fn read_angle_degrees(text: &str) -> Result<f64, QuantityError> {
    read_in_units(text, "angle", &ANGLE_UNITS, "30 deg")
}

/// A number with one of some units, in the unit of which there is one.
pub(super) fn read_in_units(
    text: &str,
    what: &str,
    units: &[(&str, f64)],
    example: &str,
) -> Result<f64, QuantityError> {
    let Some((number, in_si_unit)) = before_unit(text, units) else {
        let known: Vec<&str> = units.iter().map(|(unit, _)| *unit).collect();
        return Err(QuantityError::new(
            text,
            format!("the unit of {what} is missing or of another kind"),
            format!("Write it like \"{example}\"; known: {}.", known.join(", ")),
        ));
    };
    let value = read_plain_number(number)? / in_si_unit;
    if value < 0.0 {
        return Err(QuantityError::new(text, "it cannot be negative", "Leave out the sign."));
    }
    Ok(value)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Definitions of the units: 1 cP = 1 mPa·s, 1 dyn/cm = 1 mN/m.
    #[test]
    fn units_are_told_apart() {
        assert_eq!(read_viscosity("3 cP").ok(), Some(3e-3));
        assert_eq!(read_viscosity("3 mPa.s").ok(), Some(3e-3));
        assert_eq!(read_viscosity("3 Pa.s").ok(), Some(3.0));
        assert_eq!(read_surface_tension("45dyn/cm").ok(), Some(0.045));
        assert_eq!(read_surface_tension("0.045 N/m").ok(), Some(0.045));
        assert_eq!(read_density("1.02 g/mL").ok(), Some(1020.0));
        assert_eq!(read_angle_degrees("30°").ok(), Some(30.0));
        assert!(read_angle_degrees("-3 deg").is_err() && read_density("1").is_err());
        assert!(read_viscosity("3 mN/m").is_err_and(|e| e.hint.contains("mPa.s")));
    }
}
