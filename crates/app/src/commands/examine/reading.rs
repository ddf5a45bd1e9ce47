//! How a file is to be read: a reading plan, and what the options add to it.

use std::path::PathBuf;

use clap::Args;
use intake::column_header::TemperatureUnit;
use intake::delimited::{DateOrder, DecimalMark, NumberStyle, Separator, TextEncoding};
use intake::plan_file::read_plan;
use intake::reading_plan::{PressurePlan, ReadingPlan, TemperaturePlan, TimePlan};
use intake::written_quantity::read_absolute_pressure;
use physics::quantities::units::{Unit, UnitKind, unit_named};

use super::super::files;
use crate::fault::Fault;

/// Options of everything that reads traces.
#[derive(Args, Clone, Default)]
pub struct Reading {
    /// Reading plan (TOML) agreed for files of this kind.
    #[arg(long, value_name = "PLAN.toml")]
    pub reading: Option<PathBuf>,
    /// The text of a plan in its place, where it was sent and lies nowhere.
    #[arg(skip)]
    pub plan_text: Option<String>,
    /// Column of chamber pressure with its unit, such as CH2=mbar or P=0.1Pa.
    #[arg(long, value_name = "COLUMN=UNIT")]
    pub pressure: Vec<String>,
    /// Column of temperature with its unit: C, mC or K.
    #[arg(long, value_name = "COLUMN=UNIT")]
    pub temperature: Vec<String>,
    /// Column of elapsed time with its unit, such as t=s.
    #[arg(long, value_name = "COLUMN=UNIT", conflicts_with = "rate")]
    pub time: Option<String>,
    /// Samples per second, where the file has no times.
    #[arg(long)]
    pub rate: Option<f64>,
    /// Pressure of the room; makes pressures marked as gauge absolute.
    #[arg(long)]
    pub barometer: Option<String>,
    /// Times that begin again start a new run.
    #[arg(long)]
    pub split: bool,
    /// Encoding: utf-8, utf-16le, utf-16be, windows-1252 or shift-jis.
    #[arg(long, value_name = "NAME")]
    pub encoding: Option<String>,
    /// What parts the cells: comma, semicolon, tab, bar, blank or nothing.
    #[arg(long, value_name = "NAME")]
    pub separator: Option<String>,
    /// Decimal mark of the numbers: point or comma.
    #[arg(long, value_name = "MARK")]
    pub decimal_mark: Option<String>,
    /// Column of clock times with the order of its dates, as when="day month year".
    #[arg(long, value_name = "COLUMN=ORDER", conflicts_with_all = ["time", "rate"])]
    pub clock: Option<String>,
    /// Cell that means that there is no value; once for each.
    #[arg(long, value_name = "CELL", allow_hyphen_values = true)]
    pub missing: Vec<String>,
    /// Cell that means that the gauge was beyond its range; once for each.
    #[arg(long, value_name = "CELL", allow_hyphen_values = true)]
    pub over_range: Vec<String>,
}

impl Reading {
    /// The plan; options go before what the plan file says.
    pub fn plan(&self) -> Result<ReadingPlan, Fault> {
        let mut plan = match (&self.plan_text, &self.reading) {
            (Some(text), _) => plan_of("what was sent", text)?,
            (None, Some(path)) => {
                plan_of(&format!("`{}`", path.display()), &files::read_text(path)?)?
            }
            (None, None) => {
                ReadingPlan { name: "stated with the files".to_owned(), ..ReadingPlan::default() }
            }
        };
        if let Some(text) = &self.barometer {
            plan.barometer = Some(read_absolute_pressure(text, None)?);
        }
        if !self.pressure.is_empty() {
            plan.pressures =
                self.pressure.iter().map(|text| pressure(text)).collect::<Result<_, _>>()?;
        }
        if !self.temperature.is_empty() {
            plan.temperatures =
                self.temperature.iter().map(|text| temperature(text)).collect::<Result<_, _>>()?;
        }
        if let Some(time) = self.time_plan()? {
            plan.time = Some(time);
        }
        plan.split_at_restart |= self.split;
        self.add_writing(&mut plan)?;
        Ok(plan)
    }

    /// How the file is written.
    fn add_writing(&self, plan: &mut ReadingPlan) -> Result<(), Fault> {
        if let Some(word) = &self.encoding {
            let words = TextEncoding::ALL.map(TextEncoding::word).join(", ");
            plan.encoding = Some(known(word, TextEncoding::from_word, &words)?);
        }
        if let Some(word) = &self.separator {
            let words = Separator::ALL.map(Separator::word).join(", ");
            plan.separator = Some(known(word, Separator::from_word, &words)?);
        }
        if let Some(word) = &self.decimal_mark {
            let decimal = known(word, DecimalMark::from_word, "point or comma")?;
            plan.style = Some(NumberStyle { decimal, thousands: None });
        }
        plan.missing.extend(self.missing.iter().cloned());
        plan.over_range.extend(self.over_range.iter().cloned());
        Ok(())
    }

