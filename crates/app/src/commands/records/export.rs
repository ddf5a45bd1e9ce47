//! `isobar export`: a case as a sealed archive, or its runs as tables.

use std::path::{Path, PathBuf};

use benchbook::Benchbook;
use clap::{Args, ValueEnum};
use serde_json::json;

use super::super::{files, serve};
use super::bag::Bag;
use super::export_tables::{self, TableFormat};
use crate::answer::Answer;
use crate::fault::Fault;

/// Write a case as a sealed archive (PDF, CSV, JSON, audit trail), or its runs as tables.
#[derive(Args)]
#[command(after_help = "Examples:
  isobar export demo/demo.benchbook --case lyo-2r -o lyo-2r.bag
  isobar export demo/demo.benchbook --case lyo-2r --format xlsx -o lyo-2r.xlsx
  isobar export demo/demo.benchbook --case lyo-2r --format parquet -o tables

Tables are runs, samples and stages: three files in a folder (CSV, Parquet), or three sheets (XLSX).
They keep every digit, no spreadsheet runs their text as a formula, and Parquet carries the units in
its metadata.")]
pub struct Export {
    /// The benchbook.
    benchbook: PathBuf,
    /// The case.
    #[arg(long)]
    case: String,
    /// What to write.
    #[arg(long, value_enum, default_value = "archive")]
    format: Format,
    /// Folder to write, or file (XLSX); it must not exist.
    #[arg(short, long)]
    output: PathBuf,
}

/// What can be written.
#[derive(Clone, Copy, ValueEnum)]
enum Format {
    /// The sealed archive.
    Archive,
    /// Tables as comma-separated text.
    Csv,
    /// Tables as a workbook.
    Xlsx,
    /// Tables as Parquet.
    Parquet,
}

impl Format {
    /// The format of tables; none for the archive.
    const fn tables(self) -> Option<TableFormat> {
        match self {
            Self::Archive => None,
            Self::Csv => Some(TableFormat::Csv),
            Self::Xlsx => Some(TableFormat::Xlsx),
            Self::Parquet => Some(TableFormat::Parquet),
        }
    }
}

/// Runs the command.
pub fn run(command: &Export) -> Result<Answer, Fault> {
    if command.output.exists() {
        return Err(Fault::users(
            format!("`{}` exists already and is not written over", command.output.display()),
            "choose another name",
        ));
    }
    if let Some(format) = command.format.tables() {
        let case = serve::runtime()?.block_on(async {
            let book = Benchbook::open_read_only(&command.benchbook).await?;
            let case = book.case(&command.case).await?;
            book.close().await;
            Ok::<_, Fault>(case)
        })?;
        return export_tables::write(&case, format, &command.output);
    }
    let bag = serve::runtime()?.block_on(async {
        let book = Benchbook::open_read_only(&command.benchbook).await?;
        let bag = Bag::of(&book, &command.case).await?;
        book.close().await;
        Ok::<_, Fault>(bag)
    })?;
    // Built under another name, so that a folder of this name is whole.
    let name = command.output.file_name().unwrap_or_default().to_string_lossy();
    let building = command.output.with_file_name(format!(".{name}.{}.part", std::process::id()));
    let written = write(&building, &bag).and_then(|()| {
        std::fs::rename(&building, &command.output)
            .map_err(|error| Fault::cannot_write(&command.output, &error))
    });
    if written.is_err() {
        // Nothing half-written stays behind.
        let _ = std::fs::remove_dir_all(&building);
    }
    written?;
    let folder = command.output.display().to_string();
    let text = format!(
        "{folder}\n{} files, {} bytes\nSHA-256 of its manifest {}\n",
        bag.n_payload, bag.payload_bytes, bag.manifest_sha256
    );
    let json = json!({
        "folder": folder,
        "files": bag.n_payload,
        "bytes": bag.payload_bytes,
        "manifest_sha256": bag.manifest_sha256,
    });
    Ok(Answer::new(text, json, Vec::new()))
}

/// Writes the bag as a folder.
fn write(folder: &Path, bag: &Bag) -> Result<(), Fault> {
    for (name, content) in &bag.files {
        let path = folder.join(name);
        if let Some(parent) = path.parent() {
            std::fs::create_dir_all(parent).map_err(|error| Fault::cannot_write(&path, &error))?;
        }
        files::write_whole(&path, content)?;
    }
    Ok(())
}
