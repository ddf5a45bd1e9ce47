//! The first rows of a file, each marked by what it is taken for, and each
//! column by the part it plays: what somebody looks at before agreeing to a
//! reading.

use std::borrow::Cow;

use intake::column_header::{ColumnHeader, ColumnUnit};
use intake::delimited::{DelimitedText, decode, read_delimited, split_fields};
use intake::parquet_file::read_parquet;
use intake::reading_plan::{ReadingPlan, TimePlan};
use intake::trace_file::propose_reading;
use intake::workbook::read_workbook;

use super::read::{is_table_of_results, is_workbook};
use crate::commands::examine::reading::pressure_unit;

/// Bytes of a text from which its reading is proposed.
const HEAD: usize = 1 << 16;
/// Rows of data that are shown, and lines before them.
const ROWS: usize = 6;
/// Columns that are shown, and characters of a cell.
const COLUMNS: usize = 40;
const CELL: usize = 60;
/// Sheets that are shown.
const SHEETS: usize = 12;

/// What a column is read as.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Role {
    /// Elapsed time, in the unit.
    Time,
    /// Clock time, in the order of its dates.
    Clock,
    /// Chamber pressure.
    Pressure,
    /// Temperature.
    Temperature,
    /// A column of a table of results.
    Result,
    /// Nothing is taken from it.
    NotRead,
}

impl Role {
    /// The word that is printed and sent.
    pub const fn word(self) -> &'static str {
        match self {
            Self::Time => "elapsed time",
            Self::Clock => "clock time",
            Self::Pressure => "chamber pressure",
            Self::Temperature => "temperature",
            Self::Result => "table of results",
            Self::NotRead => "not read",
        }
    }
}

/// A column with its role and its unit, as the options write them.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Column {
    /// Its name.
    pub name: String,
    /// What it is read as.
    pub role: Role,
    /// Its unit, or the order of its dates; empty where there is none.
    pub unit: String,
}

/// A line of the file and what it is taken for.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Row {
    /// Its number, from 1.
    pub line: u64,
    /// `before the table`, `names`, `units`, `values`, or `not told`.
    pub role: &'static str,
    /// Its cells, or the whole line where it belongs to no table.
    pub cells: Vec<String>,
}

/// The beginning of a file, or of one of its sheets.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Preview {
    /// Name of the sheet; empty for a whole file.
    pub sheet: String,
    /// How it is written, as name and value.
    pub dialect: Vec<(&'static str, String)>,
    /// Its columns; empty where no table was found.
    pub columns: Vec<Column>,
    /// Its first lines.
    pub rows: Vec<Row>,
}

/// The beginning of every part of a file as it is read by a plan. What cannot
/// be told stays open: the reading itself says why.
pub fn previews(bytes: &[u8], plan: &ReadingPlan) -> Vec<Preview> {
    if bytes.starts_with(b"PAR1") {
        let table = read_parquet(bytes);
        return table.iter().map(|table| preview("", table.text.as_bytes(), plan)).collect();
    }
    if is_workbook(bytes) {
        let sheets = read_workbook(bytes).unwrap_or_default();
        let shown = sheets.iter().take(SHEETS);
        return shown.map(|sheet| preview(&sheet.name, sheet.text.as_bytes(), plan)).collect();
    }
    vec![preview("", bytes, plan)]
}

fn preview(sheet: &str, bytes: &[u8], plan: &ReadingPlan) -> Preview {
    let head = head_of(bytes);
    let mut found = Preview {
        sheet: sheet.to_owned(),
        dialect: Vec::new(),
        columns: Vec::new(),
        rows: Vec::new(),
    };
    let Ok(decoded) = decode(head, plan.encoding) else {
        found.rows = lines(&String::from_utf8_lossy(head));
        return found;
    };
    found.dialect.push(("Encoding", decoded.encoding.word().to_owned()));
    let Ok(text) = read_delimited(&decoded.text, &plan.given()) else {
        found.rows = lines(&decoded.text);
        return found;
    };
    found.dialect.push(("Between the cells", text.separator.word().to_owned()));
    found.dialect.push(("Decimal mark", text.style.decimal.word().to_owned()));
    let is_results = is_table_of_results(head, plan);
    let agreed = match is_results {
        true => None,
        false => propose_reading(head, plan).ok().map(|(agreed, _)| agreed),
    };
    if let Some(time) = agreed.as_ref().and_then(|agreed| agreed.time.as_ref()) {
        found.dialect.push(("Times", times(time)));
    }
    found.columns = columns(&text, is_results, agreed.as_ref().unwrap_or(plan));
    found.rows = rows(&text);
    found
}

/// A piece of whole lines; where the bytes are in pairs, of whole pairs.
fn head_of(bytes: &[u8]) -> &[u8] {
    if bytes.len() <= HEAD {
        return bytes;
    }
    let feed = bytes[..HEAD].iter().rposition(|&byte| byte == b'\n').unwrap_or(HEAD - 1);
    &bytes[..(feed + 2) / 2 * 2]
}

fn times(time: &TimePlan) -> String {
    match time {
        TimePlan::Elapsed { column, unit } => format!("{column}, in {}", unit.name),
        TimePlan::Clock { column, order: Some(order) } => format!("{column}, {}", order.word()),
        TimePlan::Clock { column, order: None } => format!("{column}, a clock"),
        TimePlan::Rate { samples_per_s } => format!("{samples_per_s} samples per second"),
        TimePlan::FramingLines => "from the lines before and after the data".to_owned(),
    }
}

