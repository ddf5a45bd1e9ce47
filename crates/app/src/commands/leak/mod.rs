//! `isobar leak`: flow through a leak path, in every unit, and which diameter
//! stands for it.

mod liquid;

use clap::Args;
use intake::written_quantity::{read_absolute_pressure, read_length, read_temperature};
use physics::gases::Gas;
use physics::leak_paths::{
    FlowConditions, LeakPath, flow_equivalent_diameter, ideal_nozzle_flow, molecular_effusion_flow,
    sharp_edged_continuum_flow,
};
use physics::quantities::{AbsolutePressure, Length, MolarFlow, StandardFlow, Temperature};
use serde_json::json;
use study::Note;

use crate::answer::{Answer, number, optional};
use crate::fault::Fault;
use crate::table_text::{digits, pairs, plain};

/// Flow through a leak path.
#[derive(Args)]
#[command(after_help = "Examples:
  isobar leak --bore 5um --wall 1mm --gas air --upstream 1atm --downstream 100Pa \\
      --temperature 20C
  isobar leak --slit 1um,10mm --wall 3mm
  isobar leak --annulus 13mm,0.5um --wall 5mm --gas helium
  isobar leak --bore 10um --wall 1mm --liquid water --downstream 100Pa --temperature 25C")]
pub struct Leak {
    /// Bore of the hole or channel, such as 5um.
    #[arg(long, required_unless_present_any = ["slit", "annulus"], conflicts_with = "slit")]
    bore: Option<String>,
    /// Wall that the channel crosses, such as 1mm.
    #[arg(long, conflicts_with = "orifice", required_unless_present_any = ["orifice", "slit", "annulus"])]
    wall: Option<String>,
    /// A thin hole: no wall.
    #[arg(long)]
    orifice: bool,
    /// Flat gap: height and width, such as 1um,10mm; --wall is its length.
    #[arg(long, value_name = "HEIGHT,WIDTH", requires = "wall")]
    slit: Option<String>,
    /// Gap between two round walls: mean diameter and height, such as
    /// 13mm,1um; --wall is its length.
    #[arg(long, value_name = "DIAMETER,GAP", requires = "wall", conflicts_with_all = ["bore", "slit"])]
    annulus: Option<String>,
    /// Offset of the two walls of the annulus: 0 concentric, 1 touching.
    #[arg(long, default_value_t = 0.0, requires = "annulus")]
    eccentricity: f64,
    /// The hole holds this liquid instead of gas: water or ethanol.
    #[arg(long, requires = "bore")]
    liquid: Option<String>,
    /// Contact angle of the liquid, degrees.
    #[arg(long, default_value_t = 0.0, requires = "liquid")]
    contact_angle: f64,
    /// Gas in the leak.
    #[arg(long, default_value = "air")]
    gas: String,
    /// Absolute pressure before the leak.
    #[arg(long, default_value = "1atm")]
    upstream: String,
    /// Absolute pressure behind the leak.
    #[arg(long, default_value = "0Pa", allow_hyphen_values = true)]
    downstream: String,
    /// Gas temperature.
    #[arg(long, default_value = "20C", allow_hyphen_values = true)]
    temperature: String,
    /// Pressure of the room, for pressures written as gauge.
    #[arg(long)]
    barometer: Option<String>,
}

/// The gas of this name, or a fault that lists the gases.
pub fn gas_named(name: &str) -> Result<Gas, Fault> {
    Gas::from_name(name).ok_or_else(|| {
        let known: Vec<&str> = Gas::ALL.iter().map(|gas| gas.name()).collect();
        Fault::users(format!("`{name}` is not a known gas"), format!("known: {}", known.join(", ")))
    })
}

