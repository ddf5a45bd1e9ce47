//! Tables that the user names: reading, choosing rows, and finding the
//! columns of a printed summary.

use std::cell::RefCell;
use std::path::Path;

use intake::delimited::{DecimalMark, Given, NumberStyle};
use intake::message::Severity;
use intake::result_table::{Table, read_table};
use study::Note;
use study::summary_table::SummaryRow;

use crate::commands::{examine, files};
use crate::fault::Fault;

/// Which rows of a table count.
#[derive(clap::Args)]
pub struct KeptRows {
    /// Keep only rows with this value in this column; may be given again.
    #[arg(long = "where", value_name = "COLUMN=VALUE", requires = "table")]
    conditions: Vec<String>,
    /// Decimal mark of the numbers, where the table itself does not tell it from thousands.
    #[arg(long, value_name = "point|comma", value_parser = decimal_mark, requires = "table")]
    decimal_mark: Option<DecimalMark>,
    /// What the reader warned of, for the notes of the answer.
    #[arg(skip)]
    noticed: RefCell<Vec<Note>>,
}

fn decimal_mark(word: &str) -> Result<DecimalMark, String> {
    DecimalMark::from_word(word).ok_or_else(|| "write point or comma".to_owned())
}

impl KeptRows {
    /// Reads a table and keeps these rows.
    pub fn of(&self, path: &Path) -> Result<Table, Fault> {
        let style = self.decimal_mark.map(|decimal| NumberStyle { decimal, thousands: None });
        let table = read(path, &self.conditions, &Given { style, ..Given::default() })?;
        let warned = table.messages.iter().filter(|message| message.severity == Severity::Warning);
        self.noticed.borrow_mut().extend(warned.map(|message| examine::note(path, message)));
        Ok(table)
    }

    /// What the reader of the table warned of.
    pub fn noticed(&self) -> Vec<Note> {
        self.noticed.borrow().clone()
    }
}

/// Turns refusals of the reader into a fault that names the file.
pub fn refused(path: &Path, refusal: &intake::Refusal) -> Fault {
    Fault::users(
        format!("`{}` cannot be used", path.display()),
        "mend what is named, or name another column or file",
    )
    .with_details(refusal.messages().iter().map(ToString::to_string).collect())
}

/// Reads a table and keeps the rows that every `COLUMN=VALUE` asks for.
fn read(path: &Path, conditions: &[String], given: &Given) -> Result<Table, Fault> {
    let bytes = files::read_bytes(path)?;
    let mut table = read_table(&bytes, given).map_err(|refusal| {
        let mut fault = refused(path, &refusal);
        if refusal.code() == intake::codes::THOUSANDS_MARK && given.style.is_none() {
            fault.hint =
                "say which it is: --decimal-mark point, or --decimal-mark comma".to_owned();
        }
        fault
    })?;
    for condition in conditions {
        let Some((column, value)) = condition.split_once('=') else {
            return Err(Fault::users(
                format!("`{condition}` is not a condition"),
                "write --where COLUMN=VALUE",
            ));
        };
        let value = value.trim().trim_matches('"');
        let index = table.column(column.trim()).map_err(|refusal| refused(path, &refusal))?;
        let keep: Vec<bool> = table.rows.iter().map(|row| row[index].trim() == value).collect();
        if !keep.contains(&true) {
            let mut known: Vec<&str> = table.rows.iter().map(|row| row[index].as_str()).collect();
            known.sort_unstable();
            known.dedup();
            known.truncate(8);
            return Err(Fault::users(
                format!("no row of `{}` has {column} = {value}", path.display()),
                format!("the column holds: {}", known.join(", ")),
            ));
        }
        let mut kept = keep.iter();
        table.rows.retain(|_| kept.next().copied().unwrap_or(false));
        let mut kept = keep.iter();
        table.lines.retain(|_| kept.next().copied().unwrap_or(false));
    }
    Ok(table)
}

/// Numbers of a column, with the fault naming file, line and column.
pub fn numbers(path: &Path, table: &Table, column: &str) -> Result<Vec<f64>, Fault> {
    let values = table.numbers(column).map_err(|refusal| refused(path, &refusal))?;
    for (row, value) in values.iter().enumerate() {
        in_range(path, table, row, column, *value)?;
    }
    if statistics::only_rounding(&values) {
        return Err(Fault::users(
            format!(
                "cannot be said, because the values of column `{column}` (`{}`) differ in the last \
                 digits that a computer keeps only: that is rounding, no scatter",
                path.display()
            ),
            "round the column to the digits that were read, and see whether it still varies",
        ));
    }
    Ok(values)
}

/// Numbers of a column whose cells may be empty.
pub fn optional_numbers(
    path: &Path,
    table: &Table,
    column: &str,
) -> Result<Vec<Option<f64>>, Fault> {
    let values = table.optional_numbers(column).map_err(|refusal| refused(path, &refusal))?;
    for (row, value) in values.iter().enumerate() {
        in_range(path, table, row, column, value.unwrap_or(0.0))?;
    }
    Ok(values)
}

