//! Reading plans as TOML: kept beside the files they read, and applied to the
//! next thousand.
//!
//! ```toml
//! name = "twin chamber log"
//! separator = "comma"
//! decimal_mark = "point"
//! missing = ["OVER"]
//! time = { column = "Datetime", order = "day month year" }
//! pressure = [{ column = "CH2", unit = "mbar" }, { column = "CH3", unit = "mbar" }]
//! temperature = [{ column = "T1", unit = "C" }]
//! ```

use study::quantities::units::{Unit, UnitKind};
use study::trace::Stage;

use crate::case_file::toml_text;
use crate::codes;
use crate::column_header::TemperatureUnit;
use crate::delimited::{DateOrder, DecimalMark, NumberStyle, Separator, TextEncoding};
use crate::message::{Message, Refusal, quoted};
use crate::reading_plan::{PressurePlan, ReadingPlan, StagePlan, TemperaturePlan, TimePlan};
use crate::toml_document::{Document, Section};
use crate::written_quantity::{read_absolute_pressure, unit_of};

/// Reads a reading plan.
///
/// # Errors
/// Every fault of the file at once, with line and column.
///
/// # Example
/// ```
/// use intake::plan_file::read_plan;
/// let plan = read_plan("time = { rate = 10 }\npressure = [{ column = \"p\", unit = \"Pa\", scale = 0.1 }]\n")?;
/// assert_eq!(plan.pressures[0].scale, 0.1);
/// assert!(read_plan("preasure = []\n").is_err());
/// # Ok::<(), intake::Refusal>(())
/// ```
pub fn read_plan(text: &str) -> Result<ReadingPlan, Refusal> {
    let (document, table) = Document::parse(text.strip_prefix('\u{feff}').unwrap_or(text));
    let plan = table.as_ref().map(|table| {
        let root = Section::root(&document, table);
        let plan = plan(&root);
        root.finish();
        plan
    });
    let messages = document.into_messages();
    match plan {
        Some(plan) if !messages.iter().any(Message::is_refusal) => Ok(plan),
        _ => Err(Refusal::of(messages)),
    }
}

fn plan(root: &Section<'_, '_>) -> ReadingPlan {
    let name = root.optional_text("name").unwrap_or_default();
    let encoding = optional_word(
        root,
        "encoding",
        &TextEncoding::ALL.map(TextEncoding::word),
        TextEncoding::from_word,
    );
    let separator = optional_word(
        root,
        "separator",
        &Separator::ALL.map(Separator::word),
        Separator::from_word,
    );
    let decimal = optional_word(root, "decimal_mark", &["point", "comma"], DecimalMark::from_word);
    let thousands = root.optional_text("thousands_mark").and_then(|text| text.chars().next());
    if thousands.is_some() && decimal.is_none() {
        root.missing("decimal_mark", "\"point\" or \"comma\"");
    }
    let missing = root.texts("missing");
    let over_range = root.texts("over_range");
    let run = root.optional_text("run");
    let stage = stage_plan(&root.section("stage", false));
    let time = time_plan(&root.section("time", false));
    let pressures = root.sections("pressure").iter().filter_map(pressure_plan).collect();
    let temperatures = root.sections("temperature").iter().filter_map(temperature_plan).collect();
    let barometer = root.optional_quantity("barometer", |text| read_absolute_pressure(text, None));
    let split_at_restart = root.truth("split_at_restart", false);
    ReadingPlan {
        name,
        encoding,
        separator,
        style: decimal.map(|decimal| NumberStyle { decimal, thousands }),
        missing,
        over_range,
        run,
        stage,
        time,
        pressures,
        temperatures,
        barometer,
        split_at_restart,
    }
}

fn optional_word<T>(
    section: &Section<'_, '_>,
    key: &'static str,
    words: &[&'static str],
    read: impl Fn(&str) -> Option<T>,
) -> Option<T> {
    if section.has(key) { section.word(key, words, read) } else { None }
}

fn unit_of_kind(section: &Section<'_, '_>, kind: UnitKind, example: &str) -> Option<&'static Unit> {
    let text = section.text("unit")?;
    let unit = unit_of(&text).filter(|unit| unit.kind == kind);
    if unit.is_none() {
        section.unfit(
            "unit",
            codes::CASE_WORD,
            format!("{} is not a unit that fits here", quoted(&text)),
            format!("Write a unit such as {}; upper and lower case count.", quoted(example)),
        );
    }
    unit
}

