//! `isobar verify`: whether a benchbook is as it was written.

use std::path::PathBuf;

use benchbook::{SignedCheckpoint, Verification};
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
  isobar verify demo/demo.benchbook

In a PostgreSQL database:
  isobar verify postgres://lab@localhost/benchbook")]
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
            Some(SignedCheckpoint::from_text(&text).map_err(|error| {
                Fault::users(
                    format!("`{}`: {error}", path.display()),
                    "give the lines of a checkpoint: origin, size, root, and its signatures",
                )
            })?)
        }
    };
    let runtime = serve::runtime()?;
    let found = runtime.block_on(benchbook::verify_signed(&command.benchbook, against.as_ref()))?;
    let checkpoint = found.checkpoint();
    if !found.is_valid() {
        let details =
            found.findings.iter().map(|finding| format!("{}: {}", finding.place, finding.problem));
        return Err(Fault {
            kind: Kind::AnswerIsNo,
            message: format!(
                "`{}` is not as it was written: {} findings",
                benchbook::shown(&command.benchbook),
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
    if against.is_some() && found.against_signed_by.is_none() {
        notes.push(Note::caution(
            "checkpoint-not-signed",
            "the checkpoint fits, and it carries no signature of a key of this log",
            "keep signed ones: isobar checkpoint BENCHBOOK -o FILE",
        ));
    }
    let text = pairs(&[
        ("intact", "yes".to_owned()),
        ("events", found.n_events.to_string()),
        ("records", found.n_records.to_string()),
        ("runs", found.n_runs.to_string()),
        ("columns of samples", found.n_channels.to_string()),
        ("other entries", found.n_entries.to_string()),
        ("signatures", found.n_signatures.to_string()),
        ("signed checkpoints", found.n_checkpoints.to_string()),
    ]) + &format!("\ncheckpoint (keep it outside the file):\n{}", checkpoint.text());
    Ok(Answer::new(text, as_json(&found), notes))
}

/// What a verification found, as data: for the command and for the page.
pub fn as_json(found: &Verification) -> Value {
    json!({
        "intact": found.is_valid(),
        "checkpoint": found.checkpoint().text(),
        "events": found.n_events,
        "records": found.n_records,
        "runs": found.n_runs,
        "entries": found.n_entries,
        "signatures": found.n_signatures,
        "signed_checkpoints": found.n_checkpoints,
        "log_keys": found.log_keys,
        "checkpoint_signed_by": found.against_signed_by,
        "findings": found
            .findings
            .iter()
            .map(|finding| json!({ "place": finding.place, "problem": finding.problem }))
            .collect::<Value>(),
    })
}
