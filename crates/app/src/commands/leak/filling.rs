//! What a leak lets into a container over its shelf life.

use physics::gases::GasProperties;
use physics::ingress::{ChannelDiffusion, pressure_after_inflow_of};
use physics::leak_paths::{FlowConditions, LeakPath};
use physics::quantities::{
    AbsolutePressure, Duration, MOLAR_GAS_CONSTANT_J_PER_MOL_K as R, Volume,
};
use serde_json::{Value, json};

use super::InUse;
use super::gas_text::LeakGas;
use super::permeation::diffusion_coefficient;
use super::source::{Found, Source};
use crate::answer::{number, optional};
use crate::fault::Fault;
use crate::table_text::{digits, plain, table};

/// A container that fills.
pub struct Asked<'a> {
    pub source: &'a Found,
    pub in_use: &'a InUse,
    pub volume: Volume,
    pub times: Vec<Duration>,
    pub diffusion: Option<&'a str>,
    pub outside_fraction: Option<f64>,
}

/// How it fills.
pub struct Filling {
    volume: Volume,
    time_constant: Option<Duration>,
    /// Time, pressure inside, mole fraction by diffusion alone.
    rows: Vec<(Duration, Option<AbsolutePressure>, Option<f64>)>,
    diffusion_m3_per_s: Option<f64>,
}

/// Times told where none is asked for, days.
const USUAL_DAYS: [f64; 5] = [1.0, 30.0, 182.5, 365.0, 730.0];

/// Computes how the container fills.
pub fn compute(asked: &Asked<'_>) -> Result<Filling, Fault> {
    let conditions: FlowConditions<GasProperties> =
        asked.in_use.with(asked.in_use.gas.properties(asked.in_use.temperature));
    let gap = (conditions.upstream - conditions.downstream).pa();
    let diffusion = asked.diffusion.map(|text| diffusing(asked, text)).transpose()?;
    if gap <= 0.0 && diffusion.is_none() {
        return Err(Fault::users(
            "the pressure before the leak does not exceed that in the container: nothing fills it",
            "lower --downstream, or ask for diffusion with --diffusion and --outside-fraction",
        ));
    }
    let flow = |inside: AbsolutePressure| {
        asked.source.source.flow(&FlowConditions { downstream: inside, ..conditions })
    };
    let time_constant = if gap > 0.0 {
        let first = flow(conditions.downstream)?.mol_per_s();
        let seconds = gap * asked.volume.m3() / (first * R * conditions.temperature.k());
        seconds.is_finite().then(|| Duration::from_s(seconds))
    } else {
        None
    };
    let times = if asked.times.is_empty() {
        USUAL_DAYS.map(Duration::from_days).to_vec()
    } else {
        asked.times.clone()
    };
    let outside = asked.outside_fraction.unwrap_or(1.0);
    let rows = times
        .into_iter()
        .map(|time| {
            let pressure = (gap > 0.0)
                .then(|| pressure_after_inflow_of(flow, &conditions, asked.volume, time))
                .transpose()?;
            let fraction =
                diffusion.map(|channel| channel.fraction_after(outside, 0.0, asked.volume, time));
            Ok((time, pressure, fraction))
        })
        .collect::<Result<Vec<_>, Fault>>()?;
    Ok(Filling {
        volume: asked.volume,
        time_constant,
        rows,
        diffusion_m3_per_s: diffusion.map(|channel| channel.conductance().m3_per_s()),
    })
}

/// The channel through which a gas diffuses against another.
fn diffusing(asked: &Asked<'_>, text: &str) -> Result<ChannelDiffusion, Fault> {
    let outside = asked.outside_fraction.unwrap_or(1.0);
    if !(0.0..=1.0).contains(&outside) {
        return Err(Fault::users(
            format!("a mole fraction of {outside} is outside 0 to 1"),
            "write oxygen in air as --outside-fraction 0.209",
        ));
    }
    let LeakGas::Pure(gas) = asked.in_use.gas else {
        return Err(Fault::users(
            "a mixture does not diffuse as one gas",
            "name one gas, --gas O2",
        ));
    };
    let refused = || {
        Fault::users(
            "diffusion is computed through one round channel only",
            "describe the leak by --bore and --wall",
        )
    };
    let Source::Paths(paths) = &asked.source.source else { return Err(refused()) };
    let [chain] = paths.branches() else { return Err(refused()) };
    let [LeakPath::Channel { bore_diameter, wall }] = chain.as_slice() else {
        return Err(refused());
    };
    Ok(ChannelDiffusion {
        bore: *bore_diameter,
        wall: *wall,
        gas,
        mutual_m2_per_s: diffusion_coefficient(text)?,
        temperature: asked.in_use.temperature,
    })
}

/// A span of time in the unit that reads best.
pub fn span(time: Duration) -> String {
    let (value, unit) = if time.s() < 120.0 {
        (time.s(), "s")
    } else if time.s() < 2.0 * 86_400.0 {
        (time.s() / 3600.0, "h")
    } else if time.s() < 3.0 * 365.25 * 86_400.0 {
        (time.s() / 86_400.0, "d")
    } else {
        (time.s() / (365.25 * 86_400.0), "years")
    };
    format!("{} {unit}", plain(value, 4))
}

impl Filling {
    /// As text.
    pub fn text(&self) -> String {
        let mut text = format!("\na volume of {} mL fills", plain(self.volume.ml(), 4));
        if let Some(constant) = self.time_constant {
            text.push_str(&format!(" with a time constant of {} at the start", span(constant)));
        }
        text.push_str(":\n");
        let with_fraction = self.diffusion_m3_per_s.is_some();
        let rows: Vec<Vec<String>> = self
            .rows
            .iter()
            .map(|(time, pressure, fraction)| {
                let mut row = vec![
                    span(*time),
                    pressure.map_or_else(|| "-".to_owned(), |p| digits(p.pa(), 5)),
                    pressure.map_or_else(|| "-".to_owned(), |p| digits(p.mbar(), 5)),
                ];
                if with_fraction {
                    row.push(fraction.map_or_else(|| "-".to_owned(), |x| digits(100.0 * x, 4)));
                }
                row
            })
            .collect();
        let mut head = vec!["after", "Pa", "mbar"];
        if with_fraction {
            head.push("% by diffusion alone");
        }
        text + &table(&head, &rows)
    }

    /// As JSON.
    pub fn json(&self) -> Value {
        let rows: Vec<Value> = self
            .rows
            .iter()
            .map(|(time, pressure, fraction)| {
                json!({
                    "time_s": number(time.s()),
                    "pressure_pa": optional(pressure.map(AbsolutePressure::pa)),
                    "mole_fraction": optional(*fraction),
                })
            })
            .collect();
        json!({
            "volume_m3": number(self.volume.m3()),
            "time_constant_s": optional(self.time_constant.map(Duration::s)),
            "diffusion_conductance_m3_per_s": optional(self.diffusion_m3_per_s),
            "states": rows,
        })
    }
}