fn time_plan(section: &Section<'_, '_>) -> Option<TimePlan> {
    if !section.is_present() {
        return None;
    }
    let plan = if section.has("rate") {
        section.optional_number("rate").and_then(|samples_per_s| {
            if samples_per_s > 0.0 {
                return Some(TimePlan::Rate { samples_per_s });
            }
            section.unfit(
                "rate",
                codes::CASE_QUANTITY,
                "the rate must be above zero",
                "Write the samples per second: rate = 10.",
            );
            None
        })
    } else if section.truth("framing_lines", false) {
        Some(TimePlan::FramingLines)
    } else {
        let column = section.text("column");
        if section.has("unit") {
            let unit = unit_of_kind(section, UnitKind::Time, "s");
            column.zip(unit).map(|(column, unit)| TimePlan::Elapsed { column, unit })
        } else {
            let words = [DateOrder::YearMonthDay, DateOrder::DayMonthYear, DateOrder::MonthDayYear]
                .map(DateOrder::word);
            let order = optional_word(section, "order", &words, DateOrder::from_word);
            column.map(|column| TimePlan::Clock { column, order })
        }
    };
    section.finish();
    plan
}

/// `stage = { column = "phase", evacuate = "1", measure = "3" }`; a stage
/// that is not mentioned is written with its own word.
fn stage_plan(section: &Section<'_, '_>) -> Option<StagePlan> {
    if !section.is_present() {
        return None;
    }
    let column = section.text("column");
    let stages = [Stage::Evacuate, Stage::Settle, Stage::Measure, Stage::Vent];
    let words = stages
        .map(|stage| {
            (section.optional_text(stage.word()).unwrap_or_else(|| stage.word().to_owned()), stage)
        })
        .to_vec();
    section.finish();
    Some(StagePlan { column: column?, words })
}

fn pressure_plan(section: &Section<'_, '_>) -> Option<PressurePlan> {
    let column = section.text("column");
    let unit = unit_of_kind(section, UnitKind::Pressure, "mbar");
    let scale = if section.has("scale") { section.optional_number("scale") } else { Some(1.0) };
    let gauge = section.truth("gauge", false);
    let scale = scale.filter(|&scale| {
        let fits = scale > 0.0 || (gauge && scale < 0.0);
        if !fits {
            section.unfit(
                "scale",
                codes::CASE_QUANTITY,
                "the scale must be above zero, or below it for a gauge that counts downward",
                "Write the factor before the unit: scale = 0.1.",
            );
        }
        fits
    });
    let full_scale =
        section.optional_quantity("full_scale", |text| read_absolute_pressure(text, None));
    section.finish();
    Some(PressurePlan { column: column?, unit: unit?, scale: scale?, gauge, full_scale })
}

fn temperature_plan(section: &Section<'_, '_>) -> Option<TemperaturePlan> {
    let column = section.text("column");
    let words = TemperatureUnit::ALL.map(TemperatureUnit::word);
    let unit = section.word("unit", &words, TemperatureUnit::from_word);
    section.finish();
    Some(TemperaturePlan { column: column?, unit: unit? })
}

/// Writes a plan; [`read_plan`] gives it back.
///
/// # Example
/// ```
/// use intake::plan_file::{read_plan, write_plan};
/// let plan = read_plan("separator = \"tab\"\npressure = [{ column = \"p\", unit = \"Torr\" }]\n")?;
/// assert_eq!(read_plan(&write_plan(&plan))?, plan);
/// # Ok::<(), intake::Refusal>(())
/// ```
#[must_use]
pub fn write_plan(plan: &ReadingPlan) -> String {
    let mut lines = Vec::new();
    let mut push = |key: &str, value: String| lines.push(format!("{key} = {value}"));
    if !plan.name.is_empty() {
        push("name", toml_text(&plan.name));
    }
    if let Some(encoding) = plan.encoding {
        push("encoding", toml_text(encoding.word()));
    }
    if let Some(separator) = plan.separator {
        push("separator", toml_text(separator.word()));
    }
    if let Some(style) = plan.style {
        push("decimal_mark", toml_text(style.decimal.word()));
        if let Some(mark) = style.thousands {
            push("thousands_mark", toml_text(&mark.to_string()));
        }
    }
    if !plan.missing.is_empty() {
        let tokens: Vec<String> = plan.missing.iter().map(|token| toml_text(token)).collect();
        push("missing", format!("[{}]", tokens.join(", ")));
    }
    if !plan.over_range.is_empty() {
        let tokens: Vec<String> = plan.over_range.iter().map(|token| toml_text(token)).collect();
        push("over_range", format!("[{}]", tokens.join(", ")));
    }
    if let Some(run) = &plan.run {
        push("run", toml_text(run));
    }
    if let Some(stage) = &plan.stage {
        let words: Vec<String> = stage
            .words
            .iter()
            .map(|(word, stage)| format!(", {} = {}", stage.word(), toml_text(word)))
            .collect();
        push("stage", format!("{{ column = {}{} }}", toml_text(&stage.column), words.concat()));
    }
    if let Some(barometer) = plan.barometer {
        push("barometer", toml_text(&format!("{} Pa", barometer.pa())));
    }
    if plan.split_at_restart {
        push("split_at_restart", "true".to_owned());
    }
    if let Some(time) = &plan.time {
        push("time", format!("{{ {} }}", time_text(time)));
    }
    if !plan.pressures.is_empty() {
        push("pressure", list_text(&plan.pressures, pressure_text));
    }
    if !plan.temperatures.is_empty() {
        push(
            "temperature",
            list_text(&plan.temperatures, |channel| {
                format!(
                    "column = {}, unit = {}",
                    toml_text(&channel.column),
                    toml_text(channel.unit.word())
                )
            }),
        );
    }
    lines.push(String::new());
    lines.join("\n")
}

