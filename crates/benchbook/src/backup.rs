//! Backup: a copy made while the benchbook is in use, and the proof that it is
//! one.

use crate::boxed;
use std::path::Path;

use crate::book::Benchbook;
use crate::errors::BenchbookError;
use crate::history::Change;
use crate::log::checkpoint::Checkpoint;
use crate::log::merkle;
use crate::moment::Moment;
use crate::people::Action;
use crate::store::beginning::Beginning;
use crate::store::sqlite;
use crate::verify::{Finding, verify};

impl Benchbook {
    /// Copies the benchbook to a new file while it is in use, and gives the
    /// checkpoint of the copy. The copy gets its name only after it has been
    /// verified from end to end and its log is the beginning of this one, and
    /// after it has reached the disk. That it was begun is an event of both.
    ///
    /// # Errors
    /// [`BenchbookError::Exists`] where the name is taken;
    /// [`BenchbookError::Damaged`] where this benchbook does not verify, so
    /// that no copy of it could; otherwise where a file cannot be read or
    /// written. Nothing half-made is left.
    #[boxed]
    pub async fn back_up(&self, to: &Path, at: &Moment) -> Result<Checkpoint, BenchbookError> {
        at.check()?;
        self.refuse_database("a backup by this program")?;
        let beginning = Beginning::of(to)?;
        let made = async {
            self.note_backup(to, at).await?;
            sqlite::copy_into(self.path(), &beginning.temporary, to).await?;
            let checkpoint = self.prove_copy(&beginning.temporary).await?;
            beginning.finish()?;
            Ok(checkpoint)
        }
        .await;
        if made.is_err() {
            beginning.abandon();
        }
        made
    }

    /// Copies this benchbook, a backup, to a new file and gives the checkpoint
    /// of the copy. The backup is not changed. The copy gets its name only
    /// after it has been verified and is the same log to its end.
    ///
    /// # Errors
    /// As [`Benchbook::back_up`].
    #[boxed]
    pub async fn restore_to(&self, to: &Path) -> Result<Checkpoint, BenchbookError> {
        self.refuse_database("a restore by this program")?;
        let beginning = Beginning::of(to)?;
        let made = async {
            sqlite::copy_into(self.path(), &beginning.temporary, to).await?;
            let checkpoint = self.prove_copy(&beginning.temporary).await?;
            if checkpoint != self.checkpoint().await? {
                return Err(self.damaged("the copy of it is shorter".to_owned()));
            }
            beginning.finish()?;
            Ok(checkpoint)
        }
        .await;
        if made.is_err() {
            beginning.abandon();
        }
        made
    }

    /// Writes down that a backup is being made, before it is: so the copy
    /// holds the event too, and nothing is left to do once it has its name.
    async fn note_backup(&self, to: &Path, at: &Moment) -> Result<(), BenchbookError> {
        let change = Change {
            what: "backup begun",
            detail: format!("to {}", to.display()),
            ..Change::default()
        };
        let mut writing = self.change(at, Action::BackUp).await?;
        let written = async {
            writing.append(&change).await?;
            writing.commit().await
        };
        written.await.map_err(|error| self.failed(&error))
    }

    /// Verifies a copy. Every record hangs on an event and every event on the
    /// root, so a valid copy whose log is the beginning of this one holds
    /// exactly what this benchbook held then.
    async fn prove_copy(&self, copy: &Path) -> Result<Checkpoint, BenchbookError> {
        let found = verify(copy, None).await?;
        if let Some(first) = found.findings.first() {
            return Err(self.which_is_damaged(first).await?);
        }
        let checkpoint = found.checkpoint();
        let leaves = self.leaves().await?;
        let size = usize::try_from(checkpoint.size).unwrap_or(usize::MAX);
        let same = leaves.get(..size).is_some_and(|begin| merkle::root(begin) == checkpoint.root);
        if same && checkpoint.origin == Checkpoint::origin_of(&self.identity().await?) {
            return Ok(checkpoint);
        }
        Err(self.damaged("a copy of it has another history".to_owned()))
    }

    /// A copy does not verify: either because this benchbook does not, or
    /// because the disk of the copy did not keep what it was given.
    async fn which_is_damaged(&self, in_copy: &Finding) -> Result<BenchbookError, BenchbookError> {
        let here = verify(self.path(), None).await?;
        Ok(match here.findings.first() {
            Some(first) => self.damaged(format!("{}: {}", first.place, first.problem)),
            None => BenchbookError::DiskFailed {
                path: self.path().to_path_buf(),
                reason: format!("its copy reads back wrong: {}", in_copy.problem),
            },
        })
    }
}
