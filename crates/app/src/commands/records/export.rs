//! `isobar export`: a case as a sealed archive that needs no program to be
//! read: a BagIt bag (RFC 8493) with PDF, CSV, JSON, audit trail, proofs and
//! checkpoint.

use std::collections::BTreeMap;
use std::path::{Path, PathBuf};

use benchbook::Benchbook;
use clap::{Args, ValueEnum};
use serde_json::json;

use super::super::{files, serve};
use super::export_tables::{self, TableFormat};
use super::keys;
use crate::answer::Answer;
use crate::digest::sha256;
use crate::fault::Fault;
use crate::paper;

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

/// What the archive says to whoever opens it.
const READ_ME: &str = "\
Archive of one case of an Isobar benchbook: a BagIt bag (RFC 8493).

Check the files:          sha256sum -c manifest-sha256.txt
data/report.pdf           the study report (PDF/A)
data/records/*.json       every version of every record, exactly as stored
data/runs/*.json, *.csv   every run: its record as stored, and its samples
data/entries/*.json       signatures, reviews, open items, records of units, attachments
data/attachments/*        attached files, named by their SHA-256
data/audit-trail.jsonl    the exact text of every event of the case, one a line
data/proofs/N.tlog-proof  proof that event N stands in the log (C2SP tlog-proof)
data/checkpoint.txt       head of the log: origin, size, root, and signatures where the key was here

The leaf of an event is SHA-256(0x00 || its text); the tree is that of RFC 6962. `new_sha256` in an
event is the SHA-256 of the record that it wrote.
";

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
    let payload = serve::runtime()?.block_on(payload(command))?;
    // Built under another name, so that a folder of this name is whole.
    let name = command.output.file_name().unwrap_or_default().to_string_lossy();
    let building = command.output.with_file_name(format!(".{name}.{}.part", std::process::id()));
    let written = write_bag(&building, &payload).and_then(|digest| {
        std::fs::rename(&building, &command.output)
            .map_err(|error| Fault::cannot_write(&command.output, &error))?;
        Ok(digest)
    });
    if written.is_err() {
        // Nothing half-written stays behind.
        let _ = std::fs::remove_dir_all(&building);
    }
    let digest = written?;
    let folder = command.output.display().to_string();
    let bytes: usize = payload.values().map(Vec::len).sum();
    let text = format!(
        "{folder}\n{} files, {bytes} bytes\nSHA-256 of its manifest {digest}\n",
        payload.len()
    );
    let json = json!({
        "folder": folder,
        "files": payload.len(),
        "bytes": bytes,
        "manifest_sha256": digest,
    });
    Ok(Answer::new(text, json, Vec::new()))
}

/// Names and bytes of the payload.
async fn payload(command: &Export) -> Result<BTreeMap<String, Vec<u8>>, Fault> {
    let book = Benchbook::open_read_only(&command.benchbook).await?;
    let case = book.case(&command.case).await?;
    let edition = paper::edition(&book, &command.case).await?;
    let texts = book.case_texts(&command.case).await?;
    let mut payload = BTreeMap::new();
    payload.insert("data/report.pdf".to_owned(), paper::pdf_of(&case, &edition)?);
    for (name, text) in &texts.records {
        payload.insert(format!("data/records/{name}.json"), text.clone().into_bytes());
    }
    for (number, text) in &texts.runs {
        payload.insert(format!("data/runs/{number:05}.json"), text.clone().into_bytes());
    }
    for run in case.runs.iter().filter(|run| !run.trace.times_s.is_empty()) {
        let csv = intake::written_table::write_trace(&run.trace);
        payload.insert(format!("data/runs/{:05}.csv", run.number), csv.into_bytes());
    }
    for (name, text) in &texts.entries {
        payload.insert(format!("data/entries/{name}.json"), text.clone().into_bytes());
    }
    for attached in book.attachments(&command.case).await? {
        let hash = &attached.file_sha256;
        if let Some(bytes) = book.stored_file(hash).await? {
            payload.insert(format!("data/attachments/{hash}"), bytes);
        }
    }
    let mut trail = String::new();
    for (event, proof) in &texts.events {
        trail.push_str(event);
        trail.push('\n');
        let name = format!("data/proofs/{}.tlog-proof", proof.index + 1);
        payload.insert(name, proof.text().into_bytes());
    }
    payload.insert("data/audit-trail.jsonl".to_owned(), trail.into_bytes());
    let checkpoint = match keys::in_force(&book).await? {
        Some(key) => key.sign(&texts.checkpoint).text(),
        None => texts.checkpoint.text(),
    };
    payload.insert("data/checkpoint.txt".to_owned(), checkpoint.into_bytes());
    payload.insert("data/READ-ME.txt".to_owned(), READ_ME.as_bytes().to_vec());
    book.close().await;
    Ok(payload)
}

/// Writes the bag and gives the SHA-256 of its manifest.
fn write_bag(folder: &Path, payload: &BTreeMap<String, Vec<u8>>) -> Result<String, Fault> {
    let write = |name: &str, bytes: &[u8]| {
        let path = folder.join(name);
        if let Some(parent) = path.parent() {
            std::fs::create_dir_all(parent).map_err(|error| Fault::cannot_write(&path, &error))?;
        }
        files::write_whole(&path, bytes)
    };
    let mut manifest = String::new();
    let mut bytes = 0;
    for (name, content) in payload {
        write(name, content)?;
        manifest.push_str(&format!("{}  {name}\n", sha256(content)));
        bytes += content.len();
    }
    let tags = [
        ("bagit.txt", "BagIt-Version: 1.0\nTag-File-Character-Encoding: UTF-8\n".to_owned()),
        (
            "bag-info.txt",
            format!(
                "Bag-Software-Agent: isobar {}\nPayload-Oxum: {bytes}.{}\n",
                env!("CARGO_PKG_VERSION"),
                payload.len()
            ),
        ),
        ("manifest-sha256.txt", manifest.clone()),
    ];
    let mut of_tags = String::new();
    for (name, text) in &tags {
        write(name, text.as_bytes())?;
        of_tags.push_str(&format!("{}  {name}\n", sha256(text.as_bytes())));
    }
    write("tagmanifest-sha256.txt", of_tags.as_bytes())?;
    Ok(sha256(manifest.as_bytes()))
}