fn list_text<P>(channels: &[P], text: impl Fn(&P) -> String) -> String {
    let entries: Vec<String> =
        channels.iter().map(|channel| format!("{{ {} }}", text(channel))).collect();
    format!("[{}]", entries.join(", "))
}

fn time_text(time: &TimePlan) -> String {
    match time {
        TimePlan::Elapsed { column, unit } => {
            format!("column = {}, unit = {}", toml_text(column), toml_text(unit.name))
        }
        TimePlan::Clock { column, order } => {
            let order = order
                .map_or_else(String::new, |order| format!(", order = {}", toml_text(order.word())));
            format!("column = {}{order}", toml_text(column))
        }
        TimePlan::Rate { samples_per_s } => format!("rate = {samples_per_s}"),
        TimePlan::FramingLines => "framing_lines = true".to_owned(),
    }
}

fn pressure_text(channel: &PressurePlan) -> String {
    let mut text =
        format!("column = {}, unit = {}", toml_text(&channel.column), toml_text(channel.unit.name));
    if channel.scale != 1.0 {
        text.push_str(&format!(", scale = {}", channel.scale));
    }
    if channel.gauge {
        text.push_str(", gauge = true");
    }
    if let Some(full_scale) = channel.full_scale {
        text.push_str(&format!(", full_scale = {}", toml_text(&format!("{} Pa", full_scale.pa()))));
    }
    text
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_kind_of_plan_reads_back() {
        for text in [
            "name = \"a \\\"b\\\"\"\nencoding = \"utf-16le\"\nseparator = \"semicolon\"\ndecimal_mark = \"comma\"\nthousands_mark = \".\"\nmissing = [\"-999\"]\nover_range = [\"OVER\"]\nrun = \"unit\"\n",
            "time = { column = \"t\", unit = \"min\" }\nbarometer = \"1013 mbar\"\npressure = [{ column = \"p\", unit = \"mbar\", gauge = true, full_scale = \"1 bar\" }]\n",
            "time = { column = \"when\", order = \"month day year\" }\nsplit_at_restart = true\n",
            "time = { rate = 8.7 }\ntemperature = [{ column = \"T\", unit = \"mC\" }]\n",
            "stage = { column = \"phase\", evacuate = \"1\", settle = \"2\" }\n",
            "[time]\nframing_lines = true\n[[pressure]]\ncolumn = \"p\"\nunit = \"Pa\"\nscale = 0.1\n",
            "",
        ] {
            let plan = read_plan(text).unwrap_or_else(|refusal| panic!("{text}: {refusal}"));
            assert_eq!(read_plan(&write_plan(&plan)), Ok(plan), "{text}");
        }
    }

    #[test]
    fn faults_are_all_listed_with_their_place() {
        let text = "separator = \"comas\"\npressure = [{ colum = \"p\", unit = \"MBAR\" }]\ntime = { rate = 0 }\nfoo = 1\n";
        let refusal = read_plan(text).unwrap_err();
        let found: Vec<_> = refusal.messages().iter().map(|m| (m.code, m.place.line)).collect();
        assert_eq!(
            found,
            [
                ("INT-106", Some(1)),
                ("INT-103", Some(2)),
                ("INT-102", Some(2)),
                ("INT-106", Some(2)),
                ("INT-104", Some(3)),
                ("INT-102", Some(4))
            ]
        );
        assert!(refusal.messages()[0].next_step.contains("\"comma\""));
    }
}
