//! The columns of a study: readings, and what they are grouped by.

use intake::result_table::Table;

use super::Precision;
use crate::commands::assess::tables;
use crate::fault::Fault;

/// Readings of the command, none of them a code for a run ended by a limit.
pub fn readings(command: &Precision, table: &Table) -> Result<Vec<f64>, Fault> {
    let Some(column) = &command.reading else {
        return Err(Fault::users(
            "the column with the readings was not named",
            format!("add --reading; the table has: {}", table.columns.join(", ")),
        ));
    };
    let values = tables::numbers(&command.table, table, column)?;
    let coded = |value: &f64| command.abort_code.is_some_and(|code| code == *value);
    if let Some(row) = values.iter().position(coded) {
        return Err(Fault::users(
            format!(
                "`{}`, line {}, column `{column}`: {} is the code for a run ended by a limit, and \
                 has no value",
                command.table.display(),
                table.lines[row],
                values[row]
            ),
            "leave the part out (--where), or use a smaller leak that reads",
        ));
    }
    Ok(values)
}

/// A column of names.
pub fn names<'a>(
    command: &Precision,
    table: &'a Table,
    column: Option<&String>,
) -> Result<Vec<&'a str>, Fault> {
    let column = column.ok_or_else(|| {
        Fault::users(
            "a column of groups was not named",
            format!("the table has: {}", table.columns.join(", ")),
        )
    })?;
    tables::words(&command.table, table, column)
}

/// Different names in the order of the table.
pub fn different(names: &[&str]) -> Vec<String> {
    let mut known: Vec<String> = Vec::new();
    for name in names {
        if !known.iter().any(|other| other == name) {
            known.push((*name).to_owned());
        }
    }
    known
}
