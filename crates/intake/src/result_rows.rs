//! Results without traces: a table with one row for each unit tested (unit,
//! class, defect, operator, day, rig, reading, verdict) as runs.

use study::quantities::Temperature;
use study::quantities::units::UnitKind;
use study::run_factors::{LeakSide, RunFactors};
use study::runs::{Ended, RunClass};

use crate::codes;
use crate::column_header::{ColumnHeader, ColumnUnit};
use crate::message::{Message, Refusal, quoted};
use crate::result_table::Table;
use crate::rig_stamp::{is_counter_key, is_rig_key};
use crate::written_quantity::read_flow;

/// One tested unit.
#[derive(Debug, Clone, PartialEq)]
pub struct ResultRow {
    /// Line of the file.
    pub line: u64,
    /// Mark on the unit.
    pub unit: String,
    /// What the unit is.
    pub class: RunClass,
    /// Day of the study; 1 where the table has none.
    pub day: u32,
    /// How the run ended.
    pub ended: Ended,
    /// Reading, Pa; `None` where the run has none.
    pub reading_pa: Option<f64>,
    /// Who tested, on which rig (by its serial number), a unit of which lot, side
    /// and type of its leak, and the standard of a flow challenge; empty where the
    /// table does not say.
    pub factors: RunFactors,
    /// Cycle counter of the rig.
    pub counter: Option<u64>,
    /// Verdict as written; never used as our result.
    pub verdict: String,
}

/// Names of columns that are known, in lower case.
const UNIT: [&str; 7] = ["unit", "unit id", "unit_id", "sample", "sample id", "sample_id", "id"];
const CLASS: [&str; 5] = ["class", "type", "control", "group", "kind"];
const DEFECT: [&str; 7] =
    ["defect", "nominal", "size", "leak", "diameter", "nominal size", "defect size"];
const VERIFIED: [&str; 3] = ["verified", "measured size", "verified size"];
const FLOW: [&str; 4] = ["flow", "challenge flow", "flow challenge", "certified flow"];
const AGE: [&str; 4] = ["age", "age days", "age_days", "days since filling"];
const OPERATOR: [&str; 3] = ["operator", "analyst", "tester"];
const DAY: [&str; 2] = ["day", "day of study"];
const RIG: [&str; 5] = ["rig", "rig serial", "rig_serial", "instrument", "station"];
const LOT: [&str; 6] = ["lot", "lot number", "lot no", "lot_number", "batch", "batch number"];
const SIDE: [&str; 4] = ["side", "leak side", "side of the leak", "position"];
const DEFECT_TYPE: [&str; 5] =
    ["defect type", "defect_type", "type of defect", "leak type", "leak_type"];
const STANDARD: [&str; 4] = ["standard", "flow standard", "flow_standard", "standard id"];
const COUNTER: [&str; 5] = ["cycle", "cycle counter", "cycle_counter", "counter", "test no"];
const READING: [&str; 7] =
    ["reading", "rise", "result", "pressure rise", "pressure_rise", "delta p", "signal"];
const VERDICT: [&str; 4] = ["verdict", "pass/fail", "pass_fail", "outcome"];
const ENDED: [&str; 3] = ["ended", "end", "abort"];

/// True where a table looks like results and not like traces: a column of
/// units and one of readings or verdicts, and none of times.
#[must_use]
pub fn looks_like_results(columns: &[String]) -> bool {
    let headers: Vec<ColumnHeader> =
        columns.iter().map(|column| ColumnHeader::of(column, None)).collect();
    let has = |names: &[&str]| headers.iter().any(|header| names.contains(&header.label.as_str()));
    // An age in days is no time of a trace.
    let timed = headers.iter().any(|header| {
        let is_time = header.is_time_label() || matches!(header.unit, ColumnUnit::Time(_));
        is_time && !AGE.contains(&header.label.as_str())
    });
    has(&UNIT) && (has(&READING) || has(&VERDICT)) && !timed
}

