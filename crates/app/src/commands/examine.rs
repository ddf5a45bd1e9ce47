//! `isobar examine`: what is in a trace: segments, levels, slope, noise.

use std::path::{Path, PathBuf};

use clap::Args;
use intake::column_header::TemperatureUnit;
use intake::message::{Message, Severity};
use intake::reading_plan::{PressurePlan, ReadingPlan, TemperaturePlan, TimePlan};
use intake::trace_file::{ImportedTrace, read_traces};
use intake::written_quantity::read_absolute_pressure;
use physics::quantities::units::{Unit, UnitKind, unit_named};
use serde_json::{Value, json};
use study::Note;
use study::segments::{Segment, segments};

use super::files;
use crate::answer::{Answer, number, optional};
use crate::fault::Fault;
use crate::table_text::{digits, digits_or_dash, table};

/// What is in a trace.
#[derive(Args)]
#[command(after_help = "Examples:
  isobar examine examples/trace.csv
  isobar examine LOG.csv --pressure P1=mbar --pressure P2=mbar --temperature T1=C
  isobar examine LOG.log --pressure P=0.1Pa --temperature T=mC")]
pub struct Examine {
    /// File of one logger.
    #[arg(required = true)]
    paths: Vec<PathBuf>,
    /// Column of chamber pressure with its unit, such as CH2=mbar or P=0.1Pa.
    #[arg(long, value_name = "COLUMN=UNIT")]
    pressure: Vec<String>,
    /// Column of temperature with its unit: C, mC or K.
    #[arg(long, value_name = "COLUMN=UNIT")]
    temperature: Vec<String>,
    /// Column of elapsed time with its unit, such as t=s.
    #[arg(long, value_name = "COLUMN=UNIT", conflicts_with = "rate")]
    time: Option<String>,
    /// Samples per second, where the file has no times.
    #[arg(long)]
    rate: Option<f64>,
    /// Pressure of the room; makes pressures marked as gauge absolute.
    #[arg(long)]
    barometer: Option<String>,
    /// Times that begin again start a new run.
    #[arg(long)]
    split: bool,
}

/// Runs the command.
pub fn run(command: &Examine) -> Result<Answer, Fault> {
    let plan = plan(command)?;
    let mut text = String::new();
    let mut runs = Vec::new();
    let mut notes = Vec::new();
    for path in &command.paths {
        let bytes = files::read_bytes(path)?;
        let file = read_traces(&bytes, &plan).map_err(|refusal| refused(path, &refusal))?;
        text.push_str(&format!("{}\n", path.display()));
        notes.extend(file.messages.iter().map(|message| note(path, message)));
        for trace in &file.traces {
            notes.extend(trace.messages.iter().map(|message| note(path, message)));
            let found = segments(&trace.without_vented_end());
            text.push_str(&trace_text(trace, &found));
            runs.push(run_json(path, trace, &found));
        }
    }
    Ok(Answer::new(text, json!({ "runs": runs }), notes))
}

fn refused(path: &Path, refusal: &intake::Refusal) -> Fault {
    Fault::users(
        format!("`{}` cannot be read as a trace", path.display()),
        "state what is open with --pressure COLUMN=UNIT, --temperature, --time, --rate or \
         --barometer",
    )
    .with_details(refusal.messages().iter().map(ToString::to_string).collect())
}

fn note(path: &Path, message: &Message) -> Note {
    let name = path.file_name().map_or_else(String::new, |name| name.to_string_lossy().into());
    let text = format!("{name}: {message}");
    match message.severity {
        Severity::Remark => Note::remark(message.code, text, ""),
        _ => Note::caution(message.code, text, ""),
    }
}

fn plan(command: &Examine) -> Result<ReadingPlan, Fault> {
    let barometer =
        command.barometer.as_deref().map(|text| read_absolute_pressure(text, None)).transpose()?;
    let pressures =
        command.pressure.iter().map(|text| pressure(text)).collect::<Result<Vec<_>, _>>()?;
    let temperatures =
        command.temperature.iter().map(|text| temperature(text)).collect::<Result<Vec<_>, _>>()?;
    let time = match (&command.time, command.rate) {
        (Some(text), _) => {
            let (column, unit) = split(text)?;
            let unit = unit_of_kind(unit, UnitKind::Time)?;
            Some(TimePlan::Elapsed { column: column.to_owned(), unit })
        }
        (None, Some(samples_per_s)) if samples_per_s > 0.0 && samples_per_s.is_finite() => {
            Some(TimePlan::Rate { samples_per_s })
        }
        (None, Some(rate)) => {
            return Err(Fault::users(
                format!("a rate of {rate} samples per second means nothing"),
                "give a rate above zero",
            ));
        }
        (None, None) => None,
    };
    Ok(ReadingPlan {
        name: "command line".to_owned(),
        time,
        pressures,
        temperatures,
        barometer,
        split_at_restart: command.split,
        ..ReadingPlan::default()
    })
}

