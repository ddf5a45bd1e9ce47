//! `isobar review`: the changes of a case, and the record that somebody has
//! looked at them.

use std::path::PathBuf;

use benchbook::AuditChange;
use clap::Args;
use serde_json::{Value, json};

use super::super::serve;
use super::acting::Acting;
use crate::answer::Answer;
use crate::clock;
use crate::fault::Fault;

/// Changes of a case since the last review of its audit trail.
#[derive(Args)]
#[command(after_help = "Example:
  isobar review demo/demo.benchbook --case lyo-2r")]
pub struct Review {
    /// The benchbook.
    benchbook: PathBuf,
    /// The case.
    #[arg(long)]
    case: String,
    /// Record a review with this finding; needs --up-to.
    #[arg(long, requires = "up_to")]
    finding: Option<String>,
    /// Last event that was looked at.
    #[arg(long)]
    up_to: Option<u64>,
    #[command(flatten)]
    acting: Acting,
}

/// Runs the command.
pub fn run(command: &Review) -> Result<Answer, Fault> {
    serve::runtime()?.block_on(async {
        let book = match (&command.finding, command.up_to) {
            (Some(finding), Some(up_to)) => {
                let book = command.acting.open(&command.benchbook).await?;
                book.record_audit_review(&command.case, up_to, finding, &clock::moment()).await?;
                book
            }
            _ => benchbook::Benchbook::open_read_only(&command.benchbook).await?,
        };
        let changes = book.changes_to_review(&command.case).await?;
        book.close().await;
        let mut text = format!("{} changes were not reviewed\n", changes.len());
        for change in &changes {
            let event = &change.event;
            let mark = if change.changes_earlier_record { "changed" } else { "new" };
            let reason =
                event.reason.as_ref().map_or_else(String::new, |why| format!(" (reason: {why})"));
            text.push_str(&format!(
                "{:>5}  {}  {mark:<7}  {}: {}{reason}, by {}\n",
                event.number, event.at, event.what, event.detail, event.actor
            ));
        }
        let list: Value = changes.iter().map(as_json).collect();
        let json = json!({ "case": command.case, "changes": list });
        Ok(Answer::new(text, json, Vec::new()))
    })
}

/// A change as data, the same for the command line and for the page.
pub fn as_json(change: &AuditChange) -> Value {
    let event = &change.event;
    json!({
        "event": event.number,
        "at": event.at,
        "actor": event.actor,
        "account": event.account,
        "what": event.what,
        "detail": event.detail,
        "because": event.reason,
        "changes_earlier_record": change.changes_earlier_record,
        "old_sha256": event.old_sha256,
        "new_sha256": event.new_sha256,
    })
}
