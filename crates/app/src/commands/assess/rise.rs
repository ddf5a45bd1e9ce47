//! `isobar assess rise`: leak flow from the pressure rise of a closed volume.

use clap::Args;
use intake::written_quantity::{
    read_absolute_pressure, read_duration, read_temperature, read_volume,
};
use physics::quantities::{AbsolutePressure, StandardFlow, Temperature, flow_from_rise};
use report::figure::{Axis, Dash, Figure, Ink, Marker};
use report::number::significant;
use serde_json::json;
use statistics::{Assumption, Counted};
use study::Note;

use super::drawing::{line, points, words};
use super::figure_option::FigureOption;
use super::statement::Statement;
use super::told::Told;
use crate::answer::{Answer, number};
use crate::fault::Fault;
use crate::table_text::{digits, pairs};

/// Flow from a pressure rise.
#[derive(Args)]
#[command(after_help = "Example:
  isobar assess rise --volume 2.0000L --from 25.300kPa --to 50.600kPa \\
      --temperature 293.15K --seconds 70s")]
pub struct Rise {
    /// Closed volume.
    #[arg(long)]
    volume: String,
    /// Absolute pressure at the start.
    #[arg(long)]
    from: String,
    /// Absolute pressure at the end.
    #[arg(long)]
    to: String,
    /// Gas temperature, constant.
    #[arg(long, allow_hyphen_values = true)]
    temperature: String,
    /// Time between the two; a bare number is read as seconds.
    #[arg(long)]
    seconds: String,
    /// Pressure of the room, for pressures written as gauge.
    #[arg(long)]
    barometer: Option<String>,
    #[command(flatten)]
    figure: FigureOption,
}

/// Runs the command.
pub fn run(command: &Rise) -> Result<Answer, Fault> {
    let barometer =
        command.barometer.as_deref().map(|text| read_absolute_pressure(text, None)).transpose()?;
    let volume = read_volume(&command.volume)?;
    let from = read_absolute_pressure(&command.from, barometer)?;
    let to = read_absolute_pressure(&command.to, barometer)?;
    let temperature = read_temperature(&command.temperature)?;
    // The option itself names the unit, so a bare number is no ambiguity here.
    let written = command.seconds.trim();
    let elapsed = if written.parse::<f64>().is_ok() {
        read_duration(&format!("{written} s"))?
    } else {
        read_duration(written)?
    };
    if elapsed.s() <= 0.0 || volume.m3() <= 0.0 {
        return Err(Fault::users(
            "the volume and the time must be above zero",
            "write them like --volume 100mL --seconds 10s",
        ));
    }
    let flow = flow_from_rise(volume, to - from, temperature, elapsed);
    let throughput = flow.throughput_at(temperature);
    let standard =
        StandardFlow::of(flow, Temperature::from_celsius(0.0), AbsolutePressure::from_atm(1.0));
    let mut notes = vec![Note::remark(
        "mean-flow",
        "this is the mean flow into the volume, background included, at constant volume and \
         temperature",
        "subtract the rise of a tight unit over the same time",
    )];
    if to.pa() < from.pa() {
        notes.push(Note::caution(
            "pressure-falls",
            "the pressure falls, so the flow is out of the volume",
            "check that the valve was closed and the temperature constant",
        ));
    }
    let text = pairs(&[
        ("amount", format!("{} mol/s", digits(flow.mol_per_s(), 5))),
        (
            "throughput",
            format!(
                "{} Pa·m³/s = {} mbar·L/s (gas at {} °C)",
                digits(throughput.pa_m3_per_s(), 5),
                digits(throughput.mbar_l_per_s(), 5),
                crate::table_text::plain(temperature.celsius(), 4)
            ),
        ),
        ("standard flow", format!("{} sccm (0 °C, 101 325 Pa)", digits(standard.sccm(), 5))),
        ("rate of rise", format!("{} Pa/s", digits((to - from).pa() / elapsed.s(), 5))),
    ]);
    let json = json!({
        "molar_flow_mol_per_s": number(flow.mol_per_s()),
        "throughput_pa_m3_per_s": number(throughput.pa_m3_per_s()),
        "sccm_at_0c": number(standard.sccm()),
        "rise_pa": number((to - from).pa()),
        "rate_pa_per_s": number((to - from).pa() / elapsed.s()),
        "method": "pressure rise of a closed volume at constant temperature, ideal gas",
        "temperature_k": number(temperature.k()),
    });
    let wording = format!(
        "The pressure of a volume of {} mL rose from {} to {} Pa in {} s at {} K: a mean flow of \
         {} Pa·m³/s, background included.",
        digits(volume.m3() * 1e6, 5),
        digits(from.pa(), 6),
        digits(to.pa(), 6),
        digits(elapsed.s(), 4),
        digits(temperature.k(), 5),
        digits(throughput.pa_m3_per_s(), 4)
    );
    let statement = Statement {
        told: vec![Told::own(
            "flow",
            "pressure rise of a closed volume at constant temperature, ideal gas",
            Counted::of(2, "readings of the pressure; no scatter is known from two"),
            vec![
                Assumption::unchecked(
                    "constant temperature and volume",
                    "a tight unit over the same time",
                    "two pressures do not show it",
                ),
                Assumption::unchecked(
                    "a constant flow",
                    "further readings between",
                    "two pressures give a mean",
                ),
            ],
        )],
        text,
        json,
        assumptions: Vec::new(),
        wording,
        notes,
    };
    statement.finish(&command.figure, || {
        vec![drawn(from.pa(), to.pa(), elapsed.s(), throughput.pa_m3_per_s())]
    })
}

/// The rise between its two readings.
fn drawn(from_pa: f64, to_pa: f64, seconds: f64, throughput_pa_m3_per_s: f64) -> Figure {
    let label = format!("{} Pa·m³/s", significant(throughput_pa_m3_per_s, 3));
    Figure::new(
        "rise",
        "Pressure rise of the closed volume",
        Axis::holding("time", "s", [0.0, seconds]),
        Axis::holding("absolute pressure", "Pa", [from_pa, to_pa]),
    )
    .with(line("", &[0.0, seconds], &[from_pa, to_pa], Ink::Slate, Dash::Solid))
    .with(points("", &[0.0, seconds], &[from_pa, to_pa], Marker::Disc, Ink::Slate))
    .with(words(&label, seconds / 2.0, f64::midpoint(from_pa, to_pa)))
    .described(
        "Two readings give a mean flow; whether the rise was straight between them is not known.",
        "Pressure at start and end.",
    )
}
