//! `isobar mall`: which leak matters, by every route side by side, and whether
//! the test can see it.

use std::path::PathBuf;

use clap::Args;
use intake::written_quantity::{
    read_absolute_pressure, read_duration, read_mass_kg, read_temperature,
};
use study::forecast::ForecastSettings;
use study::mall::{LITERATURE, MallRoutes, Route, RouteOutcome};
use study::{CaseInput, StorageBudget, mall_routes};

use super::forecast::{forecast_with_bar, read_case};
use crate::answer::Answer;
use crate::fault::Fault;
use crate::mall_answer::mall_json;
use crate::table_text::{digits, paragraph, table};
use crate::written_numbers::share;

/// Which leak matters, by every route, and whether the test can see it.
#[derive(Args)]
#[command(after_help = "Examples:
  isobar mall examples/lyophilised_vial.toml
  isobar mall examples/lyophilised_vial.toml --shelf-life 730d --pressure 500mbar --oxygen 2% \\
      --moisture 1mg
  isobar mall examples/liquid_vial.toml --shelf-life 1095d --liquid-loss 50mg --humidity 40%

Storage stands in the case file as [storage]; options replace what stands there.
Each budget of the shelf life is turned into the one straight channel through the wall that just
keeps it, told as flow at the reference state (air, 1 atm to vacuum, 20 C) and as helium.")]
pub struct MallOfCase {
    /// Case file (TOML).
    case: PathBuf,
    /// Time from sealing to expiry, such as 730d.
    #[arg(long, value_name = "TIME")]
    shelf_life: Option<String>,
    /// Highest absolute pressure of the headspace at expiry.
    #[arg(long, value_name = "PRESSURE")]
    pressure: Option<String>,
    /// Most oxygen in the headspace at expiry, such as 2%.
    #[arg(long, value_name = "SHARE")]
    oxygen: Option<String>,
    /// Most water taken up until expiry, such as 1mg.
    #[arg(long, value_name = "MASS")]
    moisture: Option<String>,
    /// Most liquid lost as vapour until expiry, such as 50mg.
    #[arg(long, value_name = "MASS")]
    liquid_loss: Option<String>,
    /// Temperature of the store; 25C where neither this nor the case says it.
    #[arg(long, value_name = "TEMPERATURE", allow_hyphen_values = true)]
    store: Option<String>,
    /// Relative humidity of the store; otherwise 60%.
    #[arg(long, value_name = "SHARE")]
    humidity: Option<String>,
    /// Pressure of the room where it is stored; otherwise 1atm.
    #[arg(long, value_name = "PRESSURE")]
    room: Option<String>,
}

impl MallOfCase {
    /// The storage of the case, with what the command line says instead.
    fn storage(&self, input: &CaseInput) -> Result<StorageBudget, Fault> {
        let mut storage = input.storage_or_room();
        if let Some(text) = &self.shelf_life {
            storage.shelf_life = read_duration(text)?;
        }
        if let Some(text) = &self.store {
            storage.temperature = read_temperature(text)?;
        }
        if let Some(text) = &self.room {
            storage.room = read_absolute_pressure(text, None)?;
        }
        if let Some(text) = &self.humidity {
            storage.relative_humidity = share(text)?;
        }
        if let Some(text) = &self.pressure {
            storage.headspace_pressure = Some(read_absolute_pressure(text, None)?);
        }
        if let Some(text) = &self.oxygen {
            storage.oxygen_fraction = Some(share(text)?);
        }
        if let Some(text) = &self.moisture {
            storage.water_kg = Some(read_mass_kg(text)?);
        }
        if let Some(text) = &self.liquid_loss {
            storage.liquid_loss_kg = Some(read_mass_kg(text)?);
        }
        Ok(storage)
    }
}

/// Runs the command.
pub fn run(command: &MallOfCase) -> Result<Answer, Fault> {
    let input = read_case(&command.case)?;
    let storage = command.storage(&input)?;
    let forecast = forecast_with_bar(&input, &ForecastSettings::default())?;
    let found = mall_routes(&input, &storage, Some(&forecast)).map_err(|error| {
        Fault::users(
            error.to_string(),
            "check the shelf life, the budgets and the store; see isobar mall --help",
        )
    })?;
    Ok(Answer::new(text(&input, &found), mall_json(&input, &storage, &found), found.notes.clone()))
}

fn text(input: &CaseInput, found: &MallRoutes) -> String {
    let mut text = format!("{} ({})\n{}\n\n", input.title, input.id, input.question);
    if input.invented {
        text.push_str("Invented scenario: no figure is of a real product.\n\n");
    }
    let rows: Vec<Vec<String>> = found
        .routes
        .iter()
        .enumerate()
        .map(|(place, route)| {
            let mark = if found.governing == Some(place) { " *" } else { "" };
            let mut row = vec![format!("{}{mark}", route.kind.word())];
            match &route.outcome {
                RouteOutcome::Leak(leak) => row.extend([
                    digits(leak.size.flow_equivalent_diameter.um(), 3),
                    digits(leak.channel_bore.um(), 3),
                    digits(leak.size.reference_throughput_pa_m3_per_s() * 10.0, 3),
                    digits(leak.helium.mbar_l_per_s(), 3),
                ]),
                RouteOutcome::AnyLeak => {
                    row.extend(["any", "any", "any", "any"].map(str::to_owned))
                }
                RouteOutcome::NoLeak(_) => {
                    row.extend(["none", "none", "none", "none"].map(str::to_owned));
                }
            }
            row
        })
        .collect();
    text.push_str("Largest leak that each route allows (* governs):\n");
    text.push_str(&table(
        &["route", "µm flow-equivalent", "µm bore in wall", "air mbar·L/s", "He mbar·L/s"],
        &rows,
    ));
    for route in &found.routes {
        text.push_str(&reasons(route));
    }
    if let Some(vacuum) = found.under_vacuum {
        text.push('\n');
        text.push_str(&paragraph(
            &format!(
                "Sealed under vacuum: {}. With the leak at the helium figure the headspace stands at \
                 {} mbar at the end of the shelf life.",
                vacuum.sentence(),
                digits(vacuum.pressure_after.pa() / 100.0, 4)
            ),
            0,
        ));
    }
    if let Some(gap) = &found.gap {
        text.push('\n');
        text.push_str(&paragraph(&format!("Gap: {}.", gap.sentence), 0));
    }
    text.push_str("\nPublished figures on microbes and plugging (bands, not a fit):\n");
    for mark in LITERATURE {
        let size = mark.size_um.map_or_else(String::new, |(um, what)| format!("{um} µm, {what}: "));
        text.push_str(&paragraph(&format!("{size}{}", mark.finding), 2));
        text.push_str(&paragraph(&format!("{} ({})", mark.source, mark.weight), 6));
    }
    text
}

/// What a route asks, and on what it rests.
fn reasons(route: &Route) -> String {
    let why = match &route.outcome {
        RouteOutcome::Leak(_) => String::new(),
        RouteOutcome::AnyLeak => " Even a channel of 1 mm keeps it.".to_owned(),
        RouteOutcome::NoLeak(why) => format!(" No leak keeps it: {why}."),
    };
    let asked = format!("{}: {}.{why}", route.kind.word(), route.requirement);
    format!("\n{}{}", paragraph(&asked, 0), paragraph(&route.basis, 4))
}
