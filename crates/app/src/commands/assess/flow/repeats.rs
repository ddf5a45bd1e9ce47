//! Challenges that are not independent: repeats of one flow on one day, or in
//! one series, share what that day adds.

use intake::result_table::Table;
use study::Note;

use super::Flow;
use crate::commands::assess::repeats;
use crate::fault::Fault;

/// Words of a column name that say on which occasion a challenge was made.
const OCCASION: [&str; 9] =
    ["day", "date", "session", "series", "shift", "rig", "station", "standard", "operator"];

/// A caution where rows of one flow share an occasion or a unit.
pub fn notes(command: &Flow, table: &Table, flows: &[f64]) -> Result<Vec<Note>, Fault> {
    let mut notes = Vec::new();
    let used = [command.flow.as_str(), command.reading.as_str()];
    for (index, column) in table.columns.iter().enumerate() {
        let name = column.to_lowercase();
        let names_occasion = name.split(['_', ' ', '-', '.']).any(|part| OCCASION.contains(&part));
        if !names_occasion || used.contains(&column.as_str()) {
            continue;
        }
        let mut pairs: Vec<(u64, &str)> = flows
            .iter()
            .zip(&table.rows)
            .map(|(flow, row)| (flow.to_bits(), row[index].trim()))
            .filter(|(_, cell)| !cell.is_empty())
            .collect();
        let rows = pairs.len();
        let mut cells: Vec<&str> = pairs.iter().map(|(_, cell)| *cell).collect();
        cells.sort_unstable();
        cells.dedup();
        pairs.sort_unstable();
        pairs.dedup();
        // One occasion for all shows nothing of what others add, whether or not
        // its flows were repeated; several share it within each.
        if pairs.len() < rows || cells.len() == 1 {
            let (text, next) = told(column, rows, pairs.len(), cells.len());
            notes.push(Note::caution("challenges-repeated", text, next));
            break;
        }
    }
    let next = |unit: &str| format!("keep one reading, or the mean, of each flow and `{unit}`");
    repeats::note_repeats(table, &used, next, &mut notes)?;
    Ok(notes)
}

fn told(column: &str, rows: usize, pairs: usize, occasions: usize) -> (String, String) {
    if occasions == 1 {
        return (
            format!(
                "all {rows} challenges stand under one entry of column `{column}`: what another \
                 one adds is not in the scatter, nor in the limits and intervals"
            ),
            "repeat the flows on other occasions".to_owned(),
        );
    }
    (
        format!(
            "{rows} rows hold {pairs} pairs of a flow and an entry of column `{column}`: repeats \
             within one pair share what it adds, and each row was counted as independent, so that \
             limits and intervals are too narrow"
        ),
        format!("keep the mean reading of each flow and `{column}`, and run again"),
    )
}
