//! `isobar leak`: flow through a leak path, in every unit, and which diameter
//! stands for it.

mod answer;
mod certificate;
mod filling;
mod gas_text;
mod liquid;
mod liquid_text;
mod path_text;
mod permeation;
mod source;

use clap::Args;
use intake::written_quantity::{
    read_absolute_pressure, read_duration, read_length, read_temperature, read_volume,
};
use physics::leak_paths::FlowConditions;
use physics::quantities::{AbsolutePressure, Duration, Length, Temperature};

use gas_text::LeakGas;
pub use gas_text::gas_named;

use crate::answer::Answer;
use crate::fault::Fault;

/// Flow through a leak path.
#[derive(Args)]
#[command(after_help = "Examples:
  isobar leak --bore 5um --wall 1mm --gas air --upstream 1atm --downstream 100Pa \\
      --temperature 20C
  isobar leak --slit 1um,10mm --wall 3mm --gas \"N2 0.9, O2 0.1\"
  isobar leak --annulus 13mm,0.5um --wall 5mm --also-for helium
Several paths, one after the other and side by side:
  isobar leak --bore 5um --wall 1mm --then \"orifice 3um\" --and \"slit 0.2um,5mm wall 2mm\"
From a flow to the bore, and from a certificate to the conditions of use:
  isobar leak --flow \"1e-4 mbar.L/s@20C\" --wall 1mm
  isobar leak --certificate \"1e-5 mbar.L/s@20C, helium, 1atm to vacuum\" --wall 0.1mm \\
      --downstream 100Pa
  isobar leak --certificate \"1 sccm@0C, air, 1atm to 0Pa\" --critical-orifice --upstream 950mbar
How fast a headspace empties, and what a leak lets in over the shelf life:
  isobar leak --bore 5um --wall 1mm --headspace 2mL --chamber 50mL
  isobar leak --certificate \"6e-6 mbar.L/s@20C, helium, 1atm to vacuum\" --molecular \\
      --fill-volume 10mL
Through an elastomer, and with liquid in the hole:
  isobar leak --membrane 1cm2,2mm --permeability \"1e-14 mol/(m.s.Pa)\" --gas helium \\
      --diffusion \"1e-9 m2/s\" --after 1h
  isobar leak --bore 10um --wall 1mm --liquid water --downstream 100Pa --temperature 25C
  isobar leak --bore 4um --wall 1mm --liquid \"water, tension 45mN/m\" --downstream 100Pa")]
pub struct Leak {
    /// Bore of the hole or channel, such as 5um.
    #[arg(long, conflicts_with_all = ["slit", "annulus", "flow", "certificate", "membrane"])]
    bore: Option<String>,
    /// Wall that the channel crosses, such as 1mm.
    #[arg(long, conflicts_with_all = ["orifice", "membrane"])]
    wall: Option<String>,
    /// A thin hole: no wall.
    #[arg(long)]
    orifice: bool,
    /// Flat gap: height and width, such as 1um,10mm; --wall is its length.
    #[arg(long, value_name = "HEIGHT,WIDTH", conflicts_with_all = ["flow", "certificate", "membrane"])]
    slit: Option<String>,
    /// Gap between two round walls: mean diameter and height, such as
    /// 13mm,1um; --wall is its length.
    #[arg(
        long,
        value_name = "DIAMETER,GAP",
        conflicts_with_all = ["slit", "flow", "certificate", "membrane"]
    )]
    annulus: Option<String>,
    /// Offset of the two walls of the annulus: 0 concentric, 1 touching.
    #[arg(long, default_value_t = 0.0, requires = "annulus")]
    eccentricity: f64,
    /// A further path behind this one, such as "orifice 3um"; repeatable.
    #[arg(long, value_name = "PATH")]
    then: Vec<String>,
    /// A further path beside this one, such as "bore 2um wall 1mm";
    /// repeatable.
    #[arg(long, value_name = "PATH")]
    and: Vec<String>,
    /// A flow under these conditions; with --wall or --orifice its bore is
    /// found.
    #[arg(long, value_name = "FLOW")]
    flow: Option<String>,
    /// A flow with its own conditions: "FLOW, GAS, PRESSURE to PRESSURE, T".
    /// Say how it is carried over to these: --wall, --orifice, --constant,
    /// --critical-orifice or --molecular.
    #[arg(long, value_name = "CERTIFICATE", conflicts_with = "flow")]
    certificate: Option<String>,
    /// The certified flow is held by a controller, whatever the pressures.
    #[arg(long, requires = "certificate", group = "carried")]
    constant: bool,
    /// The certified flow is that of a critical orifice.
    #[arg(long, requires = "certificate", group = "carried")]
    critical_orifice: bool,
    /// The certified flow is molecular, whatever the shape of the leak.
    #[arg(long, requires = "certificate", group = "carried")]
    molecular: bool,
    /// The same leak with another gas too; repeatable.
    #[arg(long, value_name = "GAS")]
    also_for: Vec<String>,
    /// Volume of a headspace that empties through the leak.
    #[arg(long, value_name = "VOLUME")]
    headspace: Option<String>,
    /// Closed chamber into which the headspace empties; else vacuum.
    #[arg(long, value_name = "VOLUME", requires = "headspace")]
    chamber: Option<String>,
    /// Volume of a container that fills through the leak, in storage.
    #[arg(long, value_name = "VOLUME")]
    fill_volume: Option<String>,
    /// Time at which the filling or permeation is told, such as 365d;
    /// repeatable.
    #[arg(long, value_name = "TIME")]
    after: Vec<String>,
    /// Diffusion coefficient: of the gas in the elastomer, or in the gas of
    /// the filled volume.
    #[arg(long, value_name = "M2/S")]
    diffusion: Option<String>,
    /// Mole fraction of the gas outside the filled volume, for diffusion.
    #[arg(long, value_name = "FRACTION", requires_all = ["diffusion", "fill_volume"])]
    outside_fraction: Option<f64>,
    /// Wall of an elastomer: area and thickness, such as 1cm2,2mm.
    #[arg(long, value_name = "AREA,THICKNESS", requires = "permeability")]
    membrane: Option<String>,
    /// Permeability, such as "1e-14 mol/(m.s.Pa)" or "30 Barrer".
    #[arg(long, requires = "membrane")]
    permeability: Option<String>,
    /// The hole holds this liquid instead of gas: water or ethanol, and what
    /// differs in yours, such as "water, tension 45mN/m, viscosity 3mPa.s".
    #[arg(long, requires = "bore")]
    liquid: Option<String>,
    /// Contact angle of the liquid, degrees.
    #[arg(long, default_value_t = 0.0, requires = "liquid")]
    contact_angle: f64,
    /// Gas in the leak, or a mixture such as "nitrogen 0.9, oxygen 0.1".
    #[arg(long, default_value = "air")]
    gas: String,
    /// Absolute pressure before the leak.
    #[arg(long, default_value = "1atm", allow_hyphen_values = true)]
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

