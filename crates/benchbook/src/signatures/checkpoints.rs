//! Signed checkpoints and the keys of the log.

use crate::boxed;
use crate::store::connection::Connection;
use crate::store::query::query;
use serde::{Deserialize, Serialize};

use crate::book::Benchbook;
use crate::entries;
use crate::errors::BenchbookError;
use crate::log::checkpoint::Checkpoint;
use crate::log::key::{self, LogKey, LogKeyShape};
use crate::log::merkle::{GrowingTree, Hash};
use crate::log::note::{SignedCheckpoint, VerifierKey};
use crate::moment::Moment;
use crate::people::{Action, Refusal};
use crate::writing::{Draft, Writing};

/// Kind of the entries of signed checkpoints; their one subject is `log`.
pub(crate) const CHECKPOINT: &str = "checkpoint";

/// A signed checkpoint as it is stored.
#[derive(Debug, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub(crate) struct CheckpointShape {
    /// Number of events it stands for: those before its own.
    pub(crate) size: u64,
    /// The signed note.
    pub(crate) note: String,
}

impl Benchbook {
    /// The public keys of the log, oldest first; the last one signs now. Empty
    /// before there is one.
    ///
    /// # Errors
    /// Where the file cannot be read or a record is damaged.
    #[boxed]
    pub async fn log_keys(&self) -> Result<Vec<VerifierKey>, BenchbookError> {
        let mut snapshot = self.snapshot().await?;
        entries::of_kind(&mut snapshot, key::KIND, None)
            .await
            .map_err(|error| self.failed(&error))?
            .iter()
            .map(|entry| {
                let shape: LogKeyShape = self.entry(key::KIND, &entry.body)?;
                VerifierKey::from_text(&shape.key)
                    .ok_or_else(|| self.damaged("a log key is not of its form".to_owned()))
            })
            .collect()
    }

    /// Begins the key of the log, or lets a new one take over. `old` is the
    /// secret key in use, where it is at hand: it signs the change, and where
    /// it does not, everybody sees that. Taking over needs a reason.
    ///
    /// # Errors
    /// [`BenchbookError::Refused`] where the key is of another benchbook, the
    /// hands may not, or no reason was given; otherwise where the file cannot
    /// be written.
    #[boxed]
    pub async fn take_log_key(
        &self,
        new: &LogKey,
        old: Option<&LogKey>,
        at: &Moment,
    ) -> Result<(), BenchbookError> {
        if new.identity() != self.identity().await? {
            let reason = "it is that of another benchbook".to_owned();
            return Err(Refusal::NoLogKey { reason }.into());
        }
        let before = self.log_keys().await?.pop();
        let mut writing = self.change(at, Action::KeepLogKey).await?;
        if before.is_some() && writing.hand.reason.is_none() {
            return Err(Refusal::NeedsReason { what: "a change of the log key".to_owned() }.into());
        }
        let old = old.filter(|old| Some(old.verifier()) == before);
        let written = async {
            key::put(&mut writing, new, before.as_ref().map(|before| (before, old))).await?;
            writing.commit().await
        };
        written.await.map_err(|error| self.failed(&error))
    }

    /// Signs the log as it stands, keeps the checkpoint in the benchbook as an
    /// event of its own, and gives it. Where nothing happened since the last
    /// one, that is given.
    ///
    /// # Errors
    /// [`BenchbookError::Refused`] where the key is not the one in force or
    /// the hands may not; otherwise where the file cannot be read or written.
    #[boxed]
    pub async fn keep_checkpoint(
        &self,
        log_key: &LogKey,
        at: &Moment,
    ) -> Result<SignedCheckpoint, BenchbookError> {
        let mut writing = self.change(at, Action::MakeCheckpoints).await?;
        let signed = self.put_checkpoint(&mut writing, log_key).await?;
        writing.commit().await.map_err(|error| self.failed(&error))?;
        Ok(signed)
    }

    /// As [`Benchbook::keep_checkpoint`], within a change.
    pub(super) async fn put_checkpoint(
        &self,
        writing: &mut Writing,
        log_key: &LogKey,
    ) -> Result<SignedCheckpoint, BenchbookError> {
        let failed = |error: sqlx::Error| self.failed(&error);
        let in_force = entries::newest(&mut writing.transaction, key::KIND, key::SUBJECT)
            .await
            .map_err(failed)?
            .map(|entry| self.entry::<LogKeyShape>(key::KIND, &entry.body))
            .transpose()?;
        if in_force.map(|shape| shape.key) != Some(log_key.verifier().text()) {
            let reason = "the key in force is another one".to_owned();
            return Err(Refusal::NoLogKey { reason }.into());
        }
        let (size, root) = root(&mut writing.transaction).await.map_err(failed)?;
        let before =
            entries::newest(&mut writing.transaction, CHECKPOINT, "log").await.map_err(failed)?;
        if let Some(before) = before.filter(|before| u64::try_from(before.event) == Ok(size)) {
            let shape: CheckpointShape = self.entry(CHECKPOINT, &before.body)?;
            return SignedCheckpoint::from_text(&shape.note)
                .map_err(|error| self.damaged(error.to_string()));
        }
        let signed = log_key.sign(&Checkpoint::new(log_key.identity(), size, root));
        let shape = CheckpointShape { size, note: signed.text() };
        let draft = Draft {
            kind: CHECKPOINT,
            subject: "log",
            case_id: None,
            record: &shape,
            what: "checkpoint signed",
            detail: format!("over {size} events, by key {:08x}", log_key.verifier().id()),
        };
        writing.put(&draft).await.map_err(failed)?;
        Ok(signed)
    }
}

/// Size and root of the log within a change.
pub(super) async fn root(connection: &mut Connection) -> Result<(u64, Hash), sqlx::Error> {
    let mut tree = GrowingTree::default();
    for row in query("SELECT leaf FROM history ORDER BY number").fetch_all(connection).await? {
        let leaf: &[u8] = row.try_get(0)?;
        let leaf: Hash = leaf
            .try_into()
            .map_err(|_| sqlx::Error::Decode("a hash of the log is damaged".into()))?;
        tree.push(leaf);
    }
    Ok((tree.size(), tree.root()))
}
