//! Rows of one unit: repeated results of a unit are not independent, and a
//! column of units of measure must hold one unit only.

use intake::result_table::Table;
use study::Note;

use crate::fault::Fault;

/// Words of a column name that say which container a row belongs to.
const CONTAINER: [&str; 7] =
    ["unit", "specimen", "sample", "vial", "container", "serial", "control"];

/// Spellings of units that a column `unit` may hold instead of names.
const MEASURES: [&str; 16] = [
    "pa", "hpa", "kpa", "mbar", "bar", "atm", "torr", "mtorr", "mmhg", "psi", "um", "µm", "μm",
    "mm", "pa/s", "mbar/s",
];

/// A caution where rows counted as units share the name of a unit; `used` are
/// columns that the command took account of.
///
/// # Errors
/// A column of units of measure that holds more than one.
pub fn note_repeats(
    table: &Table,
    used: &[&str],
    next: impl FnOnce(&str) -> String,
    notes: &mut Vec<Note>,
) -> Result<(), Fault> {
    let mut next = Some(next);
    for (index, column) in table.columns.iter().enumerate() {
        let name = column.to_lowercase();
        let names_container = name
            .split(['_', ' ', '-', '.'])
            .any(|part| CONTAINER.contains(&part) || part == "units");
        if !names_container || used.contains(&column.as_str()) {
            continue;
        }
        let mut cells: Vec<&str> = table
            .rows
            .iter()
            .map(|row| row[index].trim())
            .filter(|cell| !cell.is_empty())
            .collect();
        let rows = cells.len();
        cells.sort_unstable();
        cells.dedup();
        if cells.iter().all(|cell| MEASURES.contains(&cell.to_lowercase().as_str())) {
            if cells.len() > 1 {
                return Err(Fault::users(
                    format!("column `{column}` says that the units differ: {}", cells.join(", ")),
                    format!(
                        "convert all rows to one unit, or keep one with --where \"{column}={}\"",
                        cells[0]
                    ),
                ));
            }
            continue;
        }
        // A column of classes (`control`: positive, negative) names few things
        // in many rows; a column of names has a digit somewhere.
        let has_digit = cells.iter().any(|cell| cell.contains(|c: char| c.is_ascii_digit()));
        if cells.len() < rows
            && has_digit
            && let Some(next) = next.take()
        {
            notes.push(Note::caution(
                "units-repeated",
                format!(
                    "column `{column}` names {} units in {rows} rows: results of one unit are \
                     alike, and each row was counted as a unit of its own, so that the stated \
                     confidence is too high",
                    cells.len()
                ),
                next(column),
            ));
        }
    }
    Ok(())
}
