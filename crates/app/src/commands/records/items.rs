//! `isobar items`: what must be settled before a case is signed.

use std::path::PathBuf;

use benchbook::OpenItem;
use clap::Args;
use serde_json::{Value, json};

use super::super::serve;
use super::acting::Acting;
use crate::answer::Answer;
use crate::clock;
use crate::fault::Fault;

/// Open items of a case; while one is open, nothing is signed.
#[derive(Args)]
#[command(after_help = "Examples:
  isobar items lab.benchbook --case lyo-2r --note \"unit 3 is unlabelled\" --account a.analyst
  isobar items lab.benchbook --case lyo-2r --settle 1 --how \"label found\" --account a.analyst")]
pub struct Items {
    /// The benchbook.
    benchbook: PathBuf,
    /// The case.
    #[arg(long)]
    case: String,
    /// Note an open item.
    #[arg(long, conflicts_with = "settle")]
    note: Option<String>,
    /// Settle the open item of this number; needs --how.
    #[arg(long, requires = "how")]
    settle: Option<u32>,
    /// How it was settled.
    #[arg(long)]
    how: Option<String>,
    #[command(flatten)]
    acting: Acting,
}

/// Runs the command.
pub fn run(command: &Items) -> Result<Answer, Fault> {
    serve::runtime()?.block_on(async {
        let at = clock::moment();
        let book = if command.note.is_some() || command.settle.is_some() {
            command.acting.open(&command.benchbook).await?
        } else {
            benchbook::Benchbook::open_read_only(&command.benchbook).await?
        };
        if let Some(text) = &command.note {
            book.note_open_item(&command.case, text, &at).await?;
        }
        if let (Some(number), Some(how)) = (command.settle, &command.how) {
            book.settle_open_item(&command.case, number, how, &at).await?;
        }
        let items = book.open_items(&command.case).await?;
        book.close().await;
        let mut text = String::new();
        for item in &items {
            let state = match &item.settled {
                None => "open".to_owned(),
                Some(how) => format!("settled: {how}"),
            };
            text.push_str(&format!("{:>3}  {} ({state})\n", item.number, item.text));
        }
        if items.is_empty() {
            text.push_str("none\n");
        }
        let json = json!({ "case": command.case, "items": as_json(&items) });
        Ok(Answer::new(text, json, Vec::new()))
    })
}

/// Open items as data, the same for the command line and for the page.
pub fn as_json(items: &[OpenItem]) -> Value {
    items
        .iter()
        .map(|item| json!({ "number": item.number, "text": item.text, "settled": item.settled }))
        .collect()
}
