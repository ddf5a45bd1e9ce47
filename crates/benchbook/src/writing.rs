//! One change: a transaction with the write lock, the hand that makes it, and
//! the events and rows that it leaves.

use serde::Serialize;

use crate::digest::{hex, sha256};
use crate::entries;
use crate::history::{self, Change, Hand};
use crate::store::query::query;
use crate::store::writer::OpenChange;
use crate::stored;

/// A change that is being made. Dropped without [`Writing::commit`], nothing
/// of it is kept.
pub(crate) struct Writing {
    pub(crate) transaction: OpenChange,
    pub(crate) hand: Hand,
}

/// A new version of an entry.
pub(crate) struct Draft<'a, S> {
    /// Kind of the entry, which is also the `record` of its event.
    pub(crate) kind: &'static str,
    /// Which of its kind.
    pub(crate) subject: &'a str,
    /// The case it belongs to.
    pub(crate) case_id: Option<&'a str>,
    /// What is kept.
    pub(crate) record: &'a S,
    /// What was done, in two or three words.
    pub(crate) what: &'a str,
    /// The change in a sentence.
    pub(crate) detail: String,
}

impl Writing {
    /// Appends an event and gives its number.
    pub(crate) async fn append(&mut self, change: &Change<'_>) -> Result<i64, sqlx::Error> {
        history::append(&mut self.transaction, &self.hand, change).await
    }

    /// Writes the next version of an entry under an event of its own, and
    /// gives the number of the event.
    pub(crate) async fn put<S: Serialize>(
        &mut self,
        draft: &Draft<'_, S>,
    ) -> Result<i64, sqlx::Error> {
        let body = stored::entry_text(draft.kind, draft.record)
            .map_err(|error| sqlx::Error::Encode(error.0.into()))?;
        let hash = sha256(body.as_bytes());
        let before = entries::newest(&mut self.transaction, draft.kind, draft.subject).await?;
        let version = before.as_ref().map_or(0, |before| before.version) + 1;
        let event = self
            .append(&Change {
                what: draft.what,
                case_id: draft.case_id,
                record: Some(draft.kind),
                subject: Some(draft.subject),
                version: u32::try_from(version).ok(),
                old_sha256: before.map(|before| hex(&sha256(before.body.as_bytes()))),
                new_sha256: Some(hex(&hash)),
                detail: draft.detail.clone(),
            })
            .await?;
        query(
            "INSERT INTO entries (kind, subject, version, case_id, body, sha256, event) VALUES \
             ($1, $2, $3, $4, $5, $6, $7)",
        )
        .bind(draft.kind)
        .bind(draft.subject)
        .bind(version)
        .bind(draft.case_id)
        .bind(body)
        .bind(hash.to_vec())
        .bind(event)
        .execute(&mut self.transaction)
        .await?;
        Ok(event)
    }

    /// Keeps the change. It has reached the disk when this returns.
    pub(crate) async fn commit(self) -> Result<(), sqlx::Error> {
        self.transaction.commit().await
    }
}
