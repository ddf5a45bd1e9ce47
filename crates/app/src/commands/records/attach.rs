//! `isobar attach`: files that belong to a case, kept byte for byte.

use std::path::PathBuf;

use benchbook::Attachment;
use clap::Args;
use serde_json::{Value, json};

use super::super::{files, serve};
use super::acting::Acting;
use crate::answer::Answer;
use crate::clock;
use crate::fault::Fault;

/// Attach a file to a case, list what is attached, or write one out again.
#[derive(Args)]
#[command(after_help = "Examples:
  isobar attach lab.benchbook --case lyo-2r --file README.md --note \"how it was run\" \\
    --account a.analyst
  isobar attach lab.benchbook --case lyo-2r")]
pub struct Attach {
    /// The benchbook.
    benchbook: PathBuf,
    /// The case.
    #[arg(long)]
    case: String,
    /// File to attach.
    #[arg(long)]
    file: Option<PathBuf>,
    /// What it is.
    #[arg(long, default_value = "")]
    note: String,
    /// SHA-256 of an attached file that is written to --output.
    #[arg(long, requires = "output", conflicts_with = "file")]
    take: Option<String>,
    /// File to write.
    #[arg(short, long)]
    output: Option<PathBuf>,
    #[command(flatten)]
    acting: Acting,
}

/// Runs the command.
pub fn run(command: &Attach) -> Result<Answer, Fault> {
    serve::runtime()?.block_on(async {
        let book = match &command.file {
            Some(path) => {
                let bytes = files::read_bytes(path)?;
                let book = command.acting.open(&command.benchbook).await?;
                let name = path.file_name().unwrap_or_default().to_string_lossy();
                let at = clock::moment();
                book.attach(&command.case, &name, &command.note, &bytes, &at).await?;
                book
            }
            None => benchbook::Benchbook::open_read_only(&command.benchbook).await?,
        };
        if let (Some(hash), Some(output)) = (&command.take, &command.output) {
            let bytes = book.stored_file(hash).await?.ok_or_else(|| {
                Fault::users(
                    format!("no file has SHA-256 {hash}"),
                    "isobar attach BENCHBOOK --case ID lists those that are there",
                )
            })?;
            files::write_whole(output, &bytes)?;
        }
        let attached = book.attachments(&command.case).await?;
        book.close().await;
        let mut text = String::new();
        for one in &attached {
            text.push_str(&format!(
                "{}  {} bytes  {}  {}\n",
                one.file_sha256, one.n_bytes, one.name, one.note
            ));
        }
        if attached.is_empty() {
            text.push_str("none\n");
        }
        Ok(Answer::new(
            text,
            json!({ "case": command.case, "files": as_json(&attached) }),
            Vec::new(),
        ))
    })
}

/// Attached files as JSON, the same for the command line and for the pages.
pub fn as_json(attached: &[Attachment]) -> Value {
    attached
        .iter()
        .map(|one| {
            json!({
                "name": one.name,
                "note": one.note,
                "bytes": one.n_bytes,
                "file_sha256": one.file_sha256,
            })
        })
        .collect()
}
