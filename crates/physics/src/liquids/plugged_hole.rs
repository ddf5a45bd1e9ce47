//! A hole with liquid behind it: blocked, running, or drained.

use super::{LiquidError, LiquidState, holding_pressure, liquid_flow};
use crate::quantities::{AbsolutePressure, Length, PressureDifference};

/// What fills a hole whose container holds liquid over it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum HoleContent {
    /// The meniscus holds: no gas and no liquid passes, vapour at most.
    Blocked,
    /// Liquid runs out and evaporates.
    Liquid,
    /// The liquid above the hole is gone: gas flows.
    Gas,
}

/// A hole below or above the liquid's level.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PluggedHole {
    /// Bore of the hole.
    pub bore: Length,
    /// Wall it crosses.
    pub wall: Length,
    /// Contact angle, degrees.
    pub contact_angle_degrees: f64,
    /// The liquid wets the outside of the wall, so nothing holds it.
    pub outside_wetted: bool,
    /// Liquid over the hole that can still run out, kg.
    pub liquid_kg: f64,
}

/// What fills the hole under a pressure inside and outside, and the mass flow
/// of liquid in kg/s where it runs.
///
/// # Errors
/// A hole or angle without meaning.
pub fn hole_content(
    hole: &PluggedHole,
    liquid: &LiquidState,
    inside: AbsolutePressure,
    outside: AbsolutePressure,
) -> Result<(HoleContent, f64), LiquidError> {
    if hole.liquid_kg <= 0.0 {
        return Ok((HoleContent::Gas, 0.0));
    }
    let held = if hole.outside_wetted {
        0.0
    } else {
        holding_pressure(liquid, hole.bore, hole.contact_angle_degrees)?.pa().abs()
    };
    let drive = (inside - outside).pa() - held;
    if drive <= 0.0 {
        return Ok((HoleContent::Blocked, 0.0));
    }
    let flow = liquid_flow(liquid, hole.bore, hole.wall, PressureDifference::from_pa(drive))?;
    Ok((HoleContent::Liquid, flow.mass_kg_per_s))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::liquids::Liquid;
    use crate::quantities::Temperature;

    #[test]
    fn a_small_hole_holds_a_wide_one_runs_an_empty_one_breathes() {
        let water = Liquid::Water.at(Temperature::from_celsius(25.0)).expect("water");
        let hole = |um: f64, liquid_kg: f64| PluggedHole {
            bore: Length::from_um(um),
            wall: Length::from_mm(1.0),
            contact_angle_degrees: 0.0,
            outside_wetted: false,
            liquid_kg,
        };
        let (inside, outside) = (AbsolutePressure::from_atm(1.0), AbsolutePressure::from_pa(100.0));
        let content =
            |h: &PluggedHole| hole_content(h, &water, inside, outside).expect("content").0;
        assert_eq!(content(&hole(2.0, 1e-3)), HoleContent::Blocked);
        assert_eq!(content(&hole(5.0, 1e-3)), HoleContent::Liquid);
        assert_eq!(content(&hole(5.0, 0.0)), HoleContent::Gas);
        let wet = PluggedHole { outside_wetted: true, ..hole(2.0, 1e-3) };
        assert_eq!(content(&wet), HoleContent::Liquid);
    }
}
