//! Tables and traces as CSV that every program reads and no spreadsheet runs.
//!
//! A cell that begins like a formula (`=`, `+`, `-`, `@`, a tabulator or a
//! line end) and is no number gets an apostrophe in front (CWE-1236, formula
//! injection); [`read_table`](crate::result_table::read_table) takes it away
//! again, so that a round trip loses nothing.

use study::PressureTrace;

/// Writes a table as CSV: commas, points, LF, UTF-8.
///
/// # Example
/// ```
/// use intake::result_table::read_table;
/// use intake::written_table::write_table;
/// let rows = vec![vec!["=1+1".to_owned(), "-2.5".to_owned()]];
/// let text = write_table(&["unit", "rise_pa"], &rows);
/// assert_eq!(text, "unit,rise_pa\n'=1+1,-2.5\n");
/// let table = read_table(text.as_bytes(), &Default::default())?;
/// assert_eq!(table.words("unit")?, ["=1+1"]);
/// assert_eq!(table.numbers("rise_pa")?, [-2.5]);
/// # Ok::<(), intake::Refusal>(())
/// ```
#[must_use]
pub fn write_table(columns: &[&str], rows: &[Vec<String>]) -> String {
    let mut text = line(columns.iter().copied());
    for row in rows {
        text.push_str(&line(row.iter().map(String::as_str)));
    }
    text
}

/// Writes a trace as CSV that [`read_traces`](crate::trace_file::read_traces)
/// reads back to the last bit: seconds, Pa, and K where there are
/// temperatures. Stages are not written.
///
/// # Example
/// ```
/// use intake::trace_file::read_traces;
/// use intake::written_table::write_trace;
/// use study::PressureTrace;
/// let trace = PressureTrace {
///     times_s: vec![0.0, 0.1, 0.2],
///     pressures_pa: vec![101_325.0, 0.1 + 0.2, 1.0e-3],
///     ..Default::default()
/// };
/// let back = read_traces(write_trace(&trace).as_bytes(), &Default::default())?;
/// assert_eq!(back.traces[0].trace, trace);
/// # Ok::<(), intake::Refusal>(())
/// ```
#[must_use]
pub fn write_trace(trace: &PressureTrace) -> String {
    let warm = trace.temperatures_k.len() == trace.times_s.len() && !trace.times_s.is_empty();
    let mut text = String::from(if warm {
        "time_s,pressure_pa,temperature_k\n"
    } else {
        "time_s,pressure_pa\n"
    });
    for (index, (time, pressure)) in trace.times_s.iter().zip(&trace.pressures_pa).enumerate() {
        text.push_str(&format!("{time},{pressure}"));
        if warm {
            text.push_str(&format!(",{}", trace.temperatures_k[index]));
        }
        text.push('\n');
    }
    text
}

fn line<'a>(cells: impl Iterator<Item = &'a str>) -> String {
    let cells: Vec<&str> = cells.collect();
    // A line of nothing but commas would read as a blank one.
    let all_empty = cells.iter().all(|cell| cell.is_empty());
    let written: Vec<String> = cells
        .iter()
        .map(|cell| if all_empty { "\"\"".to_owned() } else { cell_text(cell) })
        .collect();
    written.join(",") + "\n"
}

/// A cell as it is written: guarded against formulas, quoted where it must be.
pub(crate) fn cell_text(cell: &str) -> String {
    let safe = if is_formula_like(cell.trim_start_matches('\'')) {
        format!("'{cell}")
    } else {
        cell.to_owned()
    };
    let trimmed = safe.trim().len() != safe.len();
    let quoted = trimmed
        || safe.contains([',', '"', '\n', '\r', ';', '\t', '|', '\u{2028}', '\u{2029}', '\u{85}'])
        || safe.starts_with(['#', '\u{feff}'])
        || safe.starts_with("sep=");
    if quoted { format!("\"{}\"", safe.replace('"', "\"\"")) } else { safe }
}

/// True for text that a spreadsheet takes for a formula; numbers are none.
fn is_formula_like(text: &str) -> bool {
    let starts = text.starts_with(['=', '+', '-', '@', '\t', '\r']);
    starts && crate::written_quantity::read_plain_number(text).is_err()
}

/// The text behind the apostrophe that [`write_table`] put there, if it did.
pub(crate) fn without_guard(cell: &str) -> Option<&str> {
    let rest = cell.strip_prefix('\'')?;
    is_formula_like(rest.trim_start_matches('\'')).then_some(rest)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::delimited::{Given, NumberStyle, Separator};
    use crate::result_table::read_table;
    use proptest::prelude::*;

    #[test]
    fn formulas_are_disarmed_and_numbers_are_not() {
        for cell in ["=cmd|' /C calc'!A0", "+1+1", "-2+3", "@SUM(A1)", "\t=1"] {
            assert!(cell_text(cell).trim_start_matches('"').starts_with('\''), "{cell}");
        }
        for cell in ["-2.5", "+1e-3", "12", "a=b", "'quoted"] {
            assert_eq!(cell_text(cell), cell);
        }
    }

    proptest! {
        #![proptest_config(ProptestConfig::with_cases(300))]
        #[test]
        fn a_table_reads_back_as_it_was(
            rows in prop::collection::vec(prop::collection::vec("[a-z=+@'\"#,; .0-9-]{0,10}", 3), 1..8)
        ) {
            let columns = ["one", "two", "three"];
            let given = Given { separator: Some(Separator::Comma), style: Some(NumberStyle::default()), ..Given::default() };
            let table = read_table(write_table(&columns, &rows).as_bytes(), &given);
            let table = table.map_err(|refusal| TestCaseError::fail(refusal.to_string()))?;
            prop_assert_eq!(table.rows, rows);
        }

        #[test]
        fn a_trace_reads_back_to_the_same_bits(
            pressures in prop::collection::vec(0.001..2.0e5_f64, 3..40), warm in any::<bool>()
        ) {
            let n = pressures.len();
            let trace = PressureTrace {
                times_s: (0..n).map(|row| row as f64 * 0.1).collect(),
                temperatures_k: if warm { vec![293.15; n] } else { Vec::new() },
                pressures_pa: pressures,
                ..PressureTrace::default()
            };
            let back = crate::trace_file::read_traces(write_trace(&trace).as_bytes(), &Default::default());
            let back = back.map_err(|refusal| TestCaseError::fail(refusal.to_string()))?;
            prop_assert_eq!(&back.traces[0].trace, &trace);
        }
    }
}
