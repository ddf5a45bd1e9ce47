//! The liquid in a container, as far as it decides what a leak under it shows.

use physics::liquids::{Liquid, LiquidError, Solution, Solvent};
use physics::quantities::{AbsolutePressure, Temperature};

use crate::provenance::{Provenance, Sourced};

/// Properties of the product's own liquid. What nobody has stated is absent,
/// and nothing that hangs on it is forecast.
#[derive(Debug, Clone, PartialEq)]
pub struct ProductLiquid {
    /// What evaporates where the liquid comes out.
    pub solvent: Solvent,
    /// Temperature at which the figures hold; over a few kelvin they change
    /// as those of the solvent.
    pub temperature: Temperature,
    /// Vapour pressure.
    pub vapour_pressure: Option<Sourced<AbsolutePressure>>,
    /// Surface tension, N/m.
    pub surface_tension_n_per_m: Option<Sourced<f64>>,
    /// Viscosity, Pa·s.
    pub viscosity_pa_s: Option<Sourced<f64>>,
    /// Density, kg/m³.
    pub density_kg_per_m3: Option<Sourced<f64>>,
    /// Contact angle on the wall of the hole, degrees, as its uncertainty is:
    /// 0 wets fully and holds most.
    pub contact_angle_degrees: Option<Sourced<f64>>,
    /// The outside of the wall is wetted too, so that no meniscus holds.
    pub wets_outside: bool,
}

/// Names of the properties, in the order of the structure.
pub(crate) const NAMES: [&str; 5] =
    ["vapour pressure", "surface tension", "viscosity", "density", "contact angle"];

/// Standard uncertainties of the working values: solutes lower the vapour
/// pressure by a hundredth or two, surfactants the surface tension by a third,
/// and viscosity is rarely below that of water (relative; orders of size from
/// common practice), and a wetting wall is wetted to within some 20°.
const WORKING: [f64; 4] = [0.01, 0.15, 0.2, 0.02];
const WORKING_ANGLE_DEGREES: f64 = 20.0;

impl ProductLiquid {
    /// Working values of one solvent that wets the hole, each marked as assumed.
    ///
    /// # Errors
    /// Outside the property table of the solvent.
    pub fn taken_as(solvent: Solvent, temperature: Temperature) -> Result<Self, LiquidError> {
        let pure = solvent.pure().at(temperature)?;
        let assumed = || {
            Provenance::assumed(format!(
                "taken as {} until the figures of the product are known",
                solvent.pure().name()
            ))
        };
        let of = |value: f64, relative: f64| {
            Some(Sourced::new(value, assumed()).with_uncertainty_si(value * relative))
        };
        let vapour = Sourced::new(pure.vapour_pressure, assumed())
            .with_uncertainty_si(pure.vapour_pressure.pa() * WORKING[0]);
        let angle = Sourced::new(0.0, assumed()).with_uncertainty_si(WORKING_ANGLE_DEGREES);
        Ok(Self {
            solvent,
            temperature,
            vapour_pressure: Some(vapour),
            surface_tension_n_per_m: of(pure.surface_tension_n_per_m, WORKING[1]),
            viscosity_pa_s: of(pure.viscosity_pa_s, WORKING[2]),
            density_kg_per_m3: of(pure.density_kg_per_m3, WORKING[3]),
            contact_angle_degrees: Some(angle),
            wets_outside: false,
        })
    }

