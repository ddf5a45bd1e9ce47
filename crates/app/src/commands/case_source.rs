//! Where a case comes from: a file that somebody wrote, or a benchbook.

use std::path::PathBuf;

use benchbook::Benchbook;
use clap::Args;
use study::{Case, CaseInput};
use tokio::runtime::Runtime;

use super::forecast::read_case;
use super::records::acting::Acting;
use super::serve;
use crate::fault::Fault;

/// Where the case is.
#[derive(Args)]
pub struct CaseSource {
    /// Case file (TOML).
    #[arg(
        value_name = "CASE",
        required_unless_present = "benchbook",
        conflicts_with = "benchbook"
    )]
    file: Option<PathBuf>,
    /// Benchbook that holds the case.
    #[arg(long, requires = "case", value_name = "FILE")]
    benchbook: Option<PathBuf>,
    /// Case of the benchbook.
    #[arg(long, requires = "benchbook", value_name = "ID")]
    case: Option<String>,
}

/// A case that was found.
pub enum Found {
    /// In a file: what somebody wrote down.
    File(Box<CaseInput>),
    /// In a benchbook, with everything done so far but its traces.
    Book(Box<Stored>),
}

/// A case in its benchbook.
pub struct Stored {
    /// The benchbook.
    pub book: Benchbook,
    /// The case.
    pub case: Case,
    runtime: Runtime,
}

impl CaseSource {
    /// Finds the case; a benchbook is opened to be changed where somebody acts.
    pub fn find(&self, acting: Option<&Acting>) -> Result<Found, Fault> {
        let (Some(path), Some(id)) = (&self.benchbook, &self.case) else {
            let path = self.file.as_ref().unwrap_or_else(|| unreachable!("clap asks for one"));
            return Ok(Found::File(Box::new(read_case(path)?)));
        };
        let runtime = serve::runtime()?;
        let (book, case) = runtime.block_on(async {
            let book = match acting {
                Some(acting) => acting.open(path).await?,
                None => Benchbook::open_read_only(path).await?,
            };
            let case = book.case_without_traces(id).await?;
            Ok::<_, Fault>((book, case))
        })?;
        Ok(Found::Book(Box::new(Stored { book, case, runtime })))
    }
}

impl Found {
    /// What somebody wrote down.
    pub fn input(&self) -> &CaseInput {
        match self {
            Self::File(input) => input,
            Self::Book(stored) => &stored.case.input,
        }
    }

    /// The case in its benchbook, where it is in one.
    pub fn stored(&self) -> Option<&Stored> {
        match self {
            Self::File(_) => None,
            Self::Book(stored) => Some(stored),
        }
    }

    /// Closes the benchbook.
    pub fn close(self) {
        if let Self::Book(stored) = self {
            stored.runtime.block_on(stored.book.close());
        }
    }
}

impl Stored {
    /// Waits for something that is done with the benchbook.
    pub fn wait<T>(&self, work: impl Future<Output = T>) -> T {
        self.runtime.block_on(work)
    }
}
