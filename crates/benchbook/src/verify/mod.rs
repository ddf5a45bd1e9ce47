//! Verification of a file, by itself and against a checkpoint from outside.
//!
//! Reads the file through a connection of its own and takes nothing from the
//! code that writes: the events are parsed, hashed and joined again, and every
//! record must be the one that its event names. A second program with the same
//! task, `tools/verify_benchbook.py`, shares no code with this one.

mod database;
mod entries;
mod event_text;
mod events;
mod file;
mod pages;
mod records;
mod roots;
mod runs;
mod signatures;

use crate::boxed;
use std::path::Path;

use crate::errors::BenchbookError;
use crate::log::checkpoint::Checkpoint;
use crate::log::merkle::Hash;
use crate::log::note::SignedCheckpoint;
use crate::store::connection::{Connection, Kind};
use crate::store::{file_header, migrations, place, postgres};

/// Most findings that are listed; a ruined file has one for every row.
const MOST_FINDINGS: usize = 200;

/// Something in the file that is not as it was written.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Finding {
    /// Where: which event, record, run or part of the file.
    pub place: String,
    /// What is wrong there.
    pub problem: String,
}

/// What a verification found.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Verification {
    /// Identity of the benchbook; empty where it cannot be read.
    pub identity: String,
    /// Number of events.
    pub n_events: u64,
    /// Number of records: inputs, forecasts, methods, plans, results.
    pub n_records: u64,
    /// Number of runs.
    pub n_runs: u64,
    /// Number of columns of samples.
    pub n_channels: u64,
    /// Number of other entries: accounts, signatures, register and the like.
    pub n_entries: u64,
    /// Number of signatures on cases.
    pub n_signatures: u64,
    /// Number of signed checkpoints in the file.
    pub n_checkpoints: u64,
    /// Public keys of the log, oldest first, `name+id+base64`.
    pub log_keys: Vec<String>,
    /// The key that signed the checkpoint from outside; `None` where it has
    /// no signature of a key of this log.
    pub against_signed_by: Option<String>,
    /// Root of the Merkle tree over the events.
    pub root: Hash,
    /// What is wrong; empty in a sound file. At most 200 are listed.
    pub findings: Vec<Finding>,
    /// Number of all findings.
    pub n_findings: usize,
}

impl Verification {
    /// True where nothing was found.
    #[must_use]
    pub const fn is_valid(&self) -> bool {
        self.n_findings == 0
    }

    /// Size and root of the log as they were computed from the events.
    #[must_use]
    pub fn checkpoint(&self) -> Checkpoint {
        Checkpoint::new(&self.identity, self.n_events, self.root)
    }

    fn find(&mut self, place: impl Into<String>, problem: impl Into<String>) {
        self.n_findings += 1;
        if self.findings.len() < MOST_FINDINGS {
            self.findings.push(Finding { place: place.into(), problem: problem.into() });
        }
    }
}

/// Verifies a benchbook: the file itself, the history, every record and every
/// column of samples; and, with `against`, that its history begins with the
/// one that this checkpoint stands for.
///
/// Without a checkpoint from outside, a file that somebody has rewritten from
/// end to end with all its hashes is not told from a sound one.
///
/// # Errors
/// Where nothing can be decided: the file is missing, no benchbook, of a newer
/// version, held by another program, or may not be read.
#[boxed]
pub async fn verify(
    path: &Path,
    against: Option<&Checkpoint>,
) -> Result<Verification, BenchbookError> {
    verify_signed(path, against.cloned().map(SignedCheckpoint::from).as_ref()).await
}

/// As [`verify`], with a checkpoint whose signatures are checked too where a
/// key of this log made them.
///
/// # Errors
/// As [`verify`].
#[boxed]
pub async fn verify_signed(
    path: &Path,
    against: Option<&SignedCheckpoint>,
) -> Result<Verification, BenchbookError> {
    let mut connection = match place::database(path) {
        Some(address) => postgres::to_verify(address, file::WAIT).await?,
        None => {
            file_header::check(path, migrations::NEWEST)?;
            file::open(path).await?
        }
    };
    let mut found = Verification::default();
    let (pages, rows) =
        tokio::join!(file::pages(path), check(&mut connection, against, &mut found));
    for (place, problem) in pages? {
        found.find(place, problem);
    }
    if let Err(error) = rows {
        // A damaged database shows itself by failing queries.
        found.find("file", format!("it cannot be read to its end: {error}"));
    }
    // Nothing was written, so nothing can be lost by a failing close.
    let _ = connection.close().await;
    Ok(found)
}

async fn check(
    connection: &mut Connection,
    against: Option<&SignedCheckpoint>,
    found: &mut Verification,
) -> Result<(), sqlx::Error> {
    let shape = match connection.kind() {
        Kind::Sqlite => file::check(connection, found).await?,
        Kind::Postgres => database::check(connection, found).await?,
    };
    let mut roots = roots::claimed(connection, shape, against, found).await?;
    let mut events = events::check(connection, &mut roots, found).await?;
    file::check_migrations(connection, shape, &mut events, found).await?;
    records::check(connection, &mut events, found).await?;
    runs::check(connection, shape, &mut events, found).await?;
    if shape >= 2 {
        let entries = entries::check(connection, &mut events, found).await?;
        signatures::check(&entries, &events, found);
        roots::check_signatures(connection, &entries, against, found).await?;
    }
    for (number, event) in events.naming_records() {
        if !event.seen {
            found.find(
                format!("event {number}"),
                format!("the {} that it names is missing", event.record),
            );
        }
    }
    if let Some(checkpoint) = against {
        let origin = Checkpoint::origin_of(&found.identity);
        let of = &checkpoint.checkpoint.origin;
        if *of != origin {
            found.find("checkpoint", format!("it is of `{of}`, and this file is `{origin}`"));
        }
    }
    Ok(())
}
