//! `isobar report`: a document of a case as PDF or as a page.

use std::path::PathBuf;

use ::report::{DocumentName, Edition, Paper};
use benchbook::Benchbook;
use clap::{Args, ValueEnum};
use serde_json::json;
use sha2::{Digest, Sha256};
use study::Case;

use super::{files, serve};
use crate::answer::Answer;
use crate::fault::Fault;
use crate::paper;

/// Write a document of a case.
#[derive(Args)]
#[command(after_help = "Example:
  isobar report demo/demo.benchbook --case lyo-2r --document study -o lyo-2r.pdf
  isobar report demo/demo.benchbook --case lyo-2r --document claim -o lyo-2r-claim.pdf

Documents: study, claim (one page), protocol (without the key), limit, profile, method, fixture.
A file that ends in .html is written as one page with the same words and figures. The same
benchbook gives the same bytes. What the case lacks stands in the document as missing.")]
pub struct Report {
    /// The benchbook.
    benchbook: PathBuf,
    /// Case to report.
    #[arg(long)]
    case: String,
    /// Which document.
    #[arg(long, value_enum, default_value = "study")]
    document: Document,
    /// Size of the sheet.
    #[arg(long, value_enum, default_value = "a4")]
    paper: Sheet,
    /// File to write: PDF, or a page where it ends in .html.
    #[arg(short, long)]
    output: PathBuf,
}

/// Documents that can be written.
#[derive(Clone, Copy, ValueEnum)]
enum Document {
    /// The study: question, forecast, method, runs, results, claim, standards.
    Study,
    /// The claim on one page, with what it does not cover.
    Claim,
    /// The study protocol: design, criteria, run sheet without the key.
    Protocol,
    /// How the rise limit was set, and what it rests on.
    Limit,
    /// Container and product, the origin of every value, what is missing.
    Profile,
    /// What to set, and the reason for every parameter.
    Method,
    /// What the chamber must do, and the record of its free volume.
    Fixture,
}

impl Document {
    const fn name(self) -> DocumentName {
        match self {
            Self::Study => DocumentName::Study,
            Self::Claim => DocumentName::Claim,
            Self::Protocol => DocumentName::Protocol,
            Self::Limit => DocumentName::Limit,
            Self::Profile => DocumentName::Profile,
            Self::Method => DocumentName::Method,
            Self::Fixture => DocumentName::Fixture,
        }
    }
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
    let name = command.document.name();
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
    let digest: String = Sha256::digest(&bytes).iter().map(|byte| format!("{byte:02x}")).collect();
    let file = command.output.display().to_string();
    let text = format!("{file}\nSHA-256 {digest}\n");
    Ok(Answer::new(text, json!({ "file": file, "digest": digest }), Vec::new()))
}
