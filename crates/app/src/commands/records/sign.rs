//! `isobar sign`: a signature on a case, with account and password each time.

use std::path::PathBuf;

use benchbook::{Benchbook, Meaning, Signature, ToSign};
use clap::Args;
use serde_json::{Value, json};
use sha2::{Digest, Sha256};
use study::Note;

use super::super::{files, serve};
use super::acting::password;
use super::keys;
use crate::answer::Answer;
use crate::clock;
use crate::fault::Fault;

/// Sign a case, or list its signatures.
#[derive(Args)]
#[command(after_help = "Examples:
  isobar sign lab.benchbook --case lyo-2r --meaning authored --report lyo-2r.pdf \\
    --account a.analyst
  isobar sign lab.benchbook --case lyo-2r")]
pub struct Sign {
    /// The benchbook.
    benchbook: PathBuf,
    /// The case.
    #[arg(long)]
    case: String,
    /// What the signature says: authored, reviewed or approved.
    #[arg(long, value_parser = meaning, requires = "report", requires = "account")]
    meaning: Option<Meaning>,
    /// The report that you have read; the signature is bound to its bytes.
    #[arg(long)]
    report: Option<PathBuf>,
    /// Account that signs; its password is asked for, whoever is at work.
    #[arg(long)]
    account: Option<String>,
}

fn meaning(word: &str) -> Result<Meaning, String> {
    Meaning::from_word(word).ok_or_else(|| "it is authored, reviewed or approved".to_owned())
}

/// Runs the command.
pub fn run(command: &Sign) -> Result<Answer, Fault> {
    serve::runtime()?.block_on(async {
        let (book, notes) = match (command.meaning, &command.report, &command.account) {
            (Some(meaning), Some(report), Some(account)) => {
                sign(command, meaning, report, account).await?
            }
            _ => (Benchbook::open_read_only(&command.benchbook).await?, Vec::new()),
        };
        let signatures = book.signatures(&command.case).await?;
        let (state, lines) = book.state_of_case(&command.case).await?;
        book.close().await;
        let mut text = String::new();
        for one in &signatures {
            let stands = if one.stands { "stands" } else { "no longer stands: the case changed" };
            text.push_str(&format!(
                "{} by {} ({}) at {}, event {}: {stands}\n",
                one.meaning.word(),
                one.name,
                one.account,
                one.at,
                one.event
            ));
        }
        if signatures.is_empty() {
            text.push_str("not signed\n");
        }
        text.push_str(&format!("\nstate of the case: SHA-256 {state}\n"));
        let json = as_json(&command.case, &state, &lines, &signatures);
        Ok(Answer::new(text, json, notes))
    })
}

/// State and signatures of a case as data, the same for the command line and
/// for the page.
pub fn as_json(case: &str, state: &str, lines: &str, signatures: &[Signature]) -> Value {
    json!({
        "case": case,
        "state_sha256": state,
        "state": lines.lines().collect::<Vec<_>>(),
        "signatures": signatures.iter().map(signature_json).collect::<Vec<Value>>(),
    })
}

async fn sign(
    command: &Sign,
    meaning: Meaning,
    report: &std::path::Path,
    account: &str,
) -> Result<(Benchbook, Vec<Note>), Fault> {
    let bytes = files::read_bytes(report)?;
    let book = Benchbook::open(&command.benchbook).await?;
    let (state, lines) = book.state_of_case(&command.case).await?;
    let report_sha256: [u8; 32] = Sha256::digest(&bytes).into();
    announce(&command.case, meaning, report, &lines);
    let password = password(&format!("Password of {account}"))?;
    let to_sign = ToSign {
        case_id: &command.case,
        meaning,
        report_sha256,
        state_sha256: &state,
        software: concat!("isobar ", env!("CARGO_PKG_VERSION")),
    };
    let key = keys::in_force(&book).await?;
    book.sign(&to_sign, account, &password, key.as_ref(), &clock::moment()).await?;
    let mut notes = Vec::new();
    if key.is_none() {
        notes.push(Note::caution(
            "log-key-not-here",
            "the key of the log is not on this machine, so no signed checkpoint was kept",
            "make one where the key is: isobar checkpoint BENCHBOOK",
        ));
    }
    Ok((book, notes))
}

/// Says what will be signed before the password is asked for.
fn announce(case: &str, meaning: Meaning, report: &std::path::Path, lines: &str) {
    use std::io::Write;
    let mut out = std::io::stderr().lock();
    let text = format!(
        "You sign as {}: case {case}, {} records and batches of runs, and {}.\n",
        meaning.word(),
        lines.lines().count(),
        report.display()
    );
    // Whoever closed the terminal does not want to read it.
    let _ = write!(out, "{}", crate::fault::clean(&text));
}

/// A signature as data.
pub fn signature_json(signature: &Signature) -> Value {
    json!({
        "event": signature.event,
        "meaning": signature.meaning.word(),
        "account": signature.account,
        "name": signature.name,
        "at": signature.at,
        "stands": signature.stands,
        "signed_state_sha256": signature.state_sha256,
        "report_sha256": signature.report_sha256,
    })
}
