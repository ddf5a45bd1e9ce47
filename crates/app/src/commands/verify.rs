//! `isobar verify`: whether a benchbook is as it was written.

use std::path::PathBuf;

use benchbook::Checkpoint;
use clap::Args;
use serde_json::{Value, json};
use study::Note;

use super::{files, serve};
use crate::answer::Answer;
use crate::fault::{Fault, Kind};
use crate::table_text::pairs;

/// Whether a benchbook is as it was written; works without a network.
#[derive(Args)]
#[command(after_help = "Example:
  isobar verify demo/demo.benchbook")]
pub struct Verify {
    /// The benchbook.
    benchbook: PathBuf,
    /// File with a checkpoint from outside, such as one kept from a report.
    #[arg(long)]
    against: Option<PathBuf>,
}

/// Runs the command.
pub fn run(command: &Verify) -> Result<Answer, Fault> {
    let against = match &command.against {
        None => None,
        Some(path) => {
            let text = files::read_text(path)?;
            Some(Checkpoint::from_text(&text).map_err(|error| {
                Fault::users(
                    format!("`{}`: {error}", path.display()),
                    "give the three lines of a checkpoint: origin, size, root",
                )
            })?)
        }
    };
    let runtime = serve::runtime()?;
    let found = runtime.block_on(benchbook::verify(&command.benchbook, against.as_ref()))?;
    let checkpoint = found.checkpoint();
    if !found.is_valid() {
        let details =
            found.findings.iter().map(|finding| format!("{}: {}", finding.place, finding.problem));
        return Err(Fault {
            kind: Kind::AnswerIsNo,
            message: format!(
                "`{}` is not as it was written: {} findings",
                command.benchbook.display(),
                found.n_findings
            ),
            details: details.collect(),
            hint: "keep this file as it is, and compare it with the last backup".to_owned(),
        });
    }
    let mut notes = Vec::new();
    if command.against.is_none() {
        notes.push(Note::caution(
            "no-outside-checkpoint",
            "a file that was rewritten from end to end with all its hashes is not told from a \
             sound one without a checkpoint from outside",
            "compare with a checkpoint kept elsewhere: isobar verify FILE --against CHECKPOINT",
        ));
    }
    let text = pairs(&[
        ("intact", "yes".to_owned()),
        ("events", found.n_events.to_string()),
        ("records", found.n_records.to_string()),
        ("runs", found.n_runs.to_string()),
        ("columns of samples", found.n_channels.to_string()),
    ]) + &format!("\ncheckpoint (keep it outside the file):\n{}", checkpoint.text());
    let json = json!({
        "intact": true,
        "checkpoint": checkpoint.text(),
        "events": found.n_events,
        "records": found.n_records,
        "runs": found.n_runs,
        "findings": Value::Array(Vec::new()),
    });
    Ok(Answer::new(text, json, notes))
}
