//! The benchbook itself: made, opened, closed, and what it is for ever.

use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::time::Duration;

use sqlx::{Row, Sqlite, SqliteConnection, SqlitePool, Transaction};

use crate::digest::{hex, sha256};
use crate::errors::BenchbookError;
use crate::history::{self, Change, HistoryEvent};
use crate::log::checkpoint::Checkpoint;
use crate::log::merkle::{self, Hash};
use crate::log::proof::EventProof;
use crate::moment::Moment;
use crate::store::beginning::Beginning;
use crate::store::sqlite::{self, BUSY_TIMEOUT, Connections};
use crate::store::{file_header, migrations, network_file_system};
use crate::verify::verify;

/// A handle on an open benchbook; clones share its connections.
#[derive(Debug, Clone)]
pub struct Benchbook {
    path: Arc<PathBuf>,
    connections: Connections,
    busy_timeout: Duration,
}

impl Benchbook {
    /// Makes a new benchbook without accounts. It is marked 'not for regulated
    /// use' for ever, because nobody's identity has been established.
    ///
    /// # Errors
    /// [`BenchbookError::Exists`] where the name is taken, which is never
    /// written over; otherwise where the folder is missing, may not be
    /// written, or is full. Nothing half-made is left.
    pub async fn create(path: &Path, at: &Moment) -> Result<Self, BenchbookError> {
        at.check()?;
        network_file_system::refuse(path)?;
        let beginning = Beginning::of(path)?;
        let made = async {
            let pool = beginning.connect().await?;
            let begun = begin(&pool, at).await;
            pool.close().await;
            begun.map_err(|error| sqlite::from_sqlx(path, BUSY_TIMEOUT, &error))?;
            let found = verify(&beginning.temporary, None).await?;
            if let Some(first) = found.findings.first() {
                let what = format!("{}: {}", first.place, first.problem);
                return Err(BenchbookError::Damaged { path: path.to_path_buf(), what });
            }
            beginning.finish()
        }
        .await;
        if let Err(error) = made {
            beginning.abandon();
            return Err(match error {
                // A file that was empty a moment ago has no past to be
                // damaged in: the disk did not keep what it was given.
                BenchbookError::Damaged { path, what } => {
                    BenchbookError::DiskFailed { path, reason: what }
                }
                other => other,
            });
        }
        let opened = Self::open(path).await;
        if opened.is_err() {
            // All or nothing: the next try must find the name free.
            beginning.take_back();
        }
        opened
    }

    /// Opens a benchbook to read and write it.
    ///
    /// # Errors
    /// Where the file is missing, no benchbook, of a newer version, damaged,
    /// held by another program, or may not be read or written.
    pub async fn open(path: &Path) -> Result<Self, BenchbookError> {
        Self::open_within(path, false, BUSY_TIMEOUT).await
    }

    /// Opens a benchbook to read it only; every change is refused.
    ///
    /// # Errors
    /// As [`Benchbook::open`].
    pub async fn open_read_only(path: &Path) -> Result<Self, BenchbookError> {
        Self::open_within(path, true, BUSY_TIMEOUT).await
    }

    /// Opens a benchbook and waits at most `busy_timeout` for another program
    /// that holds it.
    ///
    /// # Errors
    /// As [`Benchbook::open`].
    pub async fn open_within(
        path: &Path,
        read_only: bool,
        busy_timeout: Duration,
    ) -> Result<Self, BenchbookError> {
        file_header::check(path, migrations::NEWEST)?;
        if !read_only {
            network_file_system::refuse(path)?;
        }
        let connections = sqlite::connect(path, read_only, busy_timeout).await?;
        Ok(Self { path: Arc::new(path.to_path_buf()), connections, busy_timeout })
    }

    /// The file.
    #[must_use]
    pub fn path(&self) -> &Path {
        &self.path
    }

    /// Closes every connection. The last one to close folds the side file
    /// `-wal` into the benchbook; a program should wait for it before it ends.
    pub async fn close(&self) {
        self.connections.readers.close().await;
        if let Some(writer) = &self.connections.writer {
            writer.close().await;
        }
    }

