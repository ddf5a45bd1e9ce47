//! `isobar backup`: a copy of a benchbook that is proven equal.

use std::path::PathBuf;

use clap::Args;
use serde_json::json;

use super::records::acting::Acting;
use super::serve;
use crate::answer::Answer;
use crate::clock;
use crate::fault::Fault;

/// Copy a benchbook while it is in use, and prove the copy equal.
#[derive(Args)]
#[command(after_help = "Example:
  isobar backup demo/demo.benchbook -o copy.benchbook")]
pub struct Backup {
    /// The benchbook.
    benchbook: PathBuf,
    /// File to write; it must not exist.
    #[arg(short, long)]
    output: PathBuf,
    #[command(flatten)]
    acting: Acting,
}

/// Runs the command.
pub fn run(command: &Backup) -> Result<Answer, Fault> {
    let runtime = serve::runtime()?;
    let checkpoint = runtime.block_on(async {
        let book = command.acting.open(&command.benchbook).await?;
        let checkpoint = book.back_up(&command.output, &clock::moment()).await?;
        book.close().await;
        Ok::<_, Fault>(checkpoint)
    })?;
    let file = command.output.display().to_string();
    let text = format!("{file}\n\ncheckpoint of the copy:\n{}", checkpoint.text());
    Ok(Answer::new(text, json!({ "file": file, "checkpoint": checkpoint.text() }), Vec::new()))
}
