//! Gas and liquid properties against the Python packages CoolProp and iapws,
//! live, where they are installed; otherwise a notice.

use std::process::Command;

use physics::gases::Gas;
use physics::liquids::{Liquid, ice_vapour_pressure};
use physics::quantities::Temperature;

const SCRIPT: &str = r#"
import sys
from CoolProp.CoolProp import PropsSI as p
import iapws
from iapws import iapws97
names = {"air": "Air", "nitrogen": "Nitrogen", "oxygen": "Oxygen", "argon": "Argon",
         "carbon dioxide": "CarbonDioxide", "helium": "Helium"}
for c in (0.5, 10, 20, 30, 40):
    t = c + 273.15
    for own, theirs in names.items():
        print("viscosity", own, c, p("V", "T", t, "P", 1000, theirs), sep=";")
    print("vapour_pressure", "water", c, iapws97._PSat_T(t) * 1e6, sep=";")
    for own in ("water", "ethanol"):
        print("saturation", own, c, p("P", "T", t, "Q", 0, own), sep=";")
        print("density", own, c, p("D", "T", t, "Q", 0, own), sep=";")
        print("liquid_viscosity", own, c, p("V", "T", t, "Q", 0, own), sep=";")
        print("surface_tension", own, c, p("I", "T", t, "Q", 0, own), sep=";")
        l = p("H", "T", t, "Q", 1, own) - p("H", "T", t, "Q", 0, own)
        print("heat", own, c, l, sep=";")
for c in (-50, -30, -5):
    print("ice", "water", c, iapws._iapws._Sublimation_Pressure(273.15 + c) * 1e6, sep=";")
"#;

#[allow(clippy::print_stdout)] // A skipped check must be seen in the log.
fn rows() -> Option<String> {
    let python = std::env::var("ISOBAR_PYTHON").unwrap_or_else(|_| "python3".to_owned());
    let output = Command::new(python).args(["-c", SCRIPT]).output().ok()?;
    if !output.status.success() {
        println!("notice: CoolProp and iapws are not installed, the live check is skipped");
        return None;
    }
    String::from_utf8(output.stdout).ok()
}

#[test]
fn properties_agree_with_both_packages() {
    let Some(rows) = rows() else { return };
    let mut checked = 0;
    for line in rows.lines() {
        let cells: Vec<&str> = line.split(';').collect();
        let [quantity, name, celsius, value] = cells[..] else { panic!("row {line}") };
        let temperature = Temperature::from_celsius(celsius.parse().expect("a temperature"));
        let value: f64 = value.parse().expect("a value");
        let liquid = || {
            Liquid::from_name(name).expect("a liquid").at(temperature).expect("within the table")
        };
        let (own, tolerance) = match quantity {
            "viscosity" => (Gas::from_name(name).expect("a gas").viscosity_pa_s(temperature), 5e-3),
            "vapour_pressure" => (liquid().vapour_pressure.pa(), 1e-9),
            "saturation" => (liquid().vapour_pressure.pa(), 1e-3),
            "density" => (liquid().density_kg_per_m3, 3e-4),
            "liquid_viscosity" => (liquid().viscosity_pa_s, 5e-3),
            "surface_tension" => (liquid().surface_tension_n_per_m, 2e-3),
            "heat" => (liquid().heat_of_evaporation_j_per_kg, 5e-4),
            "ice" => (ice_vapour_pressure(temperature).expect("ice").pa(), 1e-6),
            other => panic!("quantity {other}"),
        };
        assert!((own / value - 1.0).abs() < tolerance, "{line}: {own}");
        checked += 1;
    }
    assert!(checked > 80, "{checked} rows");
}