/// Reads the rows. The unit of readings and sizes stands in the header, such
/// as `reading [Pa]` and `defect [um]`; a class is a blank, a negative or a
/// positive control, a flow challenge, or an aged control. A positive control
/// needs its size; a flow challenge its flow, in a column such as
/// `flow [Pa.m3/s]` or `flow [sccm@0C]`; an aged control its age in whole days,
/// in a column such as `age days`, and its size where it has a leak.
///
/// # Errors
/// Every fault with its line and column: no unit of pressure, a class that is
/// none, a positive control without size, an abort without cause.
///
/// # Example
/// ```
/// use intake::result_rows::result_rows;
/// use intake::result_table::read_table;
/// let text = b"unit,class,defect [um],reading [mbar]\nA,negative,,0.05\nB,positive,5,0.4\n";
/// let rows = result_rows(&read_table(text, &Default::default())?)?;
/// assert_eq!(rows[1].reading_pa, Some(40.0));
/// # Ok::<(), intake::Refusal>(())
/// ```
pub fn result_rows(table: &Table) -> Result<Vec<ResultRow>, Refusal> {
    let headers: Vec<ColumnHeader> =
        table.columns.iter().map(|column| ColumnHeader::of(column, None)).collect();
    let column =
        |names: &[&str]| headers.iter().position(|header| names.contains(&header.label.as_str()));
    let unit = column(&UNIT).ok_or_else(|| {
        Refusal::from(
            Message::refused(codes::TABLE_NO_COLUMN, "No column names the unit that was tested")
                .done("Nothing was read.")
                .next("Name the column `unit`."),
        )
    })?;
    let of_kind = |names: &[&str], kind: UnitKind| measured(table, &headers, names, kind);
    let reading = of_kind(&READING, UnitKind::Pressure)?;
    let factor =
        reading.map(|at| factor_of(table, &headers, at, UnitKind::Pressure, "Pa")).transpose()?;
    let defect = of_kind(&DEFECT, UnitKind::Length)?;
    let size =
        defect.map(|at| factor_of(table, &headers, at, UnitKind::Length, "um")).transpose()?;
    let verified = column(&VERIFIED);
    let verified_size =
        verified.map(|at| factor_of(table, &headers, at, UnitKind::Length, "um")).transpose()?;
    let flow = column(&FLOW);
    let unit_flow = flow.map(|at| flow_of_unit(table, at)).transpose()?;
    let numbers =
        |at: Option<usize>| at.map(|at| table.optional_numbers(&table.columns[at])).transpose();
    let (readings, sizes, verified_sizes) =
        (numbers(reading)?, numbers(defect)?, numbers(verified)?);
    let flows = numbers(flow)?;
    let age = column(&AGE);
    let ages = numbers(age)?;
    let days_in_one = age.map_or(Ok(1.0), |at| days_of_unit(table, &headers, at))?;
    let keyed = |names: &[&str], is_key: fn(&str) -> bool| {
        let of_key = || headers.iter().position(|header| is_key(&header.label));
        column(names).or_else(of_key)
    };
    let (rig, count) = (keyed(&RIG, is_rig_key), keyed(&COUNTER, is_counter_key));
    let (day, verdict_at) = (column(&DAY), column(&VERDICT));
    let (days, counters) = (numbers(day)?, numbers(count)?);
    let (class, ended) = (column(&CLASS), column(&ENDED));
    let words = |at: Option<usize>, row: usize| at.map_or("", |at| table.rows[row][at].as_str());
    let mut rows = Vec::with_capacity(table.rows.len());
    let mut faults = Vec::new();
    for row in 0..table.rows.len() {
        let value = |of: &Option<Vec<Option<f64>>>| of.as_ref().and_then(|values| values[row]);
        let nominal_um = value(&sizes).zip(size).map(|(value, factor)| value * factor * 1e6);
        let verified_um =
            value(&verified_sizes).zip(verified_size).map(|(value, factor)| value * factor * 1e6);
        let place = |message: Message, at: Option<usize>| {
            let message = message.at_line(table.lines[row]);
            at.map_or(message.clone(), |at| message.in_column(at as u64 + 1, &table.columns[at]))
        };
        let flow_pa_m3_per_s = value(&flows).zip(unit_flow).map(|(value, one)| value * one);
        let size_of = Figures {
            nominal_um,
            flow_pa_m3_per_s,
            age_days: value(&ages).map(|value| value * days_in_one),
        };
        let mark = words(Some(unit), row);
        let said = words(class, row);
        let class_of = match class_word(said, size_of) {
            _ if is_summary(mark) => Err(format!(
                "{} is no unit that was tested: the row looks like a total or a mean",
                quoted(mark)
            )),
            // Where others say it, nobody is a negative control by silence.
            Ok(RunClass::NegativeControl) if class.is_some() && said.trim().is_empty() => {
                Err(format!("The class of {} is not given", quoted(mark)))
            }
            other => other,
        };
        let class_of = match class_of {
            Ok(found) => found,
            Err(what) => {
                faults.push(place(
                    Message::refused(codes::TABLE_CELL, what)
                        .done("Nothing was read.")
                        .next("Write blank, negative, positive, flow or aged; a positive control needs its size in a column such as `defect [um]`, a flow challenge its flow in one such as `flow [Pa.m3/s]`, an aged control its age in a column such as `age days` and its size only where it has a leak."),
                    class,
                ));
                continue;
            }
        };
        let reading_pa = value(&readings).zip(factor).map(|(value, factor)| value * factor);
        let ended_of = match ended_word(words(ended, row)) {
            // The reading of a full gauge is the least that the rise can be.
            Ok(Ended::GaugeFull { .. }) => {
                Ended::GaugeFull { at_least_pa: reading_pa.unwrap_or(0.0).max(0.0) }
            }
            Ok(found) => found,
            Err(what) => {
                faults.push(place(
                    Message::refused(codes::TABLE_CELL, what)
                        .done("Nothing was read.")
                        .next("Write completed, `reach limit`, `rise limit`, `gauge full`, or `aborted: ` with the cause; only runs ended by a limit are censored."),
                    ended,
                ));
                continue;
            }
        };
        let side_of = match side_word(words(column(&SIDE), row)) {
            Ok(found) => found,
            Err(what) => {
                faults.push(place(
                    Message::refused(codes::TABLE_CELL, what)
                        .done("Nothing was read.")
                        .next("Write gas or liquid: which of the two reaches the leak."),
                    column(&SIDE),
                ));
                continue;
            }
        };
        let verdict = words(verdict_at, row).to_owned();
        let (counter, of_day) = match (whole(value(&counters), 0.0), whole(value(&days), 1.0)) {
            (Ok(counter), Ok(day)) => (counter, day),
            (counter, _) => {
                let (what, at) = match counter {
                    Err(value) => (format!("{value} is no count of cycles"), count),
                    Ok(_) => ("The day of the study is no whole number from 1 on".to_owned(), day),
                };
                faults.push(place(
                    Message::refused(codes::TABLE_CELL, what)
                        .done("Nothing was read.")
                        .next("Write a whole number, or leave the cell empty."),
                    at,
                ));
                continue;
            }
        };
        if reading_pa.is_none() && ended_of == Ended::Completed && verdict.is_empty() {
            faults.push(place(
                Message::refused(
                    codes::EMPTY_CELLS,
                    "A completed run has neither reading nor verdict",
                )
                .done("Nothing was read.")
                .next("Fill in the reading, or say how the run ended in a column `ended`."),
                reading,
            ));
            continue;
        }
        rows.push(ResultRow {
            line: table.lines[row],
            unit: table.rows[row][unit].clone(),
            class: match class_of {
                RunClass::PositiveControl { nominal_um, .. } => {
                    RunClass::PositiveControl { nominal_um, verified_um }
                }
                other => other,
            },
            day: of_day.map_or(1, |day| u32::try_from(day).unwrap_or(u32::MAX)),
            ended: ended_of,
            reading_pa,
            factors: RunFactors {
                operator: words(column(&OPERATOR), row).to_owned(),
                rig: words(rig, row).to_owned(),
                lot: words(column(&LOT), row).to_owned(),
                side: side_of,
                defect: words(column(&DEFECT_TYPE), row).to_owned(),
                standard: words(column(&STANDARD), row).to_owned(),
            },
            counter,
            verdict,
        });
    }
    if faults.is_empty() {
        return Ok(rows);
    }
    faults.truncate(20);
    Err(Refusal::of(faults))
}

