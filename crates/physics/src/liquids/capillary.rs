//! Liquid in a hole: what holds it and how it flows.

use digits::scalar::cos;

use super::errors::check_positive;
use super::{LiquidError, LiquidState};
use crate::quantities::{Length, PressureDifference};

/// Pressure that holds a liquid column back in a hole:
/// `Δp = 4 σ cos θ / D`.
///
/// Positive: a wetting liquid (θ below 90°) enters by itself and its meniscus,
/// pinned at a dry outer wall, holds against this pressure from behind. Negative:
/// a non-wetting liquid must be pushed in. Where the liquid wets the outer wall
/// there is no barrier. Source: Laplace, physics.md 5.2.
///
/// # Errors
/// A bore that is not positive, a contact angle outside 0 to 180 degrees.
///
/// ```
/// use physics::liquids::{Liquid, holding_pressure};
/// use physics::quantities::{Length, Temperature};
/// let water = Liquid::Water.at(Temperature::from_celsius(25.0)).unwrap();
/// let pressure = holding_pressure(&water, Length::from_um(1.0), 0.0).unwrap();
/// assert!((pressure.pa() / 287_880.0 - 1.0).abs() < 1e-3);
/// ```
pub fn holding_pressure(
    liquid: &LiquidState,
    bore: Length,
    contact_angle_degrees: f64,
) -> Result<PressureDifference, LiquidError> {
    check_positive("bore diameter, m", bore.m())?;
    if !(0.0..=180.0).contains(&contact_angle_degrees) {
        return Err(LiquidError::ContactAngle { degrees: contact_angle_degrees });
    }
    let angle = contact_angle_degrees * core::f64::consts::PI / 180.0;
    Ok(PressureDifference::from_pa(4.0 * liquid.surface_tension_n_per_m * cos(angle) / bore.m()))
}

/// Bore whose holding pressure equals a pressure difference, `4 σ cos θ/Δp`:
/// wider holes let the liquid through.
///
/// # Errors
/// A pressure difference that is not positive, or an angle of 90° and more, at
/// which nothing holds.
pub fn whole_opening_bore(
    liquid: &LiquidState,
    difference: PressureDifference,
    contact_angle_degrees: f64,
) -> Result<Length, LiquidError> {
    check_positive("pressure difference, Pa", difference.pa())?;
    if !(0.0..90.0).contains(&contact_angle_degrees) {
        return Err(LiquidError::ContactAngle { degrees: contact_angle_degrees });
    }
    let angle = contact_angle_degrees * core::f64::consts::PI / 180.0;
    Ok(Length::from_m(4.0 * liquid.surface_tension_n_per_m * cos(angle) / difference.pa()))
}

/// Flow of a liquid through a round hole.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LiquidFlow {
    /// Volume per time, m³/s.
    pub volume_m3_per_s: f64,
    /// Mass per time, kg/s.
    pub mass_kg_per_s: f64,
    /// Reynolds number `4 ρ Q/(π D μ)`; the law is laminar, below about 2000.
    pub reynolds: f64,
    /// Share of the plain Poiseuille flow that end losses leave.
    pub share_of_poiseuille: f64,
}

/// Loss of kinetic energy at entrance and exit, in dynamic pressures.
const KINETIC_LOSS: f64 = 1.5;

/// Laminar flow of a liquid with end losses, by the pressure that drives it
/// (applied difference less what the meniscus holds).
///
/// `Δp = 128 μ (L + 3π D/16) Q/(π D⁴) + K ρ (Q/A)²/2` with `K = 1.5`. The first
/// bracket is Poiseuille's law with the creeping end loss `3 μ Q/a³` of Sampson
/// (Z. Dagan, S. Weinbaum and R. Pfeffer, J. Fluid Mech. 115 (1982) 505, from
/// memory); the second the kinetic loss (common practice). A drive at or below
/// zero gives no flow.
///
/// # Errors
/// A bore that is not positive, a wall that is negative or not a number.
pub fn liquid_flow(
    liquid: &LiquidState,
    bore: Length,
    wall: Length,
    drive: PressureDifference,
) -> Result<LiquidFlow, LiquidError> {
    check_positive("bore diameter, m", bore.m())?;
    if !(wall.m() >= 0.0 && wall.is_finite()) {
        return Err(LiquidError::NotPositive { what: "wall, m", value: wall.m() });
    }
    if !drive.is_finite() {
        return Err(LiquidError::NotFinite { what: "driving pressure" });
    }
    let pi = core::f64::consts::PI;
    let diameter = bore.m();
    let squared = diameter * diameter;
    let viscous = |length: f64| 128.0 * liquid.viscosity_pa_s * length / (pi * squared * squared);
    let linear = viscous(wall.m() + 3.0 * pi / 16.0 * diameter);
    let area = bore.circle_area().m2();
    let square = 0.5 * KINETIC_LOSS * liquid.density_kg_per_m3 / (area * area);
    let drive_pa = drive.pa().max(0.0);
    // The root of the quadratic, in the form that keeps its digits where the
    // kinetic loss is small.
    let flow = 2.0 * drive_pa / (linear + (linear * linear + 4.0 * square * drive_pa).sqrt());
    let plain = if wall.m() > 0.0 { drive_pa / viscous(wall.m()) } else { 0.0 };
    Ok(LiquidFlow {
        volume_m3_per_s: flow,
        mass_kg_per_s: flow * liquid.density_kg_per_m3,
        reynolds: 4.0 * liquid.density_kg_per_m3 * flow / (pi * diameter * liquid.viscosity_pa_s),
        share_of_poiseuille: if plain > 0.0 { flow / plain } else { 0.0 },
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::liquids::Liquid;
    use crate::quantities::Temperature;

    #[test]
    fn a_long_hole_carries_poiseuille_flow() {
        let water = Liquid::Water.at(Temperature::from_celsius(25.0)).expect("water");
        let drive = PressureDifference::from_pa(101_325.0);
        let flow = liquid_flow(&water, Length::from_um(1.0), Length::from_mm(10.0), drive);
        assert!((flow.expect("flow").share_of_poiseuille - 1.0).abs() < 1e-4);
        let none = liquid_flow(
            &water,
            Length::from_um(1.0),
            Length::from_mm(1.0),
            PressureDifference::from_pa(-5.0),
        );
        assert_eq!(none.expect("flow").volume_m3_per_s, 0.0);
    }

    #[test]
    fn one_atmosphere_opens_a_hole_of_2_84_um() {
        let water = Liquid::Water.at(Temperature::from_celsius(25.0)).expect("water");
        let bore = whole_opening_bore(&water, PressureDifference::from_pa(101_325.0), 0.0);
        assert!((bore.expect("bore").um() - 2.84).abs() < 0.01);
    }
}
