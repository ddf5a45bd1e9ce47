//! The runs of a case as tables: runs, samples and stages, in CSV, XLSX or
//! Parquet.

use std::path::{Path, PathBuf};

use intake::parquet_file::write_parquet;
use intake::run_table::{Grid, grids_of_runs};
use intake::workbook::write_workbook;
use serde_json::json;
use study::Case;

use super::super::files;
use crate::answer::Answer;
use crate::digest::sha256;
use crate::fault::Fault;

/// Formats of tables.
#[derive(Clone, Copy, PartialEq, Eq)]
pub enum TableFormat {
    /// Comma-separated text, three files in a folder.
    Csv,
    /// A workbook of three sheets.
    Xlsx,
    /// Parquet, three files in a folder.
    Parquet,
}

/// Writes the tables.
pub fn write(case: &Case, format: TableFormat, output: &Path) -> Result<Answer, Fault> {
    let grids = grids_of_runs(&case.runs);
    let outputs: Vec<(PathBuf, Vec<u8>)> = match format {
        TableFormat::Xlsx => vec![(output.to_path_buf(), workbook(case)?)],
        TableFormat::Csv => {
            in_folder(output, "csv", &grids, |grid| Ok(grid.to_csv().into_bytes()))?
        }
        TableFormat::Parquet => in_folder(output, "parquet", &grids, |grid| {
            write_parquet(grid).map_err(|refusal| refused(&refusal))
        })?,
    };
    let mut text = String::new();
    let mut written = Vec::new();
    for (path, bytes) in &outputs {
        files::write_whole(path, bytes)?;
        let digest = sha256(bytes);
        text.push_str(&format!("{}\nSHA-256 {digest}\n", path.display()));
        written.push(json!({
            "file": path.display().to_string(),
            "bytes": bytes.len(),
            "digest": digest,
        }));
    }
    Ok(Answer::new(
        text,
        json!({ "case": case.input.id, "runs": case.runs.len(), "tables": written }),
        Vec::new(),
    ))
}

/// The three tables as sheets of one workbook.
///
/// # Errors
/// Where the runs do not fit into one.
pub fn workbook(case: &Case) -> Result<Vec<u8>, Fault> {
    write_workbook(&grids_of_runs(&case.runs)).map_err(|refusal| refused(&refusal))
}

fn refused(refusal: &intake::Refusal) -> Fault {
    Fault::users(refusal.to_string(), "choose another format")
}

fn in_folder(
    folder: &Path,
    ending: &str,
    grids: &[Grid],
    bytes: impl Fn(&Grid) -> Result<Vec<u8>, Fault>,
) -> Result<Vec<(PathBuf, Vec<u8>)>, Fault> {
    std::fs::create_dir_all(folder).map_err(|error| Fault::cannot_write(folder, &error))?;
    grids
        .iter()
        .map(|grid| Ok((folder.join(format!("{}.{ending}", grid.name)), bytes(grid)?)))
        .collect()
}