/// Refuses a number whose square, or a sum of squares, double arithmetic cannot
/// hold: no scatter can be worked out beside it.
fn in_range(path: &Path, table: &Table, row: usize, column: &str, value: f64) -> Result<(), Fault> {
    if statistics::in_range(value) {
        return Ok(());
    }
    Err(Fault::users(
        format!(
            "cannot be said, because {value:e} (`{}`, line {}, column `{column}`) lies outside the \
             range in which scatter can be worked out: zero, or a size between {:e} and {:e}",
            path.display(),
            table.lines[row],
            statistics::SMALLEST,
            statistics::LARGEST
        ),
        "look for a slip of the exponent, or write the column in a unit that brings it near 1",
    ))
}

/// Words of a column.
pub fn words<'a>(path: &Path, table: &'a Table, column: &str) -> Result<Vec<&'a str>, Fault> {
    table.words(column).map_err(|refusal| refused(path, &refusal))
}

/// Rows of a printed summary: group, mean, standard deviation and number,
/// with the population where the table has one more column of words.
pub fn summary_rows(path: &Path, table: &Table) -> Result<Vec<SummaryRow>, Fault> {
    let find = |starts: &[&str]| {
        table.columns.iter().position(|column| {
            let name = column.trim().to_lowercase();
            starts.iter().any(|start| {
                name == *start
                    || name.starts_with(&format!("{start}_"))
                    || name.starts_with(&format!("{start} "))
            })
        })
    };
    let missing = |what: &str, names: &str| {
        Fault::users(
            format!("`{}` has no column for the {what}", path.display()),
            format!(
                "a printed summary needs a column named {names}; it has: {}",
                table.columns.join(", ")
            ),
        )
    };
    let mean = find(&["mean", "average"]).ok_or_else(|| missing("mean", "mean"))?;
    let sd = find(&["sd", "s", "stdev", "standard"])
        .ok_or_else(|| missing("standard deviation", "sd"))?;
    let n = find(&["n", "number", "count"]).ok_or_else(|| missing("number", "n"))?;
    let group = find(&["group", "site", "laboratory", "lab", "lot", "day", "rig"])
        .or_else(|| (0..table.columns.len()).find(|index| ![mean, sd, n].contains(index)))
        .ok_or_else(|| missing("group", "group"))?;
    let population = (0..table.columns.len()).find(|index| ![mean, sd, n, group].contains(index));
    let means = numbers(path, table, &table.columns[mean])?;
    let sds = numbers(path, table, &table.columns[sd])?;
    let ns = numbers(path, table, &table.columns[n])?;
    let group_name = &table.columns[group];
    table
        .rows
        .iter()
        .enumerate()
        .map(|(index, row)| {
            let count = ns[index];
            if count < 1.0 || count.fract() != 0.0 || count > 1e9 {
                return Err(Fault::users(
                    format!(
                        "`{}`, line {}: the number is {count}, not a whole number from 1 up",
                        path.display(),
                        table.lines[index]
                    ),
                    "write how many values stand behind the mean",
                ));
            }
            let name = row[group].trim();
            // A bare number says little in a sentence: 'site 1' reads better.
            let label = if name.parse::<f64>().is_ok() {
                format!("{group_name} {name}")
            } else {
                name.to_owned()
            };
            Ok(SummaryRow {
                line: table.lines[index],
                group: label,
                population: population.map_or_else(String::new, |at| row[at].trim().to_owned()),
                mean: means[index],
                standard_deviation: sds[index],
                n: count as usize,
            })
        })
        .collect()
}

/// Populations in the order of the table.
pub fn populations(rows: &[SummaryRow]) -> Vec<String> {
    let mut names: Vec<String> = Vec::new();
    for row in rows {
        if !names.contains(&row.population) {
            names.push(row.population.clone());
        }
    }
    names
}

/// Values by the name beside them, names in the order of the table.
pub fn grouped<T: Copy>(names: &[&str], values: &[T]) -> Vec<(String, Vec<T>)> {
    let mut groups: Vec<(String, Vec<T>)> = Vec::new();
    let mut places: std::collections::HashMap<&str, usize> = std::collections::HashMap::new();
    for (name, value) in names.iter().zip(values) {
        let place = *places.entry(name).or_insert_with(|| {
            groups.push(((*name).to_owned(), Vec::new()));
            groups.len() - 1
        });
        groups[place].1.push(*value);
    }
    groups
}

/// Whole numbers of a column.
pub fn counts(path: &Path, table: &Table, column: &str) -> Result<Vec<u64>, Fault> {
    numbers(path, table, column)?
        .into_iter()
        .zip(&table.lines)
        .map(|(value, line)| {
            if value >= 0.0 && value.fract() == 0.0 && value < 1e12 {
                Ok(value as u64)
            } else {
                Err(Fault::users(
                    format!(
                        "`{}`, line {line}, column `{column}`: {value} is not a whole number",
                        path.display()
                    ),
                    "write how many there were",
                ))
            }
        })
        .collect()
}