    /// Why this benchbook may not be used for regulated work; `None` where it
    /// was begun with accounts.
    ///
    /// # Errors
    /// Where the file cannot be read.
    pub async fn not_for_regulated_use(&self) -> Result<Option<String>, BenchbookError> {
        self.character("not for regulated use").await
    }

    /// Identity of the benchbook, 32 hexadecimal digits drawn when it was
    /// made; copies share it.
    ///
    /// # Errors
    /// Where the file cannot be read.
    pub async fn identity(&self) -> Result<String, BenchbookError> {
        self.character("identity")
            .await?
            .ok_or_else(|| self.damaged("it has no identity".to_owned()))
    }

    async fn character(&self, name: &str) -> Result<Option<String>, BenchbookError> {
        let row = sqlx::query("SELECT value FROM character WHERE name = $1")
            .bind(name)
            .fetch_optional(&self.connections.readers)
            .await
            .map_err(|error| self.failed(&error))?;
        row.map(|row| row.try_get(0)).transpose().map_err(|error| self.failed(&error))
    }

    /// The history, oldest first: of one case, or of the whole benchbook.
    ///
    /// # Errors
    /// [`BenchbookError::UnknownCase`] where there is no such case; otherwise
    /// where the file cannot be read.
    pub async fn history(
        &self,
        case_id: Option<&str>,
    ) -> Result<Vec<HistoryEvent>, BenchbookError> {
        let mut snapshot = self.snapshot().await?;
        if let Some(id) = case_id {
            self.require_case(&mut snapshot, id).await?;
        }
        let rows = match case_id {
            Some(id) => {
                sqlx::query("SELECT event FROM history WHERE case_id = $1 ORDER BY number").bind(id)
            }
            None => sqlx::query("SELECT event FROM history ORDER BY number"),
        }
        .fetch_all(&mut *snapshot)
        .await
        .map_err(|error| self.failed(&error))?;
        rows.iter()
            .map(|row| {
                let text: &str = row.try_get(0).map_err(|error| self.failed(&error))?;
                history::from_text(text)
                    .map_err(|error| self.damaged(format!("an event cannot be read: {error}")))
            })
            .collect()
    }

    /// Size and root of the log as it stands: to be printed in reports and kept
    /// elsewhere, so that a later change of the past is seen.
    ///
    /// # Errors
    /// Where the file cannot be read or the log is damaged.
    pub async fn checkpoint(&self) -> Result<Checkpoint, BenchbookError> {
        let identity = self.identity().await?;
        let leaves = self.leaves().await?;
        Ok(Checkpoint::new(&identity, leaves.len() as u64, merkle::root(&leaves)))
    }

    /// The exact text of an event and the proof that it is in the log;
    /// `None` where there is no event of this number.
    ///
    /// # Errors
    /// Where the file cannot be read or the log is damaged.
    pub async fn proof_of_event(
        &self,
        number: u64,
    ) -> Result<Option<(String, EventProof)>, BenchbookError> {
        let identity = self.identity().await?;
        let leaves = self.leaves().await?;
        let Some(index) = number.checked_sub(1).filter(|&index| index < leaves.len() as u64) else {
            return Ok(None);
        };
        let row = sqlx::query("SELECT event FROM history WHERE number = $1")
            .bind(i64::try_from(number).unwrap_or(i64::MAX))
            .fetch_one(&self.connections.readers)
            .await
            .map_err(|error| self.failed(&error))?;
        let event: String = row.try_get(0).map_err(|error| self.failed(&error))?;
        let place = usize::try_from(index).unwrap_or(usize::MAX);
        let proof = EventProof {
            index,
            hashes: merkle::inclusion_proof(&leaves, place),
            checkpoint: Checkpoint::new(&identity, leaves.len() as u64, merkle::root(&leaves)),
        };
        if !proof.holds_for(&event) {
            return Err(self.damaged(format!("event {number} does not have its hash")));
        }
        Ok(Some((event, proof)))
    }

