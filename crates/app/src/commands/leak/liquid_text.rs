//! A liquid as it is written: a known one, and what differs in the user's own,
//! as `water, tension 45mN/m, viscosity 3mPa.s`.

use intake::written_quantity::{
    DENSITY_UNITS, TENSION_UNITS, VISCOSITY_UNITS, before_unit, read_absolute_pressure,
    read_plain_number,
};
use physics::liquids::{GivenLiquid, Liquid};
use physics::quantities::Temperature;

use crate::fault::Fault;

/// What can be given, with the spellings of its unit and how many make the SI unit;
/// a spelling that ends like another stands before it.
const PROPERTIES: [(&str, &[(&str, f64)]); 5] = [
    ("tension", &TENSION_UNITS),
    ("viscosity", &VISCOSITY_UNITS),
    ("density", &DENSITY_UNITS),
    ("molar mass", &[("kg/mol", 1.0), ("g/mol", 1e3)]),
    ("evaporation", &[("kJ/kg", 1e-3), ("J/kg", 1.0)]),
];

/// The liquid at a temperature, and its words.
pub fn read(text: &str, temperature: Temperature) -> Result<(Liquid, String), Fault> {
    let mut parts = text.split(',').map(str::trim);
    let base_name = parts.next().unwrap_or("");
    let base = Liquid::from_name(base_name).ok_or_else(|| {
        Fault::users(
            format!("`{base_name}` is not a known liquid"),
            "known: water, ethanol; write your own as one of them with what differs, such as \
             \"water, tension 45mN/m, viscosity 3mPa.s\"",
        )
    })?;
    let state = base.at(temperature)?;
    let mut own = GivenLiquid {
        temperature_k: temperature.k(),
        molar_mass_kg_per_mol: state.molar_mass_kg_per_mol,
        vapour_pressure_pa: state.vapour_pressure.pa(),
        surface_tension_n_per_m: state.surface_tension_n_per_m,
        viscosity_pa_s: state.viscosity_pa_s,
        density_kg_per_m3: state.density_kg_per_m3,
        heat_of_evaporation_j_per_kg: state.heat_of_evaporation_j_per_kg,
        heat_capacity_j_per_kg_k: state.heat_capacity_j_per_kg_k,
        freezing_k: temperature.k() - 10.0,
    };
    let mut words = base.name().to_owned();
    let mut differs = false;
    for part in parts {
        differs = true;
        words.push_str(", ");
        words.push_str(part);
        if let Some(value) = part.strip_prefix("vapour pressure") {
            own.vapour_pressure_pa = read_absolute_pressure(value.trim(), None)?.pa();
            continue;
        }
        let (what, value) = property(part)?;
        match what {
            "tension" => own.surface_tension_n_per_m = value,
            "viscosity" => own.viscosity_pa_s = value,
            "density" => own.density_kg_per_m3 = value,
            "molar mass" => own.molar_mass_kg_per_mol = value,
            _ => own.heat_of_evaporation_j_per_kg = value,
        }
    }
    Ok(if differs { (Liquid::Given(own), words) } else { (base, words) })
}

/// A property and its value in SI, above zero.
fn property(part: &str) -> Result<(&'static str, f64), Fault> {
    let refuse = |why: &str| {
        let names: Vec<&str> = PROPERTIES.iter().map(|(name, _)| *name).collect();
        Fault::users(
            format!("`{part}`: {why}"),
            format!("known: {}, vapour pressure; as \"tension 45mN/m\"", names.join(", ")),
        )
    };
    let (name, units) = PROPERTIES
        .iter()
        .find(|(name, _)| part.starts_with(name))
        .ok_or_else(|| refuse("this property is not known"))?;
    let (number, in_si_unit) = before_unit(&part[name.len()..], units).ok_or_else(|| {
        let known: Vec<&str> = units.iter().map(|(unit, _)| *unit).collect();
        refuse(&format!("the unit is missing or not one of {}", known.join(", ")))
    })?;
    let value = read_plain_number(number).map_err(|_| refuse("this is not a number"))? / in_si_unit;
    if value > 0.0 && value.is_finite() {
        Ok((name, value))
    } else {
        Err(refuse("the value must be above zero"))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_given_replaces_the_table() {
        let room = Temperature::from_celsius(20.0);
        let text = "water, tension 40 mN/m, viscosity 3mPa.s, vapour pressure 23mbar";
        let (liquid, words) = read(text, room).expect("liquid");
        let state = liquid.at(room).expect("state");
        assert!((state.surface_tension_n_per_m - 0.04).abs() < 1e-15);
        assert!((state.viscosity_pa_s - 3e-3).abs() < 1e-15);
        assert_eq!(state.vapour_pressure.pa(), 2300.0);
        // What is not given stays that of water.
        assert!((state.density_kg_per_m3 - 998.2).abs() < 0.2);
        assert_eq!(words, text);
        assert!(matches!(read("ethanol", room), Ok((Liquid::Ethanol, _))));
    }

    #[test]
    fn what_cannot_be_read_is_refused() {
        let room = Temperature::from_celsius(20.0);
        for text in [
            "oil",
            "water, tension 40",
            "water, tension -4mN/m",
            "water, colour 3mPa.s",
            "water, viscosity xmPa.s",
            "water, vapour pressure 23",
        ] {
            assert!(read(text, room).is_err(), "{text}");
        }
    }
}
