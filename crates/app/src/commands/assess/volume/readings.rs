//! Both routes: readings as written, turned into inputs of a budget.

use intake::written_quantity::{
    read_absolute_pressure, read_duration, read_flow, read_temperature, read_volume,
};
use statistics::uncertainty::Input;
use study::Note;

use super::{Read, Volume};
use crate::fault::Fault;

fn missing(what: &str) -> Fault {
    Fault::users(format!("{what} is missing"), format!("add {what}"))
}

/// A share such as `1%`.
fn share(option: &str, text: Option<&String>) -> Result<f64, Fault> {
    let text = text.ok_or_else(|| missing(option))?;
    let number = text.trim().strip_suffix('%').and_then(|share| share.trim().parse::<f64>().ok());
    match number {
        Some(percent) if (0.0..100.0).contains(&percent) => Ok(percent / 100.0),
        _ => {
            Err(Fault::users(format!("`{text}` is not a share"), format!("write {option} like 1%")))
        }
    }
}

fn input(name: &str, value: f64, uncertainty: f64) -> Input {
    Input { name: name.to_owned(), value, uncertainty, degrees_of_freedom: f64::INFINITY }
}

fn pressure(command: &Volume, option: &str, text: Option<&String>) -> Result<f64, Fault> {
    let barometer =
        command.barometer.as_deref().map(|text| read_absolute_pressure(text, None)).transpose()?;
    let text = text.ok_or_else(|| missing(option))?;
    Ok(read_absolute_pressure(text, barometer)?.pa())
}

/// A difference or uncertainty of pressures; `gauge` has no meaning in it.
fn difference(option: &str, text: Option<&String>) -> Result<f64, Fault> {
    let text = text.ok_or_else(|| missing(option))?;
    Ok(read_absolute_pressure(text, None)?.pa())
}

/// Two rises of a flow challenge: `V = Q t / (rise with - rise without)`.
pub fn challenge(command: &Volume, flow: &str) -> Result<Read, Fault> {
    let temperature = read_temperature(&command.temperature)?;
    let molar = read_flow(flow)?.molar_flow(None)?;
    let throughput = molar.throughput_at(temperature).pa_m3_per_s();
    let with = difference("--with", command.with.as_ref())?;
    let without = difference("--without", command.without.as_ref())?;
    let time = read_duration(command.time.as_deref().ok_or_else(|| missing("--time"))?)?.s();
    let of_pressure = difference("--pressure-uncertainty", Some(&command.pressure_uncertainty))?;
    let of_time = read_duration(&command.time_uncertainty)?.s();
    let of_flow = share("--flow-uncertainty", command.flow_uncertainty.as_ref())?;
    if time <= 0.0 || throughput <= 0.0 || !(command.temperature_uncertainty >= 0.0) {
        return Err(Fault::users(
            "flow and time must be above zero, and the uncertainty of temperature not below",
            "write them like --flow \"1 sccm@0C\" --time 10s --temperature-uncertainty 1",
        ));
    }
    let kelvin = temperature.k();
    Ok(Read {
        inputs: vec![
            input("flow", throughput, throughput * of_flow),
            input("time", time, of_time),
            input("temperature", kelvin, command.temperature_uncertainty),
            input("rise with the flow", with, of_pressure),
            input("rise without", without, of_pressure),
        ],
        // The flow is an amount of gas: warmer, it takes more room.
        model: Box::new(move |x| x[0] * (x[2] / kelvin) * x[1] / (x[3] - x[4])),
        difference: with - without,
        difference_uncertainty: of_pressure * 2.0_f64.sqrt(),
        route: "flow",
        method: "effective volume from the rises with and without a known flow",
        note: Note::remark(
            "effective-volume",
            "the effective volume holds what the pressure rise does not show: gas taken up by a \
             headspace behind the leak or lost to walls makes it larger than the free volume",
            "compare it with the free volume by expansion (--reference)",
        ),
    })
}

/// Expansion: `V = V_r (p_r - p_end) / (p_end - p_start)`, one temperature.
pub fn expansion(command: &Volume, reference: &str) -> Result<Read, Fault> {
    let volume = read_volume(reference)?.m3();
    let of_volume = share("--reference-uncertainty", command.reference_uncertainty.as_ref())?;
    let filled = pressure(command, "--reference-pressure", command.reference_pressure.as_ref())?;
    let from = pressure(command, "--from", command.from.as_ref())?;
    let to = pressure(command, "--to", command.to.as_ref())?;
    let of_pressure = difference("--pressure-uncertainty", Some(&command.pressure_uncertainty))?;
    if volume <= 0.0 || filled <= to {
        return Err(Fault::users(
            "the reference must be above zero and its pressure fall when it expands",
            "give the pressure in the reference beforehand and the common one afterwards",
        ));
    }
    Ok(Read {
        inputs: vec![
            input("reference volume", volume, volume * of_volume),
            input("pressure in it", filled, of_pressure),
            input("pressure beforehand", from, of_pressure),
            input("pressure afterwards", to, of_pressure),
        ],
        model: Box::new(|x| x[0] * (x[1] - x[3]) / (x[3] - x[2])),
        difference: to - from,
        difference_uncertainty: of_pressure * 2.0_f64.sqrt(),
        route: "expansion",
        method: "free volume by expansion of a known volume at one temperature",
        note: Note::remark(
            "one-temperature",
            "the gas is taken to have come back to one temperature and to be ideal",
            "wait until the pressure stands still before it is read",
        ),
    })
}
