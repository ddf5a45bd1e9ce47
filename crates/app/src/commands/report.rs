//! `isobar report`: a document of a case as PDF.

use std::path::PathBuf;

use ::report::Edition;
use benchbook::Benchbook;
use clap::{Args, ValueEnum};
use serde_json::json;
use sha2::{Digest, Sha256};
use study::Case;

use super::{files, serve};
use crate::answer::Answer;
use crate::fault::Fault;
use crate::paper;

/// Write a document of a case.
#[derive(Args)]
#[command(after_help = "Example:
  isobar report demo/demo.benchbook --case lyo-2r --document study -o lyo-2r.pdf")]
pub struct Report {
    /// The benchbook.
    benchbook: PathBuf,
    /// Case to report.
    #[arg(long)]
    case: String,
    /// Which document.
    #[arg(long, value_enum, default_value = "study")]
    document: Document,
    /// File to write.
    #[arg(short, long)]
    output: PathBuf,
}

/// Documents that can be written.
#[derive(Clone, Copy, ValueEnum)]
enum Document {
    /// The study: question, forecast, method, runs, results, claim.
    Study,
}

/// Runs the command.
pub fn run(command: &Report) -> Result<Answer, Fault> {
    let Document::Study = command.document;
    let runtime = serve::runtime()?;
    let (case, edition) = runtime.block_on(async {
        let book = Benchbook::open_read_only(&command.benchbook).await?;
        let case = book.case(&command.case).await?;
        let edition = paper::edition(&book, &command.case).await?;
        Ok::<(Case, Edition), Fault>((case, edition))
    })?;
    let bytes = paper::pdf_of(&case, &edition)?;
    files::write_whole(&command.output, &bytes)?;
    let digest: String = Sha256::digest(&bytes).iter().map(|byte| format!("{byte:02x}")).collect();
    let file = command.output.display().to_string();
    let text = format!("{file}\nSHA-256 {digest}\n");
    Ok(Answer::new(text, json!({ "file": file, "digest": digest }), Vec::new()))
}
