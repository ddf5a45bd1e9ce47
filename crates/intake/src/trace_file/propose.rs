//! Which columns are times, pressures and temperatures, and in what unit.

use std::borrow::Cow;

use study::quantities::units::{Unit, UnitKind};

use crate::codes;
use crate::column_header::{ColumnHeader, ColumnUnit};
use crate::delimited::{
    DelimitedText, Separator, decode, has_short_year, is_two_part_time, looks_like_clock,
    read_cell, read_delimited, split_fields,
};
use crate::message::{Message, Refusal, quoted};
use crate::reading_plan::{PressurePlan, ReadingPlan, TemperaturePlan, TimePlan};
use crate::written_quantity::nearest_of;

/// A column together with what the plan says of it.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Channel<P> {
    pub(super) index: usize,
    pub(super) plan: P,
}

/// Where the times come from, with the column found.
#[derive(Debug, Clone, PartialEq)]
pub(super) enum TimeSource {
    Elapsed { index: usize, column: String, unit: &'static Unit },
    Clock { index: usize, column: String, order: Option<crate::delimited::DateOrder> },
    Rate { samples_per_s: f64 },
    FramingLines,
}

impl TimeSource {
    pub(super) fn plan(&self) -> TimePlan {
        match self {
            Self::Elapsed { column, unit, .. } => {
                TimePlan::Elapsed { column: column.clone(), unit }
            }
            Self::Clock { column, order, .. } => {
                TimePlan::Clock { column: column.clone(), order: *order }
            }
            Self::Rate { samples_per_s } => TimePlan::Rate { samples_per_s: *samples_per_s },
            Self::FramingLines => TimePlan::FramingLines,
        }
    }

    /// The column of clock times, counted from 1, with its name.
    pub(super) fn clock_column(&self) -> Option<(u64, String)> {
        match self {
            Self::Clock { index, column, .. } => Some((*index as u64 + 1, column.clone())),
            _ => None,
        }
    }

    pub(super) const fn index(&self) -> Option<usize> {
        match self {
            Self::Elapsed { index, .. } | Self::Clock { index, .. } => Some(*index),
            Self::Rate { .. } | Self::FramingLines => None,
        }
    }
}

/// A reading with nothing left open.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Reading {
    pub(super) time: TimeSource,
    pub(super) pressures: Vec<Channel<PressurePlan>>,
    pub(super) temperatures: Vec<Channel<TemperaturePlan>>,
    /// Column that names the run.
    pub(super) run: Option<usize>,
    /// Column that names the stage.
    pub(super) stage: Option<usize>,
    /// Pressure of the room, Pa; 0 where no channel needs it.
    pub(super) barometer_pa: f64,
    pub(super) messages: Vec<Message>,
}

/// Proposes how a file would be read, without reading its rows.
///
/// # Errors
/// Refuses where a choice is open; the messages name each.
///
/// # Example
/// ```
/// use intake::trace_file::propose_reading;
/// let text = b"time_s,p [mbar]\n0,1.5\n1,1.625\n2,1.75\n";
/// let (plan, _) = propose_reading(text, &Default::default())?;
/// assert_eq!(plan.pressures[0].unit.name, "mbar");
/// # Ok::<(), intake::Refusal>(())
/// ```
pub fn propose_reading(
    bytes: &[u8],
    plan: &ReadingPlan,
) -> Result<(ReadingPlan, Vec<Message>), Refusal> {
    let decoded = decode(bytes, plan.encoding)?;
    let file = read_delimited(&decoded.text, &plan.given())?;
    let reading = resolve(&file, plan)?;
    let mut messages = decoded.messages.clone();
    messages.extend(file.messages.iter().cloned());
    messages.extend(reading.messages);
    let proposed = ReadingPlan {
        encoding: Some(decoded.encoding),
        separator: Some(file.separator),
        style: Some(file.style),
        time: Some(reading.time.plan()),
        pressures: reading.pressures.into_iter().map(|channel| channel.plan).collect(),
        temperatures: reading.temperatures.into_iter().map(|channel| channel.plan).collect(),
        ..plan.clone()
    };
    Ok((proposed, messages))
}