fn split(text: &str) -> Result<(&str, &str), Fault> {
    text.rsplit_once('=').map(|(column, unit)| (column.trim(), unit.trim())).ok_or_else(|| {
        Fault::users(format!("`{text}` names no unit"), "write COLUMN=UNIT, such as CH2=mbar")
    })
}

fn unit_of_kind(text: &str, kind: UnitKind) -> Result<&'static Unit, Fault> {
    unit_named(text).filter(|unit| unit.kind == kind).ok_or_else(|| {
        Fault::users(
            format!("`{text}` is not a unit that fits here"),
            "write it like mbar, Pa or s",
        )
    })
}

/// `CH2=mbar`, or `P=0.1Pa` where the file counts tenths.
fn pressure(text: &str) -> Result<PressurePlan, Fault> {
    let (column, unit) = split(text)?;
    let letters = unit.find(|c: char| c.is_alphabetic() && c != 'e' && c != 'E').unwrap_or(0);
    let (scale, unit) = unit.split_at(letters);
    let scale = if scale.trim().is_empty() {
        1.0
    } else {
        scale
            .trim()
            .parse::<f64>()
            .ok()
            .filter(|scale| *scale > 0.0 && scale.is_finite())
            .ok_or_else(|| {
                Fault::users(format!("`{scale}` is not a factor"), "write it like P=0.1Pa")
            })?
    };
    let unit = unit_of_kind(unit.trim(), UnitKind::Pressure)?;
    Ok(PressurePlan { scale, ..PressurePlan::absolute(column, unit) })
}

fn temperature(text: &str) -> Result<TemperaturePlan, Fault> {
    let (column, unit) = split(text)?;
    let unit = TemperatureUnit::from_word(unit).ok_or_else(|| {
        Fault::users(format!("`{unit}` is not a unit of temperature"), "write C, mC, K or F")
    })?;
    Ok(TemperaturePlan { column: column.to_owned(), unit })
}

fn trace_text(trace: &ImportedTrace, found: &[Segment]) -> String {
    let times = &trace.trace.times_s;
    let span = times.last().copied().unwrap_or(0.0) - times.first().copied().unwrap_or(0.0);
    let mut text = format!(
        "\n{}: {} samples over {} s{}\n",
        trace.name,
        times.len(),
        digits(span, 5),
        trace.vented_from.map_or_else(String::new, |index| format!(
            ", vented from sample {} on: left out",
            index + 1
        ))
    );
    let rows: Vec<Vec<String>> = found
        .iter()
        .map(|segment| {
            vec![
                segment.direction.word().to_owned(),
                digits(segment.start_s, 5),
                digits(segment.end_s, 5),
                digits(segment.start_pa, 5),
                digits(segment.end_pa, 5),
                digits_or_dash(segment.slope_pa_per_s, 3),
                digits_or_dash(segment.slope_standard_error, 2),
                digits_or_dash(segment.noise_pa, 3),
                segment.n_samples.to_string(),
            ]
        })
        .collect();
    text.push_str(&table(
        &["segment", "from s", "to s", "from Pa", "to Pa", "slope Pa/s", "± 1 s", "noise Pa", "n"],
        &rows,
    ));
    text
}

fn run_json(path: &Path, trace: &ImportedTrace, found: &[Segment]) -> Value {
    let flags: Vec<&str> = trace.messages.iter().map(|message| message.code).collect();
    json!({
        "file": path.display().to_string(),
        "channel": trace.name,
        "samples": trace.trace.times_s.len(),
        "vented_from_sample": trace.vented_from.map(|index| index + 1),
        "stages": found.iter().map(|segment| json!({
            "direction": segment.direction.word(),
            "start_s": number(segment.start_s),
            "end_s": number(segment.end_s),
            "start_pa": number(segment.start_pa),
            "end_pa": number(segment.end_pa),
            "mean_pa": number(segment.mean_pa),
            "slope_pa_per_s": optional(segment.slope_pa_per_s),
            "slope_standard_error_pa_per_s": optional(segment.slope_standard_error),
            "noise_pa": optional(segment.noise_pa),
            "samples": segment.n_samples,
        })).collect::<Value>(),
        "rise_pa": null,
        "slope_pa_per_s": optional(found.last().and_then(|segment| segment.slope_pa_per_s)),
        "flags": flags,
        "terms": [],
    })
}
