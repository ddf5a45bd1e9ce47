//! `isobar checkpoint`: the head of the log, signed, to be kept elsewhere.

use std::path::PathBuf;

use benchbook::{LogKey, Refusal};
use clap::Args;
use serde_json::json;

use super::super::{files, serve};
use super::acting::{Acting, refused};
use super::keys;
use crate::answer::Answer;
use crate::clock;
use crate::fault::Fault;

/// Sign the head of the log; kept elsewhere, it shows any later change of the past.
#[derive(Args)]
#[command(after_help = "Example:
  isobar checkpoint demo/demo.benchbook -o demo.checkpoint")]
pub struct Checkpoint {
    /// The benchbook.
    benchbook: PathBuf,
    /// File to write the signed checkpoint to.
    #[arg(short, long)]
    output: Option<PathBuf>,
    /// Let a new key take over; needs a reason where there is one already.
    #[arg(long)]
    new_key: bool,
    #[command(flatten)]
    acting: Acting,
}

/// Runs the command.
pub fn run(command: &Checkpoint) -> Result<Answer, Fault> {
    serve::runtime()?.block_on(async {
        let book = command.acting.open(&command.benchbook).await?;
        let folder = keys::folder()?;
        let there = book.log_keys().await?;
        let in_force = keys::in_force(&book).await?;
        let key = if command.new_key || there.is_empty() {
            let new = LogKey::begin(&folder, Some(&book.identity().await?))?;
            book.take_log_key(&new, in_force.as_ref(), &clock::moment()).await?;
            new
        } else {
            in_force.ok_or_else(|| {
                let reason = format!("it is not in `{}`", folder.display());
                refused(Refusal::NoLogKey { reason })
            })?
        };
        let signed = book.keep_checkpoint(&key, &clock::moment()).await?;
        book.close().await;
        let text = signed.text();
        if let Some(output) = &command.output {
            files::write_whole(output, text.as_bytes())?;
        }
        let json = json!({
            "checkpoint": text,
            "events": signed.checkpoint.size,
            "log_key": key.verifier().text(),
            "file": command.output.as_ref().map(|path| path.display().to_string()),
        });
        Ok(Answer::new(text, json, Vec::new()))
    })
}
