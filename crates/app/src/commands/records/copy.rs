//! `isobar copy`: a case from one benchbook into another, proven equal.

use std::path::PathBuf;

use benchbook::Benchbook;
use clap::Args;
use serde_json::json;
use study::Note;

use super::super::serve;
use super::acting::Acting;
use crate::answer::Answer;
use crate::clock;
use crate::fault::Fault;

/// Copy a case into another benchbook and prove the two equal.
#[derive(Args)]
#[command(after_help = "Example:
  isobar copy demo/demo.benchbook --case lyo-2r --into lab.benchbook --account a.analyst

Into the PostgreSQL database that a laboratory shares, or out of one:
  isobar copy demo/demo.benchbook --case lyo-2r --into postgres://lab@localhost/benchbook")]
pub struct Copy {
    /// The benchbook that has the case.
    benchbook: PathBuf,
    /// The case.
    #[arg(long)]
    case: String,
    /// The benchbook that gets it; without accounts it is begun where there is none.
    #[arg(long)]
    into: PathBuf,
    #[command(flatten)]
    acting: Acting,
}

/// Runs the command.
pub fn run(command: &Copy) -> Result<Answer, Fault> {
    serve::runtime()?.block_on(async {
        let from = Benchbook::open_read_only(&command.benchbook).await?;
        // A case that is not there must not leave a new benchbook behind.
        let signatures = from.signatures(&command.case).await?.len();
        let at = clock::moment();
        let into = match command.into.exists() {
            _ if benchbook::is_database(&command.into) => {
                serve::open_or_begin(&command.into).await?.close().await;
                command.acting.open(&command.into).await?
            }
            true => command.acting.open(&command.into).await?,
            false => Benchbook::create(&command.into, &at).await?,
        };
        let proof = from.copy_case(&command.case, &into, &at).await?;
        from.close().await;
        into.close().await;
        let mut notes = Vec::new();
        if signatures > 0 {
            notes.push(Note::caution(
                "signatures-stay",
                format!(
                    "{signatures} signatures stay in the first benchbook: they are bound to it"
                ),
                "sign the copy anew where it is to be signed there",
            ));
        }
        let text = format!(
            "case {}: {} records, {} runs and {} entries are equal in {}\nSHA-256 of the \
             content {}\n",
            command.case,
            proof.n_records,
            proof.n_runs,
            proof.n_entries,
            into.path().display(),
            proof.content_sha256
        );
        let json = json!({
            "case": command.case,
            "into": into.path().display().to_string(),
            "records": proof.n_records,
            "runs": proof.n_runs,
            "entries": proof.n_entries,
            "content_sha256": proof.content_sha256,
        });
        Ok(Answer::new(text, json, notes))
    })
}