fn factor_of(
    table: &Table,
    headers: &[ColumnHeader],
    at: usize,
    kind: UnitKind,
    example: &str,
) -> Result<f64, Refusal> {
    let unit = match &headers[at].unit {
        ColumnUnit::Pressure { unit, .. } if kind == UnitKind::Pressure => Some(unit),
        ColumnUnit::Other(unit) if unit.kind == kind => Some(unit),
        _ => None,
    };
    unit.map(|unit| unit.factor).ok_or_else(|| {
        let name = &table.columns[at];
        Message::refused(codes::UNIT, format!("The column {} has no unit that fits", quoted(name)))
            .at_line(table.lines.first().map_or(1, |line| line.saturating_sub(1)))
            .in_column(at as u64 + 1, name)
            .done("Nothing was read.")
            .next(format!("Write the unit into the header, such as \"{name} [{example}]\"."))
            .into()
    })
}

/// What one of the unit in the header is, Pa·m³/s at 20 °C.
fn flow_of_unit(table: &Table, at: usize) -> Result<f64, Refusal> {
    let name = &table.columns[at];
    let unit = name
        .split_once(['[', '('])
        .map(|(_, rest)| rest.trim_end().trim_end_matches([']', ')']).trim())
        .unwrap_or_default();
    read_flow(&format!("1 {unit}"))
        .and_then(|flow| flow.molar_flow(None))
        .map(|flow| flow.throughput_at(Temperature::from_celsius(20.0)).pa_m3_per_s())
        .map_err(|error| {
            Message::refused(
                codes::UNIT,
                format!("The column {} has no unit of flow that fits: {error}", quoted(name)),
            )
            .at_line(table.lines.first().map_or(1, |line| line.saturating_sub(1)))
            .in_column(at as u64 + 1, name)
            .done("Nothing was read.")
            .next(
                "Write the unit into the header, such as \"flow [Pa.m3/s]\" or \"flow [sccm@0C]\".",
            )
            .into()
        })
}