    /// The hashes of the log in order.
    pub(crate) async fn leaves(&self) -> Result<Vec<Hash>, BenchbookError> {
        let rows = sqlx::query("SELECT number, leaf FROM history ORDER BY number")
            .fetch_all(&self.connections.readers)
            .await
            .map_err(|error| self.failed(&error))?;
        rows.iter()
            .zip(1_i64..)
            .map(|(row, expected)| {
                let number: i64 = row.try_get(0).map_err(|error| self.failed(&error))?;
                let leaf: &[u8] = row.try_get(1).map_err(|error| self.failed(&error))?;
                leaf.try_into().ok().filter(|_| number == expected).ok_or_else(|| {
                    self.damaged(format!("event {expected} of the history is missing or damaged"))
                })
            })
            .collect()
    }

    /// A transaction that reads one state of the file.
    pub(crate) async fn snapshot(&self) -> Result<Transaction<'static, Sqlite>, BenchbookError> {
        self.connections.readers.begin().await.map_err(|error| self.failed(&error))
    }

    /// A transaction that holds the write lock from its start, so that it
    /// never has to be repeated.
    pub(crate) async fn change(&self) -> Result<Transaction<'static, Sqlite>, BenchbookError> {
        let Some(writer) = &self.connections.writer else {
            return Err(BenchbookError::ReadOnly { path: self.path.to_path_buf() });
        };
        writer.begin_with("BEGIN IMMEDIATE").await.map_err(|error| self.failed(&error))
    }

    /// Refuses a name that no case has, and lists those there are.
    pub(crate) async fn require_case(
        &self,
        connection: &mut SqliteConnection,
        id: &str,
    ) -> Result<(), BenchbookError> {
        let found = sqlx::query("SELECT 1 FROM cases WHERE id = $1")
            .bind(id)
            .fetch_optional(&mut *connection)
            .await
            .map_err(|error| self.failed(&error))?;
        if found.is_some() {
            return Ok(());
        }
        let rows = sqlx::query("SELECT id FROM cases ORDER BY number")
            .fetch_all(&mut *connection)
            .await
            .map_err(|error| self.failed(&error))?;
        let there = rows
            .iter()
            .map(|row| row.try_get(0))
            .collect::<Result<_, _>>()
            .map_err(|error| self.failed(&error))?;
        Err(BenchbookError::UnknownCase { id: id.to_owned(), there })
    }

    /// What the store said, as an error of this room.
    pub(crate) fn failed(&self, error: &sqlx::Error) -> BenchbookError {
        sqlite::from_sqlx(&self.path, self.busy_timeout, error)
    }

    /// Something in the file is not as it was written.
    pub(crate) fn damaged(&self, what: String) -> BenchbookError {
        BenchbookError::Damaged { path: self.path.to_path_buf(), what }
    }
}

/// Gives an empty file its tables, its first event and its character.
async fn begin(pool: &SqlitePool, at: &Moment) -> Result<(), sqlx::Error> {
    let mut transaction = pool.begin_with("BEGIN IMMEDIATE").await?;
    let done = migrations::run(&mut transaction, 0).await?;
    // The system's random source through SQLite: this room draws no chance of
    // its own, and nothing is computed from this value.
    let identity: String = sqlx::query("SELECT lower(hex(randomblob(16)))")
        .fetch_one(&mut *transaction)
        .await?
        .try_get(0)?;
    let character = [
        ("begun", at.utc.as_str()),
        ("identity", identity.as_str()),
        (
            "not for regulated use",
            "begun without accounts, so nobody's identity has been established",
        ),
    ];
    // The first event covers the character, so that no line of it can be
    // taken away later.
    let lines: String = character.iter().map(|(name, value)| format!("{name}={value}\n")).collect();
    let begun = Change {
        what: "benchbook begun",
        record: Some("character"),
        version: Some(1),
        new_sha256: Some(hex(&sha256(lines.as_bytes()))),
        detail: "without accounts: not for regulated use".to_owned(),
        ..Change::default()
    };
    let event = history::append(&mut transaction, at, &begun).await?;
    migrations::register(&mut transaction, &done, event).await?;
    for (name, value) in character {
        sqlx::query("INSERT INTO character (name, value, event) VALUES ($1, $2, $3)")
            .bind(name)
            .bind(value)
            .bind(event)
            .execute(&mut *transaction)
            .await?;
    }
    transaction.commit().await
}
