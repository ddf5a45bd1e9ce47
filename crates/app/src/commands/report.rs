//! `isobar report`: a document of a case as PDF or as a page.

use std::path::PathBuf;

use ::report::{DocumentName, Edition, Paper};
use benchbook::Benchbook;
use clap::builder::{PossibleValue, PossibleValuesParser, TypedValueParser};
use clap::{Args, ValueEnum};
use serde_json::json;
use study::Case;

use super::{files, serve};
use crate::answer::Answer;
use crate::digest::sha256;
use crate::fault::Fault;
use crate::paper;

/// Write a document of a case.
#[derive(Args)]
#[command(after_help = "Example:
  isobar report demo/demo.benchbook --case lyo-2r --document study -o lyo-2r.pdf
  isobar report demo/demo.benchbook --case lyo-2r --document claim -o lyo-2r-claim.pdf

Documents: study, claim (one page), protocol (without the key), limit, profile, method, fixture,
mall, flow (calibration record, no certificate), register.
A file that ends in .html is written as one page with the same words and figures. The same
benchbook gives the same bytes. What the case lacks stands in the document as missing.")]
pub struct Report {
    /// The benchbook.
    benchbook: PathBuf,
    /// Case to report.
    #[arg(long)]
    case: String,
    /// Which document.
    #[arg(long, default_value = "study", value_parser = document_names())]
    document: DocumentName,
    /// Size of the sheet.
    #[arg(long, value_enum, default_value = "a4")]
    paper: Sheet,
    /// File to write: PDF, or a page where it ends in .html.
    #[arg(short, long)]
    output: PathBuf,
}

/// The documents that can be composed, with what each says.
fn document_names() -> impl TypedValueParser<Value = DocumentName> {
    let possible = DocumentName::ALL.map(|name| PossibleValue::new(name.word()).help(name.says()));
    PossibleValuesParser::new(possible).try_map(|word| {
        DocumentName::from_word(&word).ok_or_else(|| format!("no document is called {word}"))
    })
}

/// Sizes of the sheet.
#[derive(Clone, Copy, ValueEnum)]
enum Sheet {
    /// 210 mm by 297 mm.
    A4,
    /// 8.5 in by 11 in.
    Letter,
}

/// Runs the command.
pub fn run(command: &Report) -> Result<Answer, Fault> {
    let name = command.document;
    let paper_size = match command.paper {
        Sheet::A4 => Paper::A4,
        Sheet::Letter => Paper::Letter,
    };
    let runtime = serve::runtime()?;
    let (case, edition) = runtime.block_on(async {
        let book = Benchbook::open_read_only(&command.benchbook).await?;
        let case = book.case(&command.case).await?;
        let edition = paper::edition(&book, &command.case).await?;
        Ok::<(Case, Edition), Fault>((case, edition))
    })?;
    let is_page =
        command.output.extension().is_some_and(|extension| extension.eq_ignore_ascii_case("html"));
    let bytes = if is_page {
        paper::page_of_document(&case, name, &edition)?.into_bytes()
    } else {
        paper::pdf_of_document(&case, name, &edition, paper_size)?
    };
    files::write_whole(&command.output, &bytes)?;
    let digest = sha256(&bytes);
    let file = command.output.display().to_string();
    let text = format!("{file}\nSHA-256 {digest}\n");
    Ok(Answer::new(text, json!({ "file": file, "digest": digest }), Vec::new()))
}