/// The conditions of use, read once.
struct InUse {
    gas: LeakGas,
    upstream: AbsolutePressure,
    downstream: AbsolutePressure,
    temperature: Temperature,
    barometer: Option<AbsolutePressure>,
}

impl InUse {
    fn read(command: &Leak) -> Result<Self, Fault> {
        let barometer = command
            .barometer
            .as_deref()
            .map(|text| read_absolute_pressure(text, None))
            .transpose()?;
        Ok(Self {
            gas: LeakGas::read(&command.gas)?,
            upstream: read_absolute_pressure(&command.upstream, barometer)?,
            downstream: read_absolute_pressure(&command.downstream, barometer)?,
            temperature: read_temperature(&command.temperature)?,
            barometer,
        })
    }

    /// As conditions of a flow, for a gas.
    fn with<G>(&self, gas: G) -> FlowConditions<G> {
        FlowConditions {
            gas,
            upstream: self.upstream,
            downstream: self.downstream,
            temperature: self.temperature,
        }
    }
}

fn times(command: &Leak) -> Result<Vec<Duration>, Fault> {
    let read = |text: &String| Ok(read_duration(text)?);
    command.after.iter().map(read).collect()
}

/// Runs the command.
pub fn run(command: &Leak) -> Result<Answer, Fault> {
    let in_use = InUse::read(command)?;
    if let Some(name) = &command.liquid {
        let wall = command.wall.as_deref().map(read_length).transpose()?;
        let LeakGas::Pure(gas) = in_use.gas else {
            return Err(Fault::users(
                "with a liquid in the hole the gas does not count",
                "leave out --gas",
            ));
        };
        return liquid::answer(&liquid::WettedHole {
            name,
            bore: path_text::size(command.bore.as_deref().unwrap_or(""))?,
            wall: wall.unwrap_or(Length::from_m(0.0)),
            contact_angle_degrees: command.contact_angle,
            conditions: in_use.with(gas),
        });
    }
    if let (Some(membrane), Some(permeability)) = (&command.membrane, &command.permeability) {
        return permeation::answer(&permeation::Asked {
            wall: membrane,
            permeability,
            diffusion: command.diffusion.as_deref(),
            times: times(command)?,
            in_use: &in_use,
        });
    }
    let source = source::read(command, &in_use)?;
    let volume = |text: &Option<String>| text.as_deref().map(read_volume).transpose();
    let (headspace, chamber) = (volume(&command.headspace)?, volume(&command.chamber)?);
    let fill = volume(&command.fill_volume)?;
    for given in [headspace, chamber, fill].into_iter().flatten() {
        if given.m3() <= 0.0 {
            return Err(Fault::users("a volume must be above zero", "write it like 10mL"));
        }
    }
    let also_for =
        command.also_for.iter().map(|name| LeakGas::read(name)).collect::<Result<Vec<_>, _>>()?;
    let filling = fill
        .map(|volume| {
            filling::compute(&filling::Asked {
                source: &source,
                in_use: &in_use,
                volume,
                times: times(command)?,
                diffusion: command.diffusion.as_deref(),
                outside_fraction: command.outside_fraction,
            })
        })
        .transpose()?;
    if filling.is_none() && !command.after.is_empty() {
        return Err(Fault::users(
            "--after tells a time, but nothing fills or permeates",
            "add --fill-volume 10mL or --membrane",
        ));
    }
    answer::gas_answer(&answer::Asked {
        source: &source,
        in_use: &in_use,
        bore: command.bore.as_deref().map(path_text::size).transpose()?,
        also_for: &also_for,
        headspace,
        chamber,
        filling,
    })
}