/// Settles every column, or says what is open.
pub(super) fn resolve(file: &DelimitedText<'_>, plan: &ReadingPlan) -> Result<Reading, Refusal> {
    let headers = headers_of(file);
    let first_row = first_row(file)?;
    let mut messages = Vec::new();
    let mut faults = Vec::new();
    let time = time_source(file, plan, &headers, &first_row);
    let time = time.map_err(|fault| faults.extend(fault.into_messages())).ok();
    if let (Some(chosen), Ok(found)) = (&time, found_times(file, &headers, &first_row)) {
        messages.extend(super::second_time::compared(file, chosen, &found));
    }
    let mut named = |name: Option<&str>| match planned_column(file, name?) {
        Ok(index) => Some(index),
        Err(fault) => {
            faults.extend(fault.into_messages());
            None
        }
    };
    let run = named(plan.run.as_deref());
    let stage = named(plan.stage.as_ref().map(|stage| stage.column.as_str()));
    let time_index = time.as_ref().and_then(TimeSource::index);
    let temperatures = temperature_channels(file, plan, &headers, &mut messages, &mut faults);
    let taken = |index: usize| {
        Some(index) == time_index
            || Some(index) == run
            || Some(index) == stage
            || temperatures.iter().any(|channel| channel.index == index)
    };
    let numeric =
        |index: usize| first_row.get(index).is_some_and(|cell| read_cell(cell, file.style).is_ok());
    let candidates: Vec<usize> = (0..file.names.len())
        .filter(|&index| {
            !taken(index)
                && numeric(index)
                && !headers[index].is_temperature_label()
                && !headers[index].is_time_label()
        })
        .collect();
    let pressures = if plan.pressures.is_empty() {
        let none_yet = faults.is_empty();
        let found = proposed_pressures(file, &headers, &candidates, &mut messages, &mut faults);
        if found.is_empty()
            && none_yet
            && let Some(unread) = unread_pressure(file, &headers, &first_row)
        {
            faults = vec![unread];
        }
        found
    } else {
        planned_pressures(file, plan, &mut faults)
    };
    for channel in &pressures {
        if channel.plan.gauge && plan.barometer.is_none() {
            let mut fault = Message::refused(
                codes::GAUGE_OR_ABSOLUTE,
                format!(
                    "{} is a pressure against the atmosphere, and the barometer is not known",
                    quoted(&channel.plan.column)
                ),
            )
            .in_column(channel.index as u64 + 1, &channel.plan.column)
            .done("Nothing was read.")
            .next("State barometer = \"1013 mbar\" in the reading plan.");
            fault.place.line = file.header_line;
            faults.push(fault);
        }
    }
    match (time, faults.is_empty()) {
        (Some(time), true) => {
            let barometer_pa = plan.barometer.map_or(0.0, study::quantities::AbsolutePressure::pa);
            Ok(Reading { time, pressures, temperatures, run, stage, barometer_pa, messages })
        }
        _ => {
            messages.extend(faults);
            Err(Refusal::of(messages))
        }
    }
}

fn headers_of(file: &DelimitedText<'_>) -> Vec<ColumnHeader> {
    file.names
        .iter()
        .enumerate()
        .map(|(index, name)| {
            let unit = file.units_row.as_ref().and_then(|units| units.get(index));
            ColumnHeader::of(name, unit.map(String::as_str))
        })
        .collect()
}

fn first_row(file: &DelimitedText<'_>) -> Result<Vec<String>, Refusal> {
    let mut cells = Vec::new();
    for record in file.rows() {
        let record = record?;
        if !record.is_blank() {
            split_fields(record.text, file.separator, &mut cells);
            return Ok(cells.into_iter().map(Cow::into_owned).collect());
        }
    }
    Ok(Vec::new())
}

