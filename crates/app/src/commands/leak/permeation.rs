//! `isobar leak --membrane`: gas through the material of an elastomer.

use intake::written_quantity::{before_unit, read_area, read_plain_number};
use physics::permeation::PermeableWall;
use physics::quantities::{Duration, Temperature};
use serde_json::{Value, json};
use study::Note;

use super::filling::span;
use super::{InUse, path_text};
use crate::answer::{Answer, number, optional};
use crate::fault::Fault;
use crate::table_text::{digits, pairs, plain, table};

/// A wall of an elastomer.
pub struct Asked<'a> {
    pub wall: &'a str,
    pub permeability: &'a str,
    pub diffusion: Option<&'a str>,
    pub times: Vec<Duration>,
    pub in_use: &'a InUse,
}

/// One Barrer, mol/(m s Pa): 1e-10 cm³ at 0 °C and 1 atm, times cm, over
/// cm² s cmHg; a centimetre of mercury is 1333.22387415 Pa (from memory).
const BARRER: f64 = 1.0e-10 * 4.461_503_3e-5 * 1.0e2 / 1_333.223_874_15;

/// A number with one of the given units behind it.
fn read_with(text: &str, units: &[(&str, f64)], example: &str) -> Result<f64, Fault> {
    let refused =
        |what: &str| Fault::users(format!("`{text}`: {what}"), format!("write {example}"));
    let (value, factor) =
        before_unit(text, units).ok_or_else(|| refused("the unit is missing or not known"))?;
    let value = read_plain_number(value)?;
    if value <= 0.0 {
        return Err(refused("it must be above zero"));
    }
    Ok(value * factor)
}

/// A diffusion coefficient, m²/s.
pub fn diffusion_coefficient(text: &str) -> Result<f64, Fault> {
    const UNITS: [(&str, f64); 4] =
        [("cm2/s", 1.0e-4), ("cm²/s", 1.0e-4), ("m2/s", 1.0), ("m²/s", 1.0)];
    read_with(text, &UNITS, "--diffusion \"1e-9 m2/s\"")
}

fn permeability(text: &str) -> Result<f64, Fault> {
    const UNITS: [(&str, f64); 5] = [
        ("mol/(m.s.Pa)", 1.0),
        ("mol/(m·s·Pa)", 1.0),
        ("mol/(m s Pa)", 1.0),
        ("Barrer", BARRER),
        ("barrer", BARRER),
    ];
    read_with(text, &UNITS, "--permeability \"1e-14 mol/(m.s.Pa)\" or \"30 Barrer\"")
}

/// The answer for a permeable wall.
pub fn answer(asked: &Asked<'_>) -> Result<Answer, Fault> {
    let Some((area, thickness)) = asked.wall.split_once(',') else {
        return Err(Fault::users(
            format!("`{}` is not an area and a thickness", asked.wall),
            "write --membrane 1cm2,2mm",
        ));
    };
    let area = read_area(area)?;
    if area.m2() <= 0.0 {
        return Err(Fault::users("the area must be above zero", "write --membrane 1cm2,2mm"));
    }
    let diffusion = asked.diffusion.map(diffusion_coefficient).transpose()?;
    let wall = PermeableWall {
        area,
        thickness: path_text::size(thickness)?,
        permeability_mol_per_m_s_pa: permeability(asked.permeability)?,
        diffusion_m2_per_s: diffusion.unwrap_or(f64::INFINITY),
    };
    if diffusion.is_none() && !asked.times.is_empty() {
        return Err(Fault::users(
            "the flow after a time needs the diffusion coefficient in the material",
            "add --diffusion \"1e-9 m2/s\"",
        ));
    }
    let (in_use, name) = (asked.in_use, asked.in_use.gas.name());
    let difference = in_use.upstream - in_use.downstream;
    let steady = wall.steady_flow(difference);
    let throughput = steady.throughput_at(in_use.temperature);
    let lag = diffusion.map(|_| wall.time_lag());
    let rows: Vec<(Duration, f64)> = asked
        .times
        .iter()
        .map(|&time| (time, wall.flow_after(difference, time).mol_per_s()))
        .collect();
    let words = format!(
        "elastomer wall of {} cm², {} mm thick",
        plain(area.m2() * 1e4, 4),
        plain(wall.thickness.mm(), 4)
    );
    let mut text = format!(
        "{words}\n{name} at {} °C, {} Pa -> {} Pa\n\n",
        plain(in_use.temperature.celsius(), 4),
        plain(in_use.upstream.pa(), 6),
        plain(in_use.downstream.pa(), 6),
    ) + &pairs(&[
        (
            "steady throughput",
            format!(
                "{} Pa·m³/s = {} mbar·L/s",
                digits(throughput.pa_m3_per_s(), 4),
                digits(throughput.mbar_l_per_s(), 4)
            ),
        ),
        ("steady amount", format!("{} mol/s", digits(steady.mol_per_s(), 4))),
        ("time lag", lag.map_or_else(|| "needs --diffusion".to_owned(), span)),
    ]);
    if !rows.is_empty() {
        let share =
            |flow: f64| if steady.mol_per_s() == 0.0 { 0.0 } else { flow / steady.mol_per_s() };
        let lines: Vec<Vec<String>> = rows
            .iter()
            .map(|(time, flow)| vec![span(*time), digits(*flow, 4), digits(share(*flow), 3)])
            .collect();
        text.push('\n');
        text.push_str(&table(&["after", "mol/s", "of steady"], &lines));
    }
    let states: Vec<Value> = rows
        .iter()
        .map(|(time, flow)| json!({"time_s": number(time.s()), "flow_mol_per_s": number(*flow)}))
        .collect();
    let json = json!({
        "leak_path": words,
        "gas": name,
        "upstream_pa": number(in_use.upstream.pa()),
        "downstream_pa": number(in_use.downstream.pa()),
        "temperature_k": number(in_use.temperature.k()),
        "permeability_mol_per_m_s_pa": number(wall.permeability_mol_per_m_s_pa),
        "molar_flow_mol_per_s": number(steady.mol_per_s()),
        "throughput_pa_m3_per_s": number(throughput.pa_m3_per_s()),
        "time_lag_s": optional(lag.map(Duration::s)),
        "states": states,
    });
    Ok(Answer::new(text, json, notes(name, in_use.temperature)))
}

fn notes(name: &str, temperature: Temperature) -> Vec<Note> {
    vec![
        Note::caution(
            "material-figures",
            format!(
                "permeability and diffusion are figures of the material, the gas and {} °C; they \
                 change by tens of percent between compounds and by a few percent per kelvin",
                plain(temperature.celsius(), 4)
            ),
            "take them from a measurement on the compound itself",
        ),
        Note::caution(
            "partial-pressure",
            format!("the pressures are taken as those of {name} itself, not of the gas around it"),
            "give the partial pressures of the gas on both sides",
        ),
    ]
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_barrer_is_its_definition() {
        // 3.34e-16 mol/(m s Pa), from memory.
        assert!((BARRER / 3.346e-16 - 1.0).abs() < 1e-3);
        assert!(permeability("1e-14").is_err() && diffusion_coefficient("1e-9").is_err());
        assert_eq!(diffusion_coefficient("2e-5 cm2/s").ok(), Some(2e-9));
    }
}
