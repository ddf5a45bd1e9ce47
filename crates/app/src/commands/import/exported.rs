//! Runs that `isobar export` wrote: a workbook of three sheets, or a folder of
//! three tables, as CSV or Parquet.

use std::path::Path;

use intake::Refusal;
use intake::codes;
use intake::delimited::{Given, NumberStyle, Separator};
use intake::message::Message;
use intake::parquet_file::read_parquet;
use intake::result_table::{Table, read_table};
use intake::run_table::runs_from_tables;
use intake::workbook::Sheet;
use study::Run;

use super::read::{Beside, Content};

/// A column that only the table of runs has.
const MARK: &str = "origin_sha256";

/// The runs of a workbook, if it is an export.
pub fn of_sheets(sheets: &[Sheet]) -> Result<Option<Vec<Run>>, Refusal> {
    let table = |name: &str| {
        let sheet = sheets.iter().find(|sheet| sheet.name == name)?;
        read_rows(&sheet.text, Separator::Tab)
    };
    let Some(runs) = table("runs").transpose()?.filter(is_of_runs) else { return Ok(None) };
    let (samples, stages) = (table("samples").transpose()?, table("stages").transpose()?);
    let runs = runs_from_tables(&runs, samples.as_ref(), stages.as_ref())?;
    whole(&runs)?;
    Ok(Some(runs))
}

/// Refuses runs that were read from samples and come without them: the traces
/// would be lost in silence.
fn whole(runs: &[Run]) -> Result<(), Refusal> {
    let without: Vec<u32> = runs
        .iter()
        .filter(|run| {
            let n = run.features.as_ref().map_or(0, |features| features.n_samples);
            n > run.trace.n_samples()
        })
        .map(|run| run.number)
        .collect();
    let Some(first) = without.first() else { return Ok(()) };
    Err(Message::refused(
        codes::TABLE_NO_COLUMN,
        format!("The samples of {} runs are not there, the first of run {first}", without.len()),
    )
    .done("Nothing was read.")
    .next("Put the tables of samples and stages of the same export beside the table of runs.")
    .into())
}

/// What a table of an export holds: the runs, with the tables beside it, or
/// nothing of its own. `None` for any other file.
pub fn beside(path: &Path, bytes: &[u8], file: Beside<'_>) -> Result<Option<Content>, Refusal> {
    let stem = path.file_stem().map(|stem| stem.to_string_lossy().into_owned()).unwrap_or_default();
    match stem.as_str() {
        "runs" => {
            let Some(runs) = table_of(bytes).transpose()?.filter(is_of_runs) else {
                return Ok(None);
            };
            // One that cannot be read is no table that is not there.
            let sibling = |name: &str| {
                bytes_beside(path, name, file).and_then(|bytes| table_of(&bytes)).transpose()
            };
            let (samples, stages) = (sibling("samples")?, sibling("stages")?);
            let runs = runs_from_tables(&runs, samples.as_ref(), stages.as_ref())?;
            whole(&runs)?;
            Ok(Some(Content::Runs(runs)))
        }
        "samples" | "stages" => {
            let runs = bytes_beside(path, "runs", file).and_then(|bytes| table_of(&bytes));
            let is_export = matches!(runs, Some(Ok(table)) if is_of_runs(&table));
            Ok(is_export.then_some(Content::WithRuns))
        }
        _ => Ok(None),
    }
}

fn bytes_beside(path: &Path, name: &str, file: Beside<'_>) -> Option<Vec<u8>> {
    let ending = path.extension()?.to_string_lossy().into_owned();
    file(&path.with_file_name(format!("{name}.{ending}")))
}

fn is_of_runs(table: &Table) -> bool {
    table.columns.iter().any(|column| column == MARK)
}

/// The table of a CSV or Parquet file; `None` where it has no rows.
fn table_of(bytes: &[u8]) -> Option<Result<Table, Refusal>> {
    if bytes.starts_with(b"PAR1") {
        return match read_parquet(bytes) {
            Ok(table) => read_rows(&table.text, Separator::Tab),
            Err(refusal) => Some(Err(refusal)),
        };
    }
    read_rows(core::str::from_utf8(bytes).ok()?, Separator::Comma)
}

fn read_rows(text: &str, separator: Separator) -> Option<Result<Table, Refusal>> {
    text.lines().nth(1)?;
    let given = Given {
        separator: Some(separator),
        style: Some(NumberStyle::default()),
        ..Given::default()
    };
    Some(read_table(text.as_bytes(), &given))
}