/// A column that the plan names, or a message with the nearest name.
fn planned_column(file: &DelimitedText<'_>, name: &str) -> Result<usize, Refusal> {
    file.column(name).ok_or_else(|| {
        let hint = nearest_of(name, file.names.iter().map(String::as_str))
            .map_or_else(String::new, |near| format!("Did you mean {}? ", quoted(near)));
        let list: Vec<String> = file.names.iter().take(20).map(|column| quoted(column)).collect();
        let mut message = Message::refused(
            codes::PLAN_COLUMN,
            format!("The reading plan names a column {} that the file lacks", quoted(name)),
        )
        .done("Nothing was read.")
        .next(format!("{hint}The file has {}.", list.join(", ")));
        message.place.line = file.header_line;
        message.into()
    })
}

fn time_source(
    file: &DelimitedText<'_>,
    plan: &ReadingPlan,
    headers: &[ColumnHeader],
    first_row: &[String],
) -> Result<TimeSource, Refusal> {
    match &plan.time {
        Some(TimePlan::Elapsed { column, unit }) => {
            let index = planned_column(file, column)?;
            return Ok(TimeSource::Elapsed { index, column: column.clone(), unit });
        }
        Some(TimePlan::Clock { column, order }) => {
            let index = planned_column(file, column)?;
            return Ok(TimeSource::Clock { index, column: column.clone(), order: *order });
        }
        Some(TimePlan::Rate { samples_per_s }) => {
            if *samples_per_s > 0.0 && samples_per_s.is_finite() {
                return Ok(TimeSource::Rate { samples_per_s: *samples_per_s });
            }
            return Err(Message::refused(
                codes::NO_TIME,
                "The rate of the reading plan is not above zero",
            )
            .done("Nothing was read.")
            .next("State the samples per second, such as rate = 10.")
            .into());
        }
        Some(TimePlan::FramingLines) => return Ok(TimeSource::FramingLines),
        None => {}
    }
    let found = found_times(file, headers, first_row)?;
    match found.first() {
        Some(&(index, Some(unit))) => {
            Ok(TimeSource::Elapsed { index, column: file.names[index].clone(), unit })
        }
        Some(&(index, None)) => {
            Ok(TimeSource::Clock { index, column: file.names[index].clone(), order: None })
        }
        None if !file.preamble.is_empty() && !file.trailer.is_empty() => {
            Ok(TimeSource::FramingLines)
        }
        None => Err(no_time(file).into()),
    }
}