/// Days in one of the unit in the header: without a unit ages are days.
fn days_of_unit(table: &Table, headers: &[ColumnHeader], at: usize) -> Result<f64, Refusal> {
    match &headers[at].unit {
        ColumnUnit::Absent => Ok(1.0),
        // A unit of time is in seconds.
        ColumnUnit::Time(unit) => Ok(unit.factor / 86_400.0),
        _ => {
            let name = &table.columns[at];
            Err(Message::refused(
                codes::UNIT,
                format!("The column {} has no unit that fits an age", quoted(name)),
            )
            .at_line(table.lines.first().map_or(1, |line| line.saturating_sub(1)))
            .in_column(at as u64 + 1, name)
            .done("Nothing was read.")
            .next("Write ages in days, in a column named `age days`.")
            .into())
        }
    }
}

/// Rows below a table that sum it up.
const SUMMARIES: [&str; 22] = [
    "total",
    "totals",
    "sum",
    "mean",
    "average",
    "avg",
    "median",
    "min",
    "max",
    "minimum",
    "maximum",
    "sd",
    "std",
    "stdev",
    "std dev",
    "rsd",
    "count",
    "mittelwert",
    "mittel",
    "summe",
    "moyenne",
    "promedio",
];

fn is_summary(mark: &str) -> bool {
    let plain = mark.trim().trim_end_matches([':', '.']).to_lowercase();
    SUMMARIES.contains(&plain.as_str())
}

