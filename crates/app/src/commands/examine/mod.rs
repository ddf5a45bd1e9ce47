//! `isobar examine`: what is in a trace: segments, stages, features, causes.

pub mod answer;
pub mod coded;
pub mod examined;
pub mod figure;
pub mod reading;

use std::path::{Path, PathBuf};

use clap::Args;
use intake::message::{Message, Severity};
use intake::written_quantity::{
    read_absolute_pressure, read_pressure_rate, read_temperature, read_volume,
};
use serde_json::json;
use study::Note;
use study::forensics::{Circumstances, HeadspaceState};
use study::gases::Gas;

use self::examined::{Known, examine};
use self::reading::Reading;
use super::assess::figure_option::FigureOption;
use super::files;
use super::forecast::read_case;
use super::import::read::{Content, read_file};
use crate::answer::Answer;
use crate::fault::Fault;

/// What is in a trace.
#[derive(Args)]
#[command(after_help = "Examples:
  isobar examine examples/trace.csv
  isobar examine examples/trace.csv --volume 12mL --headspace 3.6mL --headspace-pressure 0.3bar
  isobar examine examples/trace.csv --volume 12mL --drift 0.01Pa/s
  isobar examine LOG.csv --pressure P1=mbar --pressure P2=mbar --temperature T1=C
  isobar examine LOG.log --pressure P=0.1Pa --temperature T=mC
  isobar examine LOG.csv --reading PLAN.toml --case CASE.toml
  isobar examine examples/trace.csv --volume 12mL --figure trace.svg")]
pub struct Examine {
    /// Files of loggers.
    #[arg(required = true)]
    paths: Vec<PathBuf>,
    #[command(flatten)]
    reading: Reading,
    /// Case file: its rig, headspace and the times of its tiers are used.
    #[arg(long, value_name = "CASE.toml")]
    case: Option<PathBuf>,
    /// Free volume of the chamber with the unit in it.
    #[arg(long)]
    volume: Option<String>,
    /// Volume of the headspace.
    #[arg(long)]
    headspace: Option<String>,
    /// Pressure of the headspace before the test.
    #[arg(long, value_name = "PRESSURE", requires = "headspace")]
    headspace_pressure: Option<String>,
    /// Gas of the headspace.
    #[arg(long, default_value = "air")]
    gas: String,
    /// Temperature of gas and walls, where the file has none.
    #[arg(long, value_name = "TEMPERATURE", default_value = "20C")]
    gas_temperature: String,
    /// Pressure at which the gauge ends.
    #[arg(long, value_name = "PRESSURE")]
    full_scale: Option<String>,
    /// What the gauge drifts by at most, such as 0.01Pa/s: without it all of a steady rise may be
    /// drift, and only the largest leak is said.
    #[arg(long, value_name = "RATE")]
    drift: Option<String>,
    #[command(flatten)]
    figure: FigureOption,
}

/// Runs the command.
pub fn run(command: &Examine) -> Result<Answer, Fault> {
    let plan = command.reading.plan()?;
    let known = known(command)?;
    let mut text = String::new();
    let mut runs = Vec::new();
    let mut notes = Vec::new();
    let mut panels = Vec::new();
    for path in &command.paths {
        let bytes = files::read_bytes(path)?;
        let file = read_file(bytes, path, &plan);
        if file.is_refused() {
            return Err(refused(path, &file.messages));
        }
        text.push_str(&format!("{}\n", path.display()));
        notes.extend(file.messages.iter().map(|message| note(path, message)));
        let mut n_traces = 0;
        for part in &file.parts {
            let Content::Traces(traces) = &part.content else { continue };
            let placed = |message: Message| message.placed(|place| part.places.of(place));
            n_traces += traces.len();
            for trace in traces {
                notes.extend(coded::clock_ahead(trace).map(|message| note(path, &placed(message))));
                for run in examine(trace, &known) {
                    if let Some(Ok(findings)) = &run.findings {
                        notes.extend(findings.notes.iter().cloned());
                    }
                    let coded = coded::coded(trace, &run, !known.tiers.is_empty());
                    notes.extend(coded.into_iter().map(|message| note(path, &placed(message))));
                    let what = match run.cycle {
                        0 => trace.name.clone(),
                        cycle => format!("{}, cycle {cycle}", trace.name),
                    };
                    notes.extend(coded::unsure_stages(path, &what, &run));
                    text.push_str(&answer::text(trace, &run));
                    panels.extend(figure::panels(path, trace, &run, panels.len()));
                    runs.push(answer::json(path, trace, &run));
                }
            }
        }
        if n_traces == 0 {
            return Err(Fault::users(
                format!("`{}` holds results, and no trace to examine", path.display()),
                "read it with `isobar import`, or give it to `isobar assess`",
            ));
        }
    }
    let figure = command.figure.write(|| panels)?;
    Ok(Answer::new(text, json!({ "runs": runs, "figure": figure }), notes))
}

/// Rig, headspace and method: from the case file, and from the options.
fn known(command: &Examine) -> Result<Known, Fault> {
    let mut known = Known::default();
    if let Some(path) = &command.case {
        let input = read_case(path)?;
        known.about = Circumstances::of(&input);
        known.tiers = input.cycle.tiers.iter().map(|purposed| purposed.tier).collect();
    }
    let about = &mut known.about;
    if let Some(text) = &command.volume {
        about.free_volume = Some(read_volume(text)?);
    }
    if command.case.is_none() {
        about.temperature = Some(read_temperature(&command.gas_temperature)?);
    }
    if let Some(text) = &command.full_scale {
        about.full_scale = Some(read_absolute_pressure(text, None)?);
    }
    if let Some(text) = &command.drift {
        about.gauge_drift = Some(read_pressure_rate(text)?);
    }
    if let Some(text) = &command.headspace {
        let pressure = command.headspace_pressure.as_deref().unwrap_or("1atm");
        let gas = Gas::from_name(&command.gas).ok_or_else(|| {
            Fault::users(
                format!("`{}` is not a gas that is known here", command.gas),
                "write air, nitrogen, argon or another gas of `isobar leak --help`",
            )
        })?;
        about.headspace = Some(HeadspaceState {
            gas,
            volume: read_volume(text)?,
            pressure: read_absolute_pressure(pressure, None)?,
        });
    }
    Ok(known)
}

fn refused(path: &Path, messages: &[Message]) -> Fault {
    Fault::users(
        format!("`{}` cannot be read as a trace", path.display()),
        "state what is open with --pressure COLUMN=UNIT, --temperature, --time, --rate or \
         --barometer, or give a reading plan with --reading PLAN.toml",
    )
    .with_details(messages.iter().map(ToString::to_string).collect())
}

/// A message of the reader as a note of the answer.
pub fn note(path: &Path, message: &Message) -> Note {
    let name = path.file_name().map_or_else(String::new, |name| name.to_string_lossy().into());
    let text = format!("{name}: {message}");
    match message.severity {
        Severity::Remark => Note::remark(message.code, text, ""),
        _ => Note::caution(message.code, text, ""),
    }
}