/// Columns that hold times, elapsed ones first, with the unit of those.
type FoundTimes = Vec<(usize, Option<&'static Unit>)>;

/// # Errors
/// Refuses a column of times that can be read in two ways.
fn found_times(
    file: &DelimitedText<'_>,
    headers: &[ColumnHeader],
    first_row: &[String],
) -> Result<FoundTimes, Refusal> {
    let is_number =
        |index: usize| first_row.get(index).is_some_and(|cell| read_cell(cell, file.style).is_ok());
    // Where no comma parts cells, one may stand before the decimals of a second.
    let has_decimal_comma = |cell: &str| {
        file.separator != Separator::Comma && looks_like_clock(&cell.replacen(',', ".", 1))
    };
    let is_clock = |index: usize| {
        !is_number(index)
            && first_row.get(index).is_some_and(|cell| {
                looks_like_clock(cell) || has_short_year(cell) || has_decimal_comma(cell)
            })
    };
    let mut found = FoundTimes::new();
    for (index, header) in headers.iter().enumerate() {
        match header.unit {
            ColumnUnit::Time(unit) if is_number(index) => found.push((index, Some(unit))),
            _ if is_clock(index) => {
                if is_two_part_time(&first_row[index]) {
                    return Err(two_part_time(file, index, &first_row[index]).into());
                }
                found.push((index, None));
            }
            ColumnUnit::Absent if header.is_time_label() && is_number(index) => {
                return Err(unknown_time_unit(file, index, first_row).into());
            }
            _ => {}
        }
    }
    // Elapsed time is finer than a clock and needs no calendar.
    // A date alone stands still: the time of day beside it counts.
    let is_day_alone = |index: usize| !first_row[index].contains(':');
    found.sort_by_key(|&(index, unit)| {
        (unit.is_none(), unit.is_none() && is_day_alone(index), index)
    });
    Ok(found)
}

fn unknown_time_unit(file: &DelimitedText<'_>, index: usize, first_row: &[String]) -> Message {
    let name = &file.names[index];
    let first = first_row.get(index).and_then(|cell| read_cell(cell, file.style).ok());
    // Days from 1954 to 2119 as spreadsheets count them.
    let is_serial = first.is_some_and(|value| (20_000.0..80_000.0).contains(&value))
        && name.to_lowercase().contains("date");
    let message = if is_serial {
        Message::refused(
            codes::SERIAL_DATES,
            format!("{} looks like serial dates of a spreadsheet", quoted(name)),
        )
        .next(format!(
            "If it counts days, state time = {{ column = {}, unit = \"d\" }} in the reading plan.",
            quoted(name)
        ))
    } else {
        Message::refused(
            codes::ELAPSED_TIME,
            format!(
                "The column {} has no unit: seconds, minutes and hours differ by 60",
                quoted(name)
            ),
        )
        .next(format!(
            "State time = {{ column = {}, unit = \"s\" }} in the reading plan.",
            quoted(name)
        ))
    };
    let mut message = message.in_column(index as u64 + 1, name).done("Nothing was read.");
    message.place.line = file.header_line;
    message
}

fn two_part_time(file: &DelimitedText<'_>, index: usize, cell: &str) -> Message {
    Message::refused(
        codes::ELAPSED_TIME,
        format!("{} may be hours and minutes or minutes and seconds", quoted(cell)),
    )
    .at_line(file.first_data_line())
    .in_column(index as u64 + 1, &file.names[index])
    .done("Nothing was read.")
    .next("Export the times with seconds, or state time = { rate = ... } in the reading plan.")
}

pub(super) fn no_time(file: &DelimitedText<'_>) -> Message {
    let mut message = Message::refused(codes::NO_TIME, "No column holds times, and no lines around the data tell when they begin and end")
        .done("Nothing was read.")
        .next("State time = { rate = 10 } (samples per second) or time = { column = \"...\", unit = \"s\" } in the reading plan.");
    message.place.line = file.header_line;
    message
}

fn temperature_channels(
    file: &DelimitedText<'_>,
    plan: &ReadingPlan,
    headers: &[ColumnHeader],
    messages: &mut Vec<Message>,
    faults: &mut Vec<Message>,
) -> Vec<Channel<TemperaturePlan>> {
    let mut channels = Vec::new();
    if !plan.temperatures.is_empty() {
        for planned in &plan.temperatures {
            match planned_column(file, &planned.column) {
                Ok(index) => channels.push(Channel { index, plan: planned.clone() }),
                Err(fault) => faults.extend(fault.into_messages()),
            }
        }
        return channels;
    }
    let mut unread = Vec::new();
    for (index, header) in headers.iter().enumerate() {
        let column = file.names[index].clone();
        match header.unit {
            ColumnUnit::Temperature(unit) => {
                channels.push(Channel { index, plan: TemperaturePlan { column, unit } })
            }
            ColumnUnit::Absent if header.is_temperature_label() => unread.push(quoted(&column)),
            _ => {}
        }
    }
    if let Some(first) = unread.first() {
        messages.push(
            Message::remark(codes::UNIT, format!("{} look like temperatures and have no unit", unread.join(", ")))
                .done("They were not read.")
                .next(format!("State temperature = [{{ column = {first}, unit = \"C\" }}] in the reading plan to read them.")),
        );
    }
    channels
}

fn planned_pressures(
    file: &DelimitedText<'_>,
    plan: &ReadingPlan,
    faults: &mut Vec<Message>,
) -> Vec<Channel<PressurePlan>> {
    let mut channels = Vec::new();
    for planned in &plan.pressures {
        match planned_column(file, &planned.column) {
            Ok(index) => channels.push(Channel { index, plan: planned.clone() }),
            Err(fault) => faults.extend(fault.into_messages()),
        }
    }
    channels
}

fn proposed_pressures(
    file: &DelimitedText<'_>,
    headers: &[ColumnHeader],
    candidates: &[usize],
    messages: &mut Vec<Message>,
    faults: &mut Vec<Message>,
) -> Vec<Channel<PressurePlan>> {
    let mut channels = Vec::new();
    let mut without_unit = Vec::new();
    for &index in candidates {
        let name = &file.names[index];
        let at = |message: Message| {
            let mut message = message.in_column(index as u64 + 1, name);
            message.place.line = file.header_line;
            message
        };
        match &headers[index].unit {
            ColumnUnit::Pressure { differential: true, .. } => messages.push(at(Message::remark(
                codes::GAUGE_OR_ABSOLUTE,
                format!("{} is a difference of pressures", quoted(name)),
            )
            .done("It was not read as chamber pressure."))),
            ColumnUnit::Pressure { .. } if headers[index].label.contains("vacuum") => faults.push(at(
                Message::refused(codes::GAUGE_OR_ABSOLUTE, format!("{} may be the pressure left or the pressure removed", quoted(name)))
                    .done("Nothing was read.")
                    .next("State the column in the reading plan; a gauge that counts downward from the room takes gauge = true and scale = -1."),
            )),
            ColumnUnit::Pressure { unit, gauge, .. } => channels.push(Channel {
                index,
                plan: PressurePlan { gauge: *gauge, ..PressurePlan::absolute(name, unit) },
            }),
            ColumnUnit::Ambiguous(text) => faults.push(at(Message::refused(
                codes::UNIT,
                format!("{} may be mPa or MPa, a factor of a thousand million", quoted(text)),
            )
            .done("Nothing was read.")
            .next("State the unit of the column in the reading plan."))),
            ColumnUnit::Unknown(text)
                if headers[index].is_pressure_label() || is_raw_signal(text) =>
            {
                without_unit.push((index, Some(text.clone())));
            }
            ColumnUnit::Absent => without_unit.push((index, None)),
            ColumnUnit::Other(unit) if unit.kind == UnitKind::StandardFlow => {
                messages.push(at(Message::remark(
                    codes::FLOW_REFERENCE,
                    format!(
                        "{} is a standard flow without its reference temperature",
                        quoted(name)
                    ),
                )
                .done("It was not read.")))
            }
            _ => {}
        }
    }
    note_several(&channels, messages);
    if channels.is_empty() && faults.is_empty() {
        faults.push(no_pressure_unit(file, &without_unit));
    }
    channels
}

/// The first cell of a column whose header says pressure, where it is no number:
/// the column was passed over for it.
fn unread_pressure(
    file: &DelimitedText<'_>,
    headers: &[ColumnHeader],
    first_row: &[String],
) -> Option<Message> {
    let at = headers.iter().position(|header| {
        matches!(header.unit, ColumnUnit::Pressure { .. }) || header.is_pressure_label()
    })?;
    let cell = first_row.get(at).filter(|cell| read_cell(cell, file.style).is_err())?;
    if cell.trim().is_empty() {
        return Some(
            Message::refused(
                codes::EMPTY_CELLS,
                format!("The first row of {} is empty", quoted(&file.names[at])),
            )
            .at_line(file.first_data_line())
            .in_column(at as u64 + 1, &file.names[at])
            .done("Nothing was read.")
            .next(
                "Complete the row, let the workbook compute its formulas and save it, or state \
                 pressure = [{ column = \"...\", unit = \"...\" }] in the reading plan.",
            ),
        );
    }
    Some(
        Message::refused(
            codes::UNKNOWN_TOKEN,
            format!("{} stands where a pressure is due", quoted(cell)),
        )
        .at_line(file.first_data_line())
        .in_column(at as u64 + 1, &file.names[at])
        .done("Nothing was read.")
        .next(format!(
            "Write a number; if it means that there is no value, state missing = [{0}] in the \
             reading plan; if the gauge was beyond its range, over_range = [{0}].",
            quoted(cell)
        )),
    )
}

/// Says how many channels there are, and where their units differ.
fn note_several(channels: &[Channel<PressurePlan>], messages: &mut Vec<Message>) {
    let [first, rest @ ..] = channels else { return };
    if rest.is_empty() {
        return;
    }
    messages.push(
        Message::warning(
            codes::SEVERAL_TRACES,
            format!("The file holds {} pressure channels", channels.len()),
        )
        .done("Each was read as a trace of its own.")
        .next(
            "If they are gauges of one chamber, state the one that counts: pressure = [{ column = \
             \"...\", unit = \"...\" }] in the reading plan.",
        ),
    );
    if let Some(other) = rest.iter().find(|channel| channel.plan.unit != first.plan.unit) {
        messages.push(
            Message::remark(
                codes::MIXED_UNITS,
                format!(
                    "{} is in {} and {} in {}",
                    quoted(&first.plan.column),
                    first.plan.unit.name,
                    quoted(&other.plan.column),
                    other.plan.unit.name
                ),
            )
            .in_column(other.index as u64 + 1, &other.plan.column)
            .done("Each was converted to Pa."),
        );
    }
}

fn is_raw_signal(text: &str) -> bool {
    ["V", "mV", "mA", "counts", "count", "raw", "digits", "LSB", "ADC"].contains(&text)
}

/// The refusal where no pressure column carries its unit; it shows the lines
/// of the plan that would settle it.
fn no_pressure_unit(file: &DelimitedText<'_>, columns: &[(usize, Option<String>)]) -> Message {
    let raw = columns.iter().find_map(|(index, unit)| {
        unit.as_ref().filter(|unit| is_raw_signal(unit)).map(|unit| (*index, unit))
    });
    let mut message = match (columns, raw) {
        ([], _) => Message::refused(codes::NO_PRESSURE_UNIT, "No column holds a pressure")
            .next("State pressure = [{ column = \"...\", unit = \"mbar\" }] in the reading plan."),
        (_, Some((index, unit))) => Message::refused(codes::RAW_SIGNAL, format!("{} is a signal in {}, not a pressure", quoted(&file.names[index]), quoted(unit)))
            .in_column(index as u64 + 1, &file.names[index])
            .next(format!("State pressure = [{{ column = {}, unit = \"Pa\", scale = ... }}] in the reading plan, with the pressure of one {unit} from the sensor's certificate.", quoted(&file.names[index]))),
        ([(first, _), ..], None) => {
            let names: Vec<String> = columns.iter().take(10).map(|(index, _)| quoted(&file.names[*index])).collect();
            let entries: Vec<String> = names.iter().map(|name| format!("{{ column = {name}, unit = \"mbar\" }}")).collect();
            Message::refused(codes::NO_PRESSURE_UNIT, format!("No header carries a unit of pressure; {} could be pressures", names.join(", ")))
                .in_column(*first as u64 + 1, &file.names[*first])
                .next(format!("Give a reading plan (--reading PLAN.toml) with the columns that are pressures and their unit: pressure = [{}]", entries.join(", ")))
        }
    };
    message.place.line = file.header_line;
    message.done("Nothing was read.")
}