/// The column of one of these names, that with a unit of the kind before the
/// others: `defect` may hold words beside `size [um]`.
///
/// # Errors
/// Two columns of such names with units of the kind: which of them counts is
/// not guessed.
fn measured(
    table: &Table,
    headers: &[ColumnHeader],
    names: &[&str],
    kind: UnitKind,
) -> Result<Option<usize>, Refusal> {
    let named = || {
        headers.iter().enumerate().filter(|(_, header)| {
            // A name that stands twice was numbered.
            let label = header.label.as_str();
            let plain = label.rsplit_once(" (").map_or(label, |(name, _)| name);
            names.contains(&label) || (label.ends_with(')') && names.contains(&plain))
        })
    };
    let fits = |header: &ColumnHeader| match &header.unit {
        ColumnUnit::Pressure { .. } => kind == UnitKind::Pressure,
        ColumnUnit::Other(unit) => unit.kind == kind,
        _ => false,
    };
    let with_unit: Vec<usize> =
        named().filter(|(_, header)| fits(header)).map(|(at, _)| at).collect();
    if let [first, second, ..] = with_unit[..] {
        return Err(Message::refused(
            codes::TABLE_NO_COLUMN,
            format!(
                "{} and {} could both be the value of a unit",
                quoted(&table.columns[first]),
                quoted(&table.columns[second])
            ),
        )
        .at_line(table.lines.first().map_or(1, |line| line.saturating_sub(1)))
        .in_column(second as u64 + 1, &table.columns[second])
        .done("Nothing was read.")
        .next("Give the one that does not count another name, or remove it.")
        .into());
    }
    Ok(with_unit.first().copied().or_else(|| named().next().map(|(at, _)| at)))
}

/// What a row says of a unit beside its class.
struct Figures {
    nominal_um: Option<f64>,
    flow_pa_m3_per_s: Option<f64>,
    age_days: Option<f64>,
}

/// Longest age that is taken for one, days: a century.
const LONGEST_AGE_DAYS: f64 = 36_525.0;

fn class_word(word: &str, figures: Figures) -> Result<RunClass, String> {
    let Figures { nominal_um, flow_pa_m3_per_s, age_days } = figures;
    let with_leak = nominal_um.filter(|size| *size > 0.0);
    let positive = || {
        with_leak
            .map(|nominal_um| RunClass::PositiveControl { nominal_um, verified_um: None })
            .ok_or_else(|| "A positive control has no size".to_owned())
    };
    let class = match word.trim().to_lowercase().as_str() {
        "blank" | "dummy" | "empty" => RunClass::Blank,
        "negative" | "negative control" | "nc" | "no leak" | "intact" | "good" => {
            RunClass::NegativeControl
        }
        "flow" | "flow challenge" | "challenge" => flow_pa_m3_per_s
            .filter(|flow| *flow >= 0.0)
            .map(|flow_pa_m3_per_s| RunClass::FlowChallenge { flow_pa_m3_per_s })
            .ok_or_else(|| "A flow challenge has no flow".to_owned())?,
        "positive" | "positive control" | "pc" | "leak" | "defect" => positive()?,
        "aged" | "aged control" => return aged(with_leak, age_days),
        // Without a word the size decides: a defect makes a positive control.
        "" => match with_leak {
            Some(_) => positive()?,
            None => RunClass::NegativeControl,
        },
        _ => return Err(format!("{} is no class of unit", quoted(word))),
    };
    match age_days {
        None => Ok(class),
        Some(_) => Err(format!("A {} has an age, and only an aged control has one", class.word())),
    }
}

fn aged(nominal_um: Option<f64>, age_days: Option<f64>) -> Result<RunClass, String> {
    let days = age_days.ok_or_else(|| "An aged control has no age".to_owned())?;
    // Ages in hours or weeks come out a rounding error beside whole days.
    let whole = days.round();
    if !(0.0..=LONGEST_AGE_DAYS).contains(&days) || (days - whole).abs() > 1e-9 {
        return Err(format!("{days} is no age in whole days"));
    }
    Ok(RunClass::AgedControl { nominal_um, age_days: whole as u32 })
}