fn path(command: &Leak) -> Result<(LeakPath, String), Fault> {
    let positive = |text: &str| -> Result<Length, Fault> {
        let length = read_length(text)?;
        if length.m() > 0.0 {
            Ok(length)
        } else {
            Err(Fault::users(format!("`{text}`: a size must be above zero"), "write it like `5um`"))
        }
    };
    if let Some(slit) = &command.slit {
        let Some((height, width)) = slit.split_once(',') else {
            return Err(Fault::users(
                format!("`{slit}` is not a height and a width"),
                "write --slit 1um,10mm --wall 3mm",
            ));
        };
        let depth = positive(command.wall.as_deref().unwrap_or(""))?;
        let (height, width) = (positive(height)?, positive(width)?);
        let words = format!(
            "slit {} µm x {} mm, {} mm long",
            plain(height.um(), 4),
            plain(width.mm(), 4),
            plain(depth.mm(), 4)
        );
        return Ok((LeakPath::Slit { height, width, depth }, words));
    }
    if let Some(annulus) = &command.annulus {
        let Some((diameter, gap)) = annulus.split_once(',') else {
            return Err(Fault::users(
                format!("`{annulus}` is not a diameter and a gap"),
                "write --annulus 13mm,1um --wall 5mm",
            ));
        };
        let depth = positive(command.wall.as_deref().unwrap_or(""))?;
        let (mean_diameter, gap) = (positive(diameter)?, positive(gap)?);
        let words = format!(
            "annulus of {} mm, gap {} µm, {} mm long",
            plain(mean_diameter.mm(), 4),
            plain(gap.um(), 4),
            plain(depth.mm(), 4)
        );
        let eccentricity = command.eccentricity;
        return Ok((LeakPath::Annulus { mean_diameter, gap, depth, eccentricity }, words));
    }
    let bore = positive(command.bore.as_deref().unwrap_or(""))?;
    match &command.wall {
        Some(wall) => {
            let wall = positive(wall)?;
            let words = format!(
                "channel, bore {} µm through a wall of {} mm",
                plain(bore.um(), 4),
                plain(wall.mm(), 4)
            );
            Ok((LeakPath::Channel { bore_diameter: bore, wall }, words))
        }
        None => Ok((
            LeakPath::Orifice { bore_diameter: bore },
            format!("thin hole, bore {} µm", plain(bore.um(), 4)),
        )),
    }
}