    /// Names of the properties that nobody has stated.
    #[must_use]
    pub fn missing(&self) -> Vec<&'static str> {
        let stated = self.properties();
        NAMES
            .into_iter()
            .filter(|name| stated.iter().all(|property| property.name != *name))
            .collect()
    }

    /// Every property that is stated, in the unit in which it is printed.
    #[must_use]
    pub fn properties(&self) -> Vec<Property<'_>> {
        let vapour = self.vapour_pressure.as_ref();
        let rows = [
            vapour.map(|stated| Property::of(NAMES[0], stated, stated.value.pa(), 1.0, "Pa")),
            self.surface_tension_n_per_m
                .as_ref()
                .map(|stated| Property::of(NAMES[1], stated, stated.value, 1e3, "mN/m")),
            self.viscosity_pa_s
                .as_ref()
                .map(|stated| Property::of(NAMES[2], stated, stated.value, 1e3, "mPa·s")),
            self.density_kg_per_m3
                .as_ref()
                .map(|stated| Property::of(NAMES[3], stated, stated.value, 1.0, "kg/m³")),
            self.contact_angle_degrees
                .as_ref()
                .map(|stated| Property::of(NAMES[4], stated, stated.value, 1.0, "°")),
        ];
        rows.into_iter().flatten().collect()
    }

    /// Vapour pressure at a temperature; `None` where it is not stated, or where
    /// the solvent has no table there.
    #[must_use]
    pub fn vapour_pressure_at(&self, temperature: Temperature) -> Option<AbsolutePressure> {
        let at =
            |kelvin| self.solvent.pure().at(kelvin).ok().map(|state| state.vapour_pressure.pa());
        let stated_pa = self.vapour_pressure.as_ref()?.value.pa();
        Some(AbsolutePressure::from_pa(stated_pa * at(temperature)? / at(self.temperature)?))
    }

    /// The liquid over temperature; `None` where a property is missing.
    ///
    /// # Errors
    /// Outside the property table of the solvent, or a property that is not
    /// above zero.
    pub fn solution(&self) -> Result<Option<Solution>, LiquidError> {
        let pure = self.solvent.pure().at(self.temperature)?;
        let (Some(vapour), Some(tension), Some(viscosity), Some(density)) = (
            &self.vapour_pressure,
            &self.surface_tension_n_per_m,
            &self.viscosity_pa_s,
            &self.density_kg_per_m3,
        ) else {
            return Ok(None);
        };
        let solution = Solution {
            solvent: self.solvent,
            vapour_pressure: vapour.value.pa() / pure.vapour_pressure.pa(),
            surface_tension: tension.value / pure.surface_tension_n_per_m,
            viscosity: viscosity.value / pure.viscosity_pa_s,
            density: density.value / pure.density_kg_per_m3,
        };
        // Refuses what is not above zero.
        Liquid::Solution(solution).at(self.temperature)?;
        Ok(Some(solution))
    }
}

/// A stated property, in the unit in which it is printed.
#[derive(Debug, Clone, PartialEq)]
pub struct Property<'a> {
    /// Its name.
    pub name: &'static str,
    /// Its value.
    pub value: f64,
    /// Its standard uncertainty; `None` where it is not stated.
    pub standard_uncertainty: Option<f64>,
    /// The unit of both.
    pub unit: &'static str,
    /// Where it came from.
    pub provenance: &'a Provenance,
}

impl<'a> Property<'a> {
    fn of<T>(
        name: &'static str,
        stated: &'a Sourced<T>,
        value_si: f64,
        per_si: f64,
        unit: &'static str,
    ) -> Self {
        Self {
            name,
            value: value_si * per_si,
            standard_uncertainty: stated.standard_uncertainty_si.map(|size| size * per_si),
            unit,
            provenance: &stated.provenance,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_missing_is_named_and_nothing_stands_in_for_it() {
        let room = Temperature::from_celsius(20.0);
        let mut liquid = ProductLiquid::taken_as(Solvent::Water, room).expect("water");
        assert!(liquid.missing().is_empty() && liquid.solution().expect("water").is_some());
        liquid.viscosity_pa_s = None;
        liquid.contact_angle_degrees = None;
        assert_eq!(liquid.missing(), ["viscosity", "contact angle"]);
        assert_eq!(liquid.solution(), Ok(None));
        liquid.viscosity_pa_s = Some(Sourced::new(-1.0, Provenance::assumed("a slip")));
        assert!(liquid.solution().is_err());
    }
}
