//! A flow with the conditions under which it was certified:
//! `1e-6 mbar.L/s@20C, helium, 1atm to vacuum, 20C`.

use intake::written_quantity::{read_absolute_pressure, read_flow, read_temperature};
use physics::gases::GasProperties;
use physics::leak_paths::FlowConditions;
use physics::quantities::{AbsolutePressure, MolarFlow, Temperature};

use super::gas_text::LeakGas;
use crate::fault::Fault;

/// A certified flow.
pub struct Certificate {
    pub flow: MolarFlow,
    pub gas: LeakGas,
    pub conditions: FlowConditions<GasProperties>,
    /// What was assumed while reading; empty if nothing.
    pub assumptions: Vec<&'static str>,
}

const EXAMPLE: &str =
    "write it like \"1e-6 mbar.L/s@20C, helium, 1atm to vacuum, 20C\": flow, gas, pressures";

fn pressure(text: &str, barometer: Option<AbsolutePressure>) -> Result<AbsolutePressure, Fault> {
    if text.trim() == "vacuum" {
        return Ok(AbsolutePressure::from_pa(0.0));
    }
    Ok(read_absolute_pressure(text, barometer)?)
}

/// Reads a certified flow; gas and pressures belong to it.
pub fn read(text: &str, barometer: Option<AbsolutePressure>) -> Result<Certificate, Fault> {
    let mut pieces = text.split(',').map(str::trim).peekable();
    let mut flow_text = pieces.next().unwrap_or("").to_owned();
    // `1 sccm@0C,1013mbar`: the pressure belongs to the standard state.
    if let Some(state) = pieces.peek()
        && read_absolute_pressure(state, None).is_ok()
    {
        flow_text = format!("{flow_text},{state}");
        pieces.next();
    }
    let written = read_flow(&flow_text)?;
    let (mut gas, mut pressures, mut temperature) = (None, None, None);
    for piece in pieces {
        if let Some((up, down)) = piece.split_once(" to ") {
            pressures = Some((pressure(up, barometer)?, pressure(down, barometer)?));
        } else if let Ok(read) = read_temperature(piece) {
            temperature = Some(read);
        } else {
            gas = Some(LeakGas::read(piece)?);
        }
    }
    let Some(gas) = gas else {
        return Err(Fault::users(format!("`{text}` does not name its gas"), EXAMPLE));
    };
    let Some((upstream, downstream)) = pressures else {
        return Err(Fault::users(
            format!("`{text}` does not say from which to which pressure"),
            EXAMPLE,
        ));
    };
    let mut assumptions = Vec::new();
    if !written.assumption().is_empty() {
        assumptions.push(written.assumption());
    }
    if temperature.is_none() {
        assumptions.push("The certificate was written without a temperature: 20 C was taken.");
    }
    let temperature = temperature.unwrap_or(Temperature::from_celsius(20.0));
    let properties = gas.properties(temperature);
    Ok(Certificate {
        flow: written.molar_flow(Some(properties.molar_mass_kg_per_mol))?,
        gas,
        conditions: FlowConditions { gas: properties, upstream, downstream, temperature },
        assumptions,
    })
}

#[cfg(test)]
mod tests {
    #[test]
    fn the_conditions_belong_to_the_flow() {
        let read = |text: &str| super::read(text, None);
        let full = read("1e-6 mbar.L/s@20C, helium, 1atm to vacuum, 23C").ok();
        let full = full.expect("a certificate");
        assert_eq!(full.gas.name(), "helium");
        assert_eq!(full.conditions.downstream.pa(), 0.0);
        assert_eq!(full.conditions.temperature.k(), 296.15);
        assert!(full.assumptions.is_empty());
        assert!(read("1 sccm@0C,1013.25mbar, air, 2bar to 1bar").is_ok());
        assert!(read("1 sccm@0C, 1atm to 0Pa").is_err());
        assert!(read("1 sccm@0C, air").is_err());
        assert!(read("1 sccm, air, 1atm to 0Pa").is_err());
    }
}
