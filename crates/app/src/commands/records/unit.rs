//! `isobar unit`: receipt, custody, conditioning and retest rule of units.

use std::path::PathBuf;

use benchbook::{UnitRecord, UnitRecordKind};
use clap::Args;
use serde_json::{Value, json};

use super::super::serve;
use super::acting::Acting;
use crate::answer::Answer;
use crate::clock;
use crate::fault::Fault;

/// Record something about a unit of a case, or list what is recorded.
#[derive(Args)]
#[command(after_help = "Example:
  isobar unit lab.benchbook --case lyo-2r --unit \"*\" --about receipt \\
    --text \"12 units, undamaged\" --account a.analyst")]
pub struct Unit {
    /// The benchbook.
    benchbook: PathBuf,
    /// The case.
    #[arg(long)]
    case: String,
    /// The unit, or * for all of the case.
    #[arg(long, default_value = "*")]
    unit: String,
    /// receipt, custody, conditioning or retest-rule.
    #[arg(long, value_parser = about, requires = "text")]
    about: Option<UnitRecordKind>,
    /// The record in words.
    #[arg(long)]
    text: Option<String>,
    #[command(flatten)]
    acting: Acting,
}

fn about(word: &str) -> Result<UnitRecordKind, String> {
    UnitRecordKind::from_word(word)
        .ok_or_else(|| "it is receipt, custody, conditioning or retest-rule".to_owned())
}

/// Runs the command.
pub fn run(command: &Unit) -> Result<Answer, Fault> {
    serve::runtime()?.block_on(async {
        let book = match (command.about, &command.text) {
            (Some(about), Some(text)) => {
                let book = command.acting.open(&command.benchbook).await?;
                let at = clock::moment();
                book.record_unit(&command.case, &command.unit, about, text, &at).await?;
                book
            }
            _ => benchbook::Benchbook::open_read_only(&command.benchbook).await?,
        };
        let records = book.unit_records(&command.case).await?;
        book.close().await;
        let mut text = String::new();
        for one in &records {
            text.push_str(&format!(
                "{:>5}  {}  {}: {}\n",
                one.event,
                one.unit,
                one.kind.word(),
                one.text
            ));
        }
        if records.is_empty() {
            text.push_str("none\n");
        }
        let json = json!({ "case": command.case, "units": as_json(&records) });
        Ok(Answer::new(text, json, Vec::new()))
    })
}

/// Records of units as data, the same for the command line and for the page.
pub fn as_json(records: &[UnitRecord]) -> Value {
    records
        .iter()
        .map(|one| {
            json!({
                "event": one.event,
                "unit": one.unit,
                "about": one.kind.word(),
                "text": one.text,
            })
        })
        .collect()
}