/// Which side of the container a leak is on; `None` where the cell is empty.
fn side_word(word: &str) -> Result<Option<LeakSide>, String> {
    match word.trim().to_lowercase().as_str() {
        "" => Ok(None),
        "gas" | "gas side" | "headspace" => Ok(Some(LeakSide::Gas)),
        "liquid" | "liquid side" | "wet" => Ok(Some(LeakSide::Liquid)),
        _ => Err(format!("{} is no side of a leak", quoted(word))),
    }
}

/// A whole number from `least` on; the value where it is none.
fn whole(value: Option<f64>, least: f64) -> Result<Option<u64>, f64> {
    /// Above it numbers stand for their neighbours too.
    const MOST: f64 = 9.0e15;
    match value {
        None => Ok(None),
        Some(value) if (least..=MOST).contains(&value) && value.fract() == 0.0 => {
            Ok(Some(value as u64))
        }
        Some(value) => Err(value),
    }
}

/// How tables say that the gauge stood at the end of its range.
const FULL: [&str; 7] = [
    "gauge full",
    "saturated",
    "overrange",
    "over range",
    "over-range",
    "out of range",
    "overflow",
];

fn ended_word(word: &str) -> Result<Ended, String> {
    let lower = word.trim().to_lowercase();
    if lower.is_empty() || lower == "completed" || lower == "complete" {
        return Ok(Ended::Completed);
    }
    if FULL.contains(&lower.as_str()) {
        return Ok(Ended::GaugeFull { at_least_pa: 0.0 });
    }
    let tier = |rest: &str| rest.rsplit(' ').next().and_then(|n| n.parse().ok()).unwrap_or(1);
    if let Some(rest) = lower.strip_prefix("reach limit") {
        return Ok(Ended::ReachLimit { tier: tier(rest) });
    }
    if let Some(rest) = lower.strip_prefix("rise limit") {
        return Ok(Ended::RiseLimit { tier: tier(rest) });
    }
    if let Some(cause) = word.trim().split_once(':').filter(|(head, cause)| {
        head.trim().eq_ignore_ascii_case("aborted") && !cause.trim().is_empty()
    }) {
        return Ok(Ended::Aborted { cause: cause.1.trim().to_owned() });
    }
    Err(if lower.starts_with("abort") {
        "An aborted run does not say its cause".to_owned()
    } else {
        format!("{} does not say how the run ended", quoted(word))
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::result_table::read_table;

    fn rows(text: &str) -> Result<Vec<ResultRow>, Refusal> {
        result_rows(&read_table(text.as_bytes(), &Default::default())?)
    }

    #[test]
    fn a_table_of_results_is_told_from_a_trace() {
        let of = |names: &[&str]| {
            looks_like_results(&names.iter().map(|n| (*n).to_owned()).collect::<Vec<_>>())
        };
        assert!(of(&["unit", "class", "reading [Pa]"]) && of(&["Sample", "Verdict"]));
        assert!(!of(&["time_s", "p [Pa]"]) && !of(&["unit", "time_s", "reading [Pa]"]));
    }

    #[test]
    fn every_column_is_read() {
        let rows = rows(
            "unit,class,defect [um],operator,day,rig,cycle,reading [Pa],verdict,ended\n\
             A,negative,,X,1,R7,11,12.5,PASS,completed\n\
             B,positive,5,Y,2,R7,12,,FAIL,reach limit\n\
             C,positive,10,Y,2,R7,13,,,aborted: lid not closed\n",
        )
        .unwrap();
        assert_eq!(rows[0].reading_pa, Some(12.5));
        let rig = rows[0].factors.rig.as_str();
        assert_eq!((rig, rows[0].counter, rows[0].day), ("R7", Some(11), 1));
        assert_eq!(rows[1].ended, Ended::ReachLimit { tier: 1 });
        assert_eq!(rows[2].ended, Ended::Aborted { cause: "lid not closed".to_owned() });
        assert_eq!(rows[1].class, RunClass::PositiveControl { nominal_um: 5.0, verified_um: None });
    }

    #[test]
    fn flows_are_read_in_the_unit_of_their_header() {
        // 1 sccm at 0 °C and 1 atm is 101 325 Pa x 1e-6 m3/60 s x 293.15/273.15
        // at 20 °C: 1.812 40e-3 Pa m3/s (hand calculation).
        for (unit, one) in [("Pa.m3/s", 1.0), ("mbar.L/s", 0.1), ("sccm@0C", 1.812_40e-3)] {
            let text = format!(
                "unit,class,flow [{unit}],reading [Pa]\nF0,flow,0,1\nF1,flow challenge,0.5,2\n"
            );
            let rows = rows(&text).unwrap();
            assert_eq!(rows[0].class, RunClass::FlowChallenge { flow_pa_m3_per_s: 0.0 });
            let flow = rows[1].class.flow_pa_m3_per_s().unwrap();
            assert!((flow / (0.5 * one) - 1.0).abs() < 1e-5, "{unit}: {flow}");
        }
    }

    #[test]
    fn the_standard_of_a_flow_is_read() {
        let rows = rows(
            "unit,class,flow [Pa.m3/s],flow standard,reading [Pa]\n\
             F1,flow,1e-6,FS-1,9\nB,blank,,,3\n",
        )
        .unwrap();
        assert_eq!(rows[0].factors.standard, "FS-1");
        assert!(rows[1].factors.is_empty());
    }

    #[test]
    fn lot_side_and_type_of_the_leak_are_read() {
        let rows = rows(
            "unit,class,defect [um],defect type,side,lot,operator,reading [Pa]\n\
             A,positive,5,capillary,Liquid,L2,X,9\nN,negative,,,,,,3\n",
        )
        .unwrap();
        let factors = &rows[0].factors;
        assert_eq!(factors.side, Some(LeakSide::Liquid));
        assert_eq!((factors.lot.as_str(), factors.defect.as_str()), ("L2", "capillary"));
        assert!(rows[1].factors.is_empty());
    }

    #[test]
    fn aged_controls_carry_their_age() {
        let rows = rows(
            "unit,class,defect [um],age days,reading [Pa],ended\n\
             A01,aged,10,0,40,\nA01,Aged Control,10,30,,rise limit exceeded in tier 2\n\
             A11,aged,,30,12,\nN01,negative,,,11,\n",
        )
        .unwrap();
        let aged = |nominal_um, age_days| RunClass::AgedControl { nominal_um, age_days };
        let classes: Vec<RunClass> = rows.iter().map(|row| row.class).collect();
        assert_eq!(
            classes,
            [aged(Some(10.0), 0), aged(Some(10.0), 30), aged(None, 30), RunClass::NegativeControl]
        );
        assert_eq!(rows[1].ended, Ended::RiseLimit { tier: 2 });
    }

    #[test]
    fn an_age_may_have_a_unit_of_time() {
        let rows = rows("unit,class,age [h],reading [Pa]\nA01,aged,720,4\n").unwrap();
        assert_eq!(rows[0].class, RunClass::AgedControl { nominal_um: None, age_days: 30 });
        assert!(looks_like_results(&["unit", "age [h]", "reading [Pa]"].map(str::to_owned)));
    }

    #[test]
    fn what_an_aged_control_lacks_is_named() {
        for (text, said) in [
            ("unit,class,reading [Pa]\nA01,aged,1\n", "has no age"),
            ("unit,class,age days,reading [Pa]\nA01,aged,,1\n", "has no age"),
            ("unit,class,age days,reading [Pa]\nA01,aged,1.5,1\n", "no age in whole days"),
            ("unit,class,age days,reading [Pa]\nA01,aged,-3,1\n", "no age in whole days"),
            ("unit,class,age days,reading [Pa]\nN01,negative,30,1\n", "only an aged control"),
        ] {
            let refusal = rows(text).unwrap_err();
            assert_eq!(refusal.code(), "INT-202", "{text}");
            let message = refusal.first().to_string();
            assert!(message.contains(said) && message.contains("`age days`"), "{message}");
        }
    }

    #[test]
    fn what_is_open_is_refused_with_its_place() {
        for (text, code) in [
            ("unit,class,defect [um],side,reading [Pa]\nA,positive,5,top,1\n", "INT-202"),
            ("unit,class,age [Pa],reading [Pa]\nA01,aged,1,1\n", "INT-036"),
            ("unit,class,reading [Pa]\nF1,flow,1\n", "INT-202"),
            ("unit,class,flow [mL],reading [Pa]\nF1,flow,1,1\n", "INT-036"),
            ("unit,class,flow [sccm],reading [Pa]\nF1,flow,1,1\n", "INT-036"),
            ("unit,reading\nA,1\n", "INT-036"),
            ("unit,class,reading [Pa]\nA,positive,1\n", "INT-202"),
            ("unit,class,reading [Pa]\nA,maybe,1\n", "INT-202"),
            ("unit,reading [Pa],ended\nA,1,aborted\n", "INT-202"),
            ("unit,reading [Pa]\nA,\n", "INT-015"),
        ] {
            assert_eq!(rows(text).map_err(|refusal| refusal.code()), Err(code), "{text}");
        }
    }

    #[test]
    fn rigs_and_counters_are_known_by_the_names_of_laboratories() {
        for (rig, counter) in
            [("S/N", "Cycle #"), ("Seriennummer", "Zyklus-Nr."), ("serial no.", "Run No")]
        {
            let text = format!("unit;class;reading [Pa];{rig};{counter}\nA;blank;1;R7;11\n");
            let rows = rows(&text).unwrap();
            assert_eq!((rows[0].factors.rig.as_str(), rows[0].counter), ("R7", Some(11)), "{text}");
        }
        for (cells, at) in
            [("11.5,1", "no count"), ("-1,1", "no count"), ("11,1.5", "day"), ("11,0", "day")]
        {
            let text = format!("unit,class,reading [Pa],cycle,day\nA,blank,1,{cells}\n");
            let refusal = rows(&text).unwrap_err().to_string();
            assert!(refusal.contains(at) && refusal.contains("line 2"), "{cells}: {refusal}");
        }
    }

    /// What is read from a full gauge is a bound, and none where nothing is.
    #[test]
    fn a_full_gauge_gives_the_least_rise() {
        let text = "unit,class,reading [mbar],ended\nA,blank,2,saturated\nB,blank,,over range\n";
        let rows = rows(text).unwrap();
        assert_eq!(rows[0].ended, Ended::GaugeFull { at_least_pa: 200.0 });
        assert_eq!(rows[1].ended, Ended::GaugeFull { at_least_pa: 0.0 });
    }

    /// A footer is no unit, an empty class is no negative control, and two
    /// readings are a question.
    #[test]
    fn what_would_count_as_a_unit_in_silence_is_refused() {
        for (text, line, wants) in [
            ("unit,class,reading [Pa]\nA,negative,1\nMean,,1\n", "line 3", "total or a mean"),
            ("unit,reading [Pa]\nA,1\nMittelwert:,1\n", "line 3", "total or a mean"),
            ("unit,class,reading [Pa]\nA,,1\n", "line 2", "class of \"A\" is not given"),
            ("unit,reading [Pa],rise [Pa]\nA,1,2\n", "line 1", "could both be"),
            ("unit,class,defect [um],size [mm],reading [Pa]\nA,positive,5,5,1\n", "line 1", "both"),
        ] {
            let refusal = rows(text).unwrap_err().to_string();
            assert!(refusal.contains(line) && refusal.contains(wants), "{text}: {refusal}");
        }
        // Without a column of classes a unit without a size has no leak; words
        // in a column beside the size are no size.
        let found = rows("unit,reading [Pa]\nA,1\n").unwrap();
        assert_eq!(found[0].class, RunClass::NegativeControl);
        let found =
            rows("unit,class,defect,size [um],result,reading [Pa]\nA,positive,hole,5,ok,1\n");
        assert_eq!(found.unwrap()[0].class.size_um(), Some(5.0));
    }
}