    fn time_plan(&self) -> Result<Option<TimePlan>, Fault> {
        if let Some(text) = &self.clock {
            let (column, order) = split(text)?;
            let words = "day month year, month day year or year month day";
            let order = Some(known(order, DateOrder::from_word, words)?);
            return Ok(Some(TimePlan::Clock { column: column.to_owned(), order }));
        }
        match (&self.time, self.rate) {
            (Some(text), _) => {
                let (column, unit) = split(text)?;
                let unit = unit_of_kind(unit, UnitKind::Time)?;
                Ok(Some(TimePlan::Elapsed { column: column.to_owned(), unit }))
            }
            (None, Some(samples_per_s)) if samples_per_s > 0.0 && samples_per_s.is_finite() => {
                Ok(Some(TimePlan::Rate { samples_per_s }))
            }
            (None, Some(rate)) => Err(Fault::users(
                format!("a rate of {rate} samples per second means nothing"),
                "give a rate above zero",
            )),
            (None, None) => Ok(None),
        }
    }
}

fn plan_of(name: &str, text: &str) -> Result<ReadingPlan, Fault> {
    read_plan(text).map_err(|refusal| {
        let fault = Fault::users(
            format!("{name} cannot be used as a reading plan"),
            "mend the lines that are named",
        );
        fault.with_details(refusal.messages().iter().map(ToString::to_string).collect())
    })
}

/// A word of a list.
fn known<T>(word: &str, read: impl Fn(&str) -> Option<T>, words: &str) -> Result<T, Fault> {
    read(word.trim()).ok_or_else(|| {
        Fault::users(format!("`{word}` is none of the words"), format!("write {words}"))
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

/// `CH2=mbar`, `P=0.1Pa` where the file counts tenths, or `P=mbar gauge`
/// against the room (`P=-1mbar gauge` where it counts downward).
fn pressure(text: &str) -> Result<PressurePlan, Fault> {
    let (column, unit) = split(text)?;
    let (unit, gauge) = match unit.strip_suffix("gauge") {
        Some(unit) => (unit.trim(), true),
        None => (unit, false),
    };
    let letters = unit.find(|c: char| c.is_alphabetic() && c != 'e' && c != 'E').unwrap_or(0);
    let (scale, unit) = unit.split_at(letters);
    let scale = if scale.trim().is_empty() {
        1.0
    } else {
        scale
            .trim()
            .parse::<f64>()
            .ok()
            .filter(|scale| scale.is_finite() && (*scale > 0.0 || (gauge && *scale < 0.0)))
            .ok_or_else(|| {
                Fault::users(format!("`{scale}` is not a factor"), "write it like P=0.1Pa")
            })?
    };
    let unit = unit_of_kind(unit.trim(), UnitKind::Pressure)?;
    Ok(PressurePlan { scale, gauge, ..PressurePlan::absolute(column, unit) })
}

/// The unit of a channel as [`pressure`] reads it.
pub fn pressure_unit(plan: &PressurePlan) -> String {
    let scale = if plan.scale == 1.0 { String::new() } else { plan.scale.to_string() };
    format!("{scale}{}{}", plan.unit.name, if plan.gauge { " gauge" } else { "" })
}

fn temperature(text: &str) -> Result<TemperaturePlan, Fault> {
    let (column, unit) = split(text)?;
    let unit = TemperatureUnit::from_word(unit).ok_or_else(|| {
        Fault::users(format!("`{unit}` is not a unit of temperature"), "write C, mC, K or F")
    })?;
    Ok(TemperaturePlan { column: column.to_owned(), unit })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_unit_of_pressure_reads_back() {
        for unit in ["mbar", "0.1Pa", "mbar gauge", "-1mbar gauge", "Torr"] {
            let plan = pressure(&format!("a=b={unit}")).unwrap();
            assert_eq!((plan.column.as_str(), pressure_unit(&plan).as_str()), ("a=b", unit));
            assert_eq!(plan.gauge, unit.ends_with("gauge"));
        }
        for wrong in ["P=", "P=-1mbar", "P=0mbar", "P=gauge", "P=s", "P"] {
            assert!(pressure(wrong).is_err(), "{wrong}");
        }
    }
}