fn columns(text: &DelimitedText<'_>, is_results: bool, plan: &ReadingPlan) -> Vec<Column> {
    let of = |(index, name): (usize, &String)| {
        let (role, unit) = if is_results {
            (Role::Result, String::new())
        } else {
            let units = text.units_row.as_ref().and_then(|units| units.get(index));
            role_of(name, units.map(String::as_str), plan)
        };
        Column { name: name.clone(), role, unit }
    };
    text.names.iter().enumerate().take(COLUMNS).map(of).collect()
}

/// What the plan makes of a column; where it makes nothing of it, the unit that
/// its header states.
fn role_of(name: &str, units: Option<&str>, plan: &ReadingPlan) -> (Role, String) {
    if let Some(one) = plan.pressures.iter().find(|one| one.column == name) {
        return (Role::Pressure, pressure_unit(one));
    }
    if let Some(one) = plan.temperatures.iter().find(|one| one.column == name) {
        return (Role::Temperature, one.unit.word().to_owned());
    }
    match &plan.time {
        Some(TimePlan::Elapsed { column, unit }) if column == name => {
            return (Role::Time, unit.name.to_owned());
        }
        Some(TimePlan::Clock { column, order }) if column == name => {
            let order = order.map(|order| order.word().to_owned());
            return (Role::Clock, order.unwrap_or_default());
        }
        _ => {}
    }
    let unit = match ColumnHeader::of(name, units).unit {
        ColumnUnit::Pressure { unit, gauge, .. } => {
            format!("{}{}", unit.name, if gauge { " gauge" } else { "" })
        }
        ColumnUnit::Time(unit) => unit.name.to_owned(),
        _ => String::new(),
    };
    (Role::NotRead, unit)
}

fn rows(text: &DelimitedText<'_>) -> Vec<Row> {
    let mut rows = Vec::new();
    let whole = |line, role, text: &str| Row { line, role, cells: vec![short(text)] };
    let before = text.preamble.len().saturating_sub(ROWS);
    for record in &text.preamble[before..] {
        rows.push(whole(record.line, "before the table", record.text));
    }
    if let Some(line) = text.header_line {
        let cells = text.names.iter().take(COLUMNS).map(|name| short(name)).collect();
        rows.push(Row { line, role: "names", cells });
        if let Some(units) = &text.units_row {
            let cells = units.iter().take(COLUMNS).map(|unit| short(unit)).collect();
            rows.push(Row { line: line + 1, role: "units", cells });
        }
    }
    let mut cells: Vec<Cow<'_, str>> = Vec::new();
    for record in text.rows().flatten().filter(|record| !record.is_blank()).take(ROWS) {
        split_fields(record.text, text.separator, &mut cells);
        let cells = cells.iter().take(COLUMNS).map(|cell| short(cell)).collect();
        rows.push(Row { line: record.line, role: "values", cells });
    }
    rows
}

fn lines(text: &str) -> Vec<Row> {
    let line = |(line, text): (u64, &str)| Row { line, role: "not told", cells: vec![short(text)] };
    (1..).zip(text.lines().take(ROWS)).map(line).collect()
}

fn short(cell: &str) -> String {
    match cell.char_indices().nth(CELL) {
        Some((end, _)) => format!("{}…", &cell[..end]),
        None => cell.to_owned(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn rows_and_columns_carry_their_roles() {
        let text =
            b"logger 7\ntime_s;p [mbar];CH3;T [\xc2\xb0C]\n0;1013,25;7;20,1\n1;990,5;7;20,1\n";
        let found = &previews(text, &ReadingPlan::default())[0];
        let of: Vec<(&str, Role, &str)> =
            found.columns.iter().map(|c| (c.name.as_str(), c.role, c.unit.as_str())).collect();
        assert_eq!(
            of,
            [
                ("time_s", Role::Time, "s"),
                ("p [mbar]", Role::Pressure, "mbar"),
                ("CH3", Role::NotRead, ""),
                ("T [°C]", Role::Temperature, "C"),
            ]
        );
        let roles: Vec<(u64, &str)> = found.rows.iter().map(|row| (row.line, row.role)).collect();
        assert_eq!(roles, [(1, "before the table"), (2, "names"), (3, "values"), (4, "values")]);
        assert!(found.dialect.contains(&("Between the cells", "semicolon".to_owned())));
        assert!(found.dialect.contains(&("Decimal mark", "comma".to_owned())));
        assert!(found.dialect.contains(&("Times", "time_s, in s".to_owned())));
    }

    #[test]
    fn what_no_table_is_is_shown_line_by_line() {
        let found = &previews(b"nothing here\nto read\n", &ReadingPlan::default())[0];
        assert!(found.columns.is_empty() || found.columns.iter().all(|c| c.role == Role::NotRead));
        assert!(!found.rows.is_empty());
        assert!(previews(b"\x00\x01\x02\xff", &ReadingPlan::default())[0].columns.is_empty());
    }

    #[test]
    fn a_table_of_results_is_no_trace() {
        let text = b"unit,class,size_um,reading_pa\nN1,negative,,3.1\nP1,positive,5,9.9\n";
        let found = &previews(text, &ReadingPlan::default())[0];
        assert!(found.columns.iter().all(|column| column.role == Role::Result), "{found:?}");
    }
}
