//! Standard uncertainties as a person writes them: a number, a share, or the
//! name of a column.

use intake::result_table::Table;

use super::Flow;
use crate::commands::assess::tables;
use crate::fault::Fault;

/// One standard uncertainty for each value.
pub fn read(
    command: &Flow,
    table: &Table,
    written: &str,
    values: &[f64],
) -> Result<Vec<f64>, Fault> {
    let written = written.trim();
    let found = if let Some(share) = written.strip_suffix('%') {
        let share: f64 = share.trim().parse().map_err(|_| {
            Fault::users(
                format!("`{written}` is not a share"),
                "write it like 5%, or give a number or the name of a column",
            )
        })?;
        values.iter().map(|value| value.abs() * share / 100.0).collect()
    } else if let Ok(number) = written.parse::<f64>() {
        vec![number; values.len()]
    } else {
        tables::numbers(&command.table, table, written)?
    };
    match found.iter().position(|u| !(*u > 0.0 && u.is_finite())) {
        None => Ok(found),
        Some(row) => Err(Fault::users(
            format!(
                "`{}`, line {}: the standard uncertainty `{written}` is {}, and a weight needs one \
                 above zero",
                command.table.display(),
                table.lines[row],
                found[row]
            ),
            "give a number above zero, or a column in which every cell is; a share of a zero flow \
             is zero",
        )),
    }
}