/// Runs the command.
pub fn run(command: &Leak) -> Result<Answer, Fault> {
    let barometer =
        command.barometer.as_deref().map(|text| read_absolute_pressure(text, None)).transpose()?;
    let conditions = FlowConditions {
        gas: gas_named(&command.gas)?,
        upstream: read_absolute_pressure(&command.upstream, barometer)?,
        downstream: read_absolute_pressure(&command.downstream, barometer)?,
        temperature: read_temperature(&command.temperature)?,
    };
    if let Some(name) = &command.liquid {
        let wall = command.wall.as_deref().map(read_length).transpose()?;
        return liquid::answer(&liquid::WettedHole {
            name,
            bore: read_length(command.bore.as_deref().unwrap_or(""))?,
            wall: wall.unwrap_or(Length::from_m(0.0)),
            contact_angle_degrees: command.contact_angle,
            conditions,
        });
    }
    let (path, words) = path(command)?;
    let flow = path.flow(&conditions)?;
    let molar = flow.molar_flow;
    let throughput = molar.throughput_at(conditions.temperature);
    let standard = standard_at_zero(molar);
    let mass_kg_per_s = molar.mass_flow(conditions.gas.molar_mass_kg_per_mol()).kg_per_s();
    let equivalent = flow_equivalent_diameter(molar, &conditions).ok();
    let bore = command.bore.as_deref().map(read_length).transpose()?;
    let compare = bore.map(|bore| compared_laws(bore, &conditions)).transpose()?;

    let mut notes: Vec<Note> = flow
        .notes
        .iter()
        .map(|note| Note::caution(note.code(), note.text(), note.next_step()))
        .collect();
    notes.push(Note::remark(
        "three-diameters",
        "bore, nominal and flow-equivalent diameter are three quantities; the last is the ideal \
         nozzle (no contraction, no rarefaction) that passes the same flow under these conditions",
        "say which one is meant wherever a size in µm is written",
    ));
    if equivalent.is_none() {
        notes.push(Note::refusal(
            "no-equivalent",
            "a flow-equivalent diameter is not defined without a flow from upstream to downstream",
            "",
        ));
    }
    let mut text = format!(
        "{words}\n{} at {} °C, {} Pa -> {} Pa\n\n",
        conditions.gas.name(),
        plain(conditions.temperature.celsius(), 4),
        plain(conditions.upstream.pa(), 6),
        plain(conditions.downstream.pa(), 6),
    );
    text.push_str(&pairs(&[
        (
            "throughput",
            format!(
                "{} Pa·m³/s = {} mbar·L/s (gas at {} °C)",
                digits(throughput.pa_m3_per_s(), 4),
                digits(throughput.mbar_l_per_s(), 4),
                plain(conditions.temperature.celsius(), 4)
            ),
        ),
        (
            "standard flow",
            format!(
                "{} std cm³/s = {} sccm (0 °C, 101 325 Pa)",
                digits(standard.cm3_per_s(), 4),
                digits(standard.sccm(), 4)
            ),
        ),
        ("amount", format!("{} mol/s", digits(molar.mol_per_s(), 4))),
        ("mass", format!("{} µg/s", digits(mass_kg_per_s * 1.0e9, 4))),
        (
            "flow-equivalent diameter",
            equivalent.map_or_else(
                || "not defined".to_owned(),
                |diameter| format!("{} µm", digits(diameter.um(), 4)),
            ),
        ),
        ("regime", format!("{} (rarefaction {})", flow.regime.word(), digits(flow.rarefaction, 3))),
        (
            "uncertainty of the law",
            format!("± {} %", digits(flow.relative_law_uncertainty * 100.0, 2)),
        ),
    ]));
    if let Some(compare) = &compare {
        text.push_str("\nthe same bore by simpler laws, std cm³/s at 0 °C:\n");
        text.push_str(&pairs(&[
            ("ideal nozzle", digits(compare.ideal_nozzle, 5)),
            ("sharp-edged hole, continuum", digits(compare.sharp_edged, 5)),
            ("molecular efflux", digits(compare.molecular, 5)),
        ]));
    }
    let json = json!({
        "leak_path": words,
        "gas": conditions.gas.name(),
        "upstream_pa": number(conditions.upstream.pa()),
        "downstream_pa": number(conditions.downstream.pa()),
        "temperature_k": number(conditions.temperature.k()),
        "throughput_pa_m3_per_s": number(throughput.pa_m3_per_s()),
        "throughput_mbar_l_per_s": number(throughput.mbar_l_per_s()),
        "molar_flow_mol_per_s": number(molar.mol_per_s()),
        "mass_flow_kg_per_s": number(mass_kg_per_s),
        "std_cm3_per_s_at_0c": number(standard.cm3_per_s()),
        "sccm_at_0c": number(standard.sccm()),
        "regime": flow.regime.word(),
        "rarefaction": number(flow.rarefaction),
        "relative_law_uncertainty": number(flow.relative_law_uncertainty),
        "flow_equivalent_diameter_m": optional(equivalent.map(Length::m)),
        "ideal_nozzle_std_cm3_per_s_at_0c": optional(compare.as_ref().map(|c| c.ideal_nozzle)),
        "sharp_edged_continuum_std_cm3_per_s_at_0c":
            optional(compare.as_ref().map(|c| c.sharp_edged)),
        "molecular_efflux_std_cm3_per_s_at_0c": optional(compare.as_ref().map(|c| c.molecular)),
    });
    Ok(Answer::new(text, json, notes))
}

/// Standard flow at 0 °C and 101 325 Pa.
fn standard_at_zero(flow: MolarFlow) -> StandardFlow {
    StandardFlow::of(flow, Temperature::from_celsius(0.0), AbsolutePressure::from_atm(1.0))
}

/// The same bore by simpler laws, std cm³/s at 0 °C.
struct ComparedLaws {
    ideal_nozzle: f64,
    sharp_edged: f64,
    molecular: f64,
}

fn compared_laws(bore: Length, conditions: &FlowConditions) -> Result<ComparedLaws, Fault> {
    Ok(ComparedLaws {
        ideal_nozzle: standard_at_zero(ideal_nozzle_flow(bore, conditions)?).cm3_per_s(),
        sharp_edged: standard_at_zero(sharp_edged_continuum_flow(bore, conditions)?).cm3_per_s(),
        molecular: standard_at_zero(molecular_effusion_flow(bore, conditions)?).cm3_per_s(),
    })
}
