//! `isobar convert`: from one unit to another, with the reference states said.

use clap::{Args, ValueEnum};
use intake::written_quantity::{TargetUnit, WrittenQuantity, read_any, read_target_unit};
use physics::gases::Gas;
use physics::leak_paths::{FlowConditions, flow_equivalent_diameter, ideal_nozzle_flow};
use physics::quantities::units::UnitKind;
use physics::quantities::{AbsolutePressure, MolarFlow, Temperature};
use serde_json::json;
use study::Note;

use super::leak::gas_named;
use crate::answer::{Answer, number};
use crate::fault::Fault;
use crate::table_text::digits;

/// Convert a quantity.
#[derive(Args)]
#[command(after_help = "Examples:
  isobar convert \"1 sccm@0C\" --to \"Pa.m3/s@20C\"
  isobar convert 5um --to \"std cm3/s@0C\" --temperature 25C
  isobar convert \"1e-5 mbar.L/s@20C\" --gas helium --to-gas air \\
      --regime molecular --to \"mbar.L/s@20C\"

A length and a flow are converted through the ideal nozzle: the flow-equivalent diameter of the
trade, 1 atm to vacuum. `isobar leak` gives the flow through a real hole or channel.")]
pub struct Convert {
    /// Quantity with its unit, such as "1 sccm@0C".
    #[arg(allow_hyphen_values = true)]
    quantity: String,
    /// Unit wanted, such as "Pa.m3/s@20C".
    #[arg(long)]
    to: String,
    /// Gas of the flow.
    #[arg(long, default_value = "air")]
    gas: String,
    /// Another gas through the same leak; needs --regime.
    #[arg(long, requires = "regime")]
    to_gas: Option<String>,
    /// How the gas moves in the leak: the ratio of two gases hangs on it.
    #[arg(long, value_enum, requires = "to_gas")]
    regime: Option<Regime>,
    /// Gas temperature, where a length and a flow are converted.
    #[arg(long, default_value = "20C", allow_hyphen_values = true)]
    temperature: String,
}

/// How gas moves in a leak.
#[derive(Clone, Copy, ValueEnum)]
enum Regime {
    /// Mean free path above the bore: ratio by the root of the molar masses.
    Molecular,
    /// Long viscous capillary: ratio by the viscosities.
    Viscous,
    /// Choked hole: ratio by molar mass and heat capacity ratio.
    Choked,
}

/// Runs the command.
pub fn run(command: &Convert) -> Result<Answer, Fault> {
    let target = read_target_unit(&command.to)?;
    let quantity = read_any(&command.quantity)?;
    let gas = gas_named(&command.gas)?;
    let temperature = intake::written_quantity::read_temperature(&command.temperature)?;
    let mut notes = Vec::new();
    let value = match (quantity, is_flow(&target)) {
        (WrittenQuantity::Length(bore), true) => {
            notes.push(nozzle_note(gas, temperature));
            let flow = ideal_nozzle_flow(bore, &to_vacuum(gas, temperature))?;
            flow_in(&target, other_gas(command, gas, flow, temperature, &mut notes)?, gas)?
        }
        (WrittenQuantity::Flow(flow), _) => {
            let said = flow.assumption();
            if !said.is_empty() {
                notes.push(Note::remark("reference-state", said, "write the state with @"));
            }
            let molar = flow.molar_flow(Some(gas.molar_mass_kg_per_mol()))?;
            let molar = other_gas(command, gas, molar, temperature, &mut notes)?;
            let gas = command.to_gas.as_deref().map_or(Ok(gas), gas_named)?;
            if target.unit.kind == UnitKind::Length {
                notes.push(nozzle_note(gas, temperature));
                flow_equivalent_diameter(molar, &to_vacuum(gas, temperature))?.m()
                    / target.unit.factor
            } else {
                flow_in(&target, molar, gas)?
            }
        }
        (WrittenQuantity::Temperature(_), _) => {
            return Err(Fault::users(
                "temperatures are not converted here",
                "write them in °C or K wherever one is asked for",
            ));
        }
        (other, _) => target.value_of(other, Some(gas.molar_mass_kg_per_mol()))?,
    };
    if target.default_temperature && is_flow(&target) {
        notes.push(Note::remark(
            "throughput-temperature",
            "the throughput is given for gas at 20 °C",
            "write @T behind the unit to choose another temperature",
        ));
    }
    let unit = target.text();
    let text = format!("{} = {} {unit}\n", command.quantity.trim(), digits(value, 7));
    let json = json!({
        "quantity": command.quantity.trim(),
        "value": number(value),
        "unit": unit,
        "gas": command.to_gas.as_deref().map_or(Ok(gas), gas_named)?.name(),
    });
    Ok(Answer::new(text, json, notes))
}

fn is_flow(target: &TargetUnit) -> bool {
    matches!(
        target.unit.kind,
        UnitKind::Throughput | UnitKind::MolarFlow | UnitKind::StandardFlow | UnitKind::MassFlow
    )
}

fn flow_in(target: &TargetUnit, flow: MolarFlow, gas: Gas) -> Result<f64, Fault> {
    let written = WrittenQuantity::Flow(intake::written_quantity::WrittenFlow::Molar(flow));
    Ok(target.value_of(written, Some(gas.molar_mass_kg_per_mol()))?)
}

fn to_vacuum(gas: Gas, temperature: Temperature) -> FlowConditions {
    FlowConditions {
        gas,
        upstream: AbsolutePressure::from_atm(1.0),
        downstream: AbsolutePressure::from_pa(0.0),
        temperature,
    }
}

fn nozzle_note(gas: Gas, temperature: Temperature) -> Note {
    Note::remark(
        "ideal-nozzle",
        format!(
            "the length is a flow-equivalent diameter: ideal nozzle, {} at {} °C, 1 atm to vacuum",
            gas.name(),
            crate::table_text::plain(temperature.celsius(), 4)
        ),
        "use `isobar leak` for the flow through a real bore",
    )
}

/// The flow of another gas through the same leak, by the stated regime.
fn other_gas(
    command: &Convert,
    from: Gas,
    flow: MolarFlow,
    temperature: Temperature,
    notes: &mut Vec<Note>,
) -> Result<MolarFlow, Fault> {
    let (Some(name), Some(regime)) = (&command.to_gas, command.regime) else { return Ok(flow) };
    let to = gas_named(name)?;
    let (ratio, words) = match regime {
        Regime::Molecular => (
            (from.molar_mass_kg_per_mol() / to.molar_mass_kg_per_mol()).sqrt(),
            "molecular: root of the ratio of molar masses",
        ),
        Regime::Viscous => (
            from.viscosity_pa_s(temperature) / to.viscosity_pa_s(temperature),
            "viscous capillary: inverse ratio of viscosities",
        ),
        Regime::Choked => {
            let bore = physics::quantities::Length::from_um(10.0);
            let of = |gas| ideal_nozzle_flow(bore, &to_vacuum(gas, temperature));
            (of(to)?.mol_per_s() / of(from)?.mol_per_s(), "choked hole: ideal nozzle of both gases")
        }
    };
    notes.push(Note::caution(
        "gas-ratio",
        format!("{} to {} with the ratio {} ({words})", from.name(), to.name(), digits(ratio, 5)),
        "a real leak changes regime with size and pressure: run `isobar leak` for both gases",
    ));
    Ok(MolarFlow::from_mol_per_s(flow.mol_per_s() * ratio))
}
