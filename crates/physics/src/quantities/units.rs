//! Names of units and their factors: one table that every reader and printer
//! of quantities uses.

/// What kind of quantity a unit belongs to.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum UnitKind {
    /// Pressure, absolute or a difference.
    Pressure,
    /// Length.
    Length,
    /// Area.
    Area,
    /// Volume.
    Volume,
    /// Time span.
    Time,
    /// Pressure times volume per time; takes a gas temperature.
    Throughput,
    /// Amount of substance per time.
    MolarFlow,
    /// Standard volume per time; needs a reference temperature.
    StandardFlow,
    /// Mass per time; needs the gas.
    MassFlow,
    /// Volume per time: pumping speed or conductance.
    Conductance,
    /// Pressure change per time.
    PressureRate,
}

/// A unit: how it is written, what it measures, its factor to SI.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Unit {
    /// The spelling printed first.
    pub name: &'static str,
    /// Other spellings that are read as the same unit.
    pub also_written: &'static [&'static str],
    /// What it measures.
    pub kind: UnitKind,
    /// Multiply by this to get SI; standard flow: cm³/s of standard gas.
    pub factor: f64,
}

/// One torr: an atmosphere over 760, by definition.
const TORR_PA: f64 = 101_325.0 / 760.0;
/// Conventional millimetre of mercury, ISO 80000-4 (from memory).
const MILLIMETRE_OF_MERCURY_PA: f64 = 133.322_387_415;
/// Pound-force per square inch: 0.45359237 kg x 9.80665 m/s2 / (0.0254 m)2.
const PSI_PA: f64 = 0.453_592_37 * 9.806_65 / (0.0254 * 0.0254);

macro_rules! unit {
    ($name:literal, [$($other:literal),*], $kind:ident, $factor:expr) => {
        Unit { name: $name, also_written: &[$($other),*], kind: UnitKind::$kind, factor: $factor }
    };
}

/// Every unit that is read or printed. Letters count: `mPa` is not `MPa`.
pub const UNITS: &[Unit] = &[
    unit!("Pa", [], Pressure, 1.0),
    unit!("hPa", [], Pressure, 100.0),
    unit!("kPa", [], Pressure, 1000.0),
    unit!("MPa", [], Pressure, 1.0e6),
    unit!("mPa", [], Pressure, 1.0e-3),
    unit!("mbar", [], Pressure, 100.0),
    unit!("ubar", ["µbar"], Pressure, 0.1),
    unit!("bar", [], Pressure, 1.0e5),
    unit!("atm", [], Pressure, 101_325.0),
    unit!("Torr", ["torr"], Pressure, TORR_PA),
    unit!("mTorr", ["mtorr"], Pressure, TORR_PA * 1.0e-3),
    unit!("mmHg", [], Pressure, MILLIMETRE_OF_MERCURY_PA),
    unit!("inHg", [], Pressure, 25.4 * MILLIMETRE_OF_MERCURY_PA),
    unit!("psi", ["psia"], Pressure, PSI_PA),
    unit!("m", [], Length, 1.0),
    unit!("cm", [], Length, 1.0e-2),
    unit!("mm", [], Length, 1.0e-3),
    unit!("um", ["µm", "μm", "micron"], Length, 1.0e-6),
    unit!("nm", [], Length, 1.0e-9),
    unit!("m2", ["m²"], Area, 1.0),
    unit!("cm2", ["cm²"], Area, 1.0e-4),
    unit!("mm2", ["mm²"], Area, 1.0e-6),
    unit!("m3", ["m³"], Volume, 1.0),
    unit!("L", ["l"], Volume, 1.0e-3),
    unit!("mL", ["ml", "cm3", "cm³"], Volume, 1.0e-6),
    unit!("uL", ["µL", "μL", "ul", "mm3"], Volume, 1.0e-9),
    unit!("s", ["sec"], Time, 1.0),
    unit!("ms", [], Time, 1.0e-3),
    unit!("min", [], Time, 60.0),
    unit!("h", [], Time, 3600.0),
    unit!("d", ["day", "days"], Time, 86_400.0),
    unit!("Pa.m3/s", ["Pa·m³/s", "Pa m3/s", "Pa*m3/s", "Pam3/s"], Throughput, 1.0),
    unit!(
        "mbar.L/s",
        ["mbar·L/s", "mbar L/s", "mbar*L/s", "mbar.l/s", "mbarL/s", "mbar·l/s"],
        Throughput,
        0.1
    ),
    unit!("Torr.L/s", ["Torr·L/s", "Torr L/s", "Torr*L/s"], Throughput, TORR_PA * 1.0e-3),
    unit!("atm.cm3/s", ["atm·cm³/s", "atm cm3/s", "atm*cm3/s"], Throughput, 0.101_325),
    unit!("mol/s", [], MolarFlow, 1.0),
    unit!("umol/s", ["µmol/s", "μmol/s"], MolarFlow, 1.0e-6),
    unit!("std cm3/s", ["std cm³/s", "std cc/s", "sccs", "scc/s"], StandardFlow, 1.0),
    unit!("sccm", ["std cm3/min", "std cm³/min"], StandardFlow, 1.0 / 60.0),
    unit!("g/yr", ["g/year", "g/a"], MassFlow, 1.0e-3 / (365.25 * 86_400.0)),
    unit!("kg/s", [], MassFlow, 1.0),
    unit!("ug/s", ["µg/s", "μg/s"], MassFlow, 1.0e-9),
    unit!("m3/s", ["m³/s"], Conductance, 1.0),
    unit!("L/s", ["l/s"], Conductance, 1.0e-3),
    unit!("m3/h", ["m³/h"], Conductance, 1.0 / 3600.0),
    unit!("Pa/s", [], PressureRate, 1.0),
    unit!("mbar/s", [], PressureRate, 100.0),
    unit!("mbar/min", [], PressureRate, 100.0 / 60.0),
];

/// The unit of this spelling, if there is one. Case counts.
#[must_use]
pub fn unit_named(text: &str) -> Option<&'static Unit> {
    let text = text.trim();
    UNITS.iter().find(|unit| unit.name == text || unit.also_written.contains(&text))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn no_spelling_means_two_units() {
        let mut spellings: Vec<&str> = UNITS
            .iter()
            .flat_map(|unit| unit.also_written.iter().copied().chain([unit.name]))
            .collect();
        let count = spellings.len();
        spellings.sort_unstable();
        spellings.dedup();
        assert_eq!(spellings.len(), count);
    }

    #[test]
    fn letters_tell_a_thousand_million_apart() {
        let factor = |name: &str| unit_named(name).map(|unit| unit.factor);
        assert_eq!((factor("MPa"), factor("mPa"), factor("mpa")), (Some(1e6), Some(1e-3), None));
    }

    #[test]
    fn one_inch_of_mercury_is_3386_389_pa() {
        // NIST SP 811, appendix B, conventional inch of mercury: 3.386389 E+03
        // (from memory).
        let inch = unit_named("inHg").map(|unit| unit.factor).unwrap_or(0.0);
        assert!((inch - 3_386.389).abs() < 1e-3, "{inch}");
    }

    #[test]
    fn one_psi_is_6894_76_pa() {
        // NIST SP 811, appendix B: 6.894757 E+03 (from memory).
        let psi = unit_named("psi").map(|unit| unit.factor).unwrap_or(0.0);
        assert!((psi - 6_894.757_293).abs() < 1e-6);
    }
}
