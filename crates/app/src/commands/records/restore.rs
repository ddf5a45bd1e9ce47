//! `isobar restore`: a backup becomes a benchbook again, proven and timed.

use std::path::PathBuf;
use std::time::Instant;

use benchbook::{Benchbook, SignedCheckpoint, verify_signed};
use clap::Args;
use serde_json::json;

use super::super::{files, serve};
use crate::answer::{Answer, number};
use crate::clock;
use crate::fault::{Fault, Kind};

/// Restore a backup to a new file, prove it and read every case: also as a drill.
#[derive(Args)]
#[command(after_help = "Example:
  isobar restore copy.benchbook -o restored.benchbook")]
pub struct Restore {
    /// The backup.
    backup: PathBuf,
    /// File to write; it must not exist.
    #[arg(short, long)]
    output: PathBuf,
    /// File with a checkpoint from outside that the backup must reach.
    #[arg(long)]
    against: Option<PathBuf>,
}

/// Runs the command.
pub fn run(command: &Restore) -> Result<Answer, Fault> {
    let against = match &command.against {
        None => None,
        Some(path) => {
            Some(SignedCheckpoint::from_text(&files::read_text(path)?).map_err(|error| {
                Fault::users(
                    format!("`{}`: {error}", path.display()),
                    "give the lines of a checkpoint: origin, size, root, and its signatures",
                )
            })?)
        }
    };
    let started = Instant::now();
    serve::runtime()?.block_on(async {
        let found = verify_signed(&command.backup, against.as_ref()).await?;
        if let Some(first) = found.findings.first() {
            return Err(Fault {
                kind: Kind::AnswerIsNo,
                message: format!("`{}` is not as it was written", command.backup.display()),
                details: vec![format!("{}: {}", first.place, first.problem)],
                hint: "keep it as it is, and restore another backup".to_owned(),
            });
        }
        // The copy is made by the store, verified, and named only when whole.
        let book = Benchbook::open_read_only(&command.backup).await?;
        let checkpoint = book.restore_to(&command.output).await?;
        book.close().await;
        let restored = Benchbook::open(&command.output).await?;
        let mut cases = 0;
        for case in restored.cases().await? {
            restored.case(&case.id).await?;
            cases += 1;
        }
        restored.close().await;
        let seconds = started.elapsed().as_secs_f64();
        let file = command.output.display().to_string();
        let text = format!(
            "{file}\n{} events, {cases} cases read, in {seconds:.1} s, at {}\n\n{}",
            checkpoint.size,
            clock::moment().utc,
            checkpoint.text()
        );
        let json = json!({
            "file": file,
            "events": checkpoint.size,
            "cases": cases,
            "seconds": number(seconds),
            "checkpoint": checkpoint.text(),
        });
        Ok(Answer::new(text, json, Vec::new()))
    })
}
