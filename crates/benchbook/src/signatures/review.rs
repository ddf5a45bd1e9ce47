//! Review of the audit trail: somebody other than the author has looked at
//! the changes of a case, and that is a record of its own.

use crate::boxed;
use crate::store::connection::Connection;
use crate::store::query::query;
use serde::{Deserialize, Serialize};

use super::state;
use crate::book::Benchbook;
use crate::entries;
use crate::errors::BenchbookError;
use crate::history::{self, HistoryEvent};
use crate::moment::Moment;
use crate::people::{Action, Refusal};
use crate::writing::Draft;

pub(super) const AUDIT_REVIEW: &str = "audit_review";

/// A change that a reviewer of the audit trail has not seen yet.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct AuditChange {
    /// The event.
    pub event: HistoryEvent,
    /// True where it changed something that was there before, which a
    /// reviewer looks at first.
    pub changes_earlier_record: bool,
}

/// A review as it is stored.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct ReviewShape {
    /// First event that was reviewed.
    pub(super) from: u64,
    /// Last event that was reviewed.
    pub(super) to: u64,
    pub(super) changes: u64,
    pub(super) account: Option<String>,
    pub(super) remarks: String,
}

impl Benchbook {
    pub(crate) async fn events_of_case(
        &self,
        connection: &mut Connection,
        case_id: &str,
    ) -> Result<Vec<HistoryEvent>, BenchbookError> {
        query("SELECT event FROM history WHERE case_id = $1 ORDER BY number")
            .bind(case_id)
            .fetch_all(connection)
            .await
            .map_err(|error| self.failed(&error))?
            .iter()
            .map(|row| {
                let text: &str = row.try_get(0).map_err(|error| self.failed(&error))?;
                history::from_text(text)
                    .map_err(|error| self.damaged(format!("an event cannot be read: {error}")))
            })
            .collect()
    }

    /// The changes of a case since the last review of its audit trail.
    ///
    /// # Errors
    /// Where there is no such case or the file cannot be read.
    #[boxed]
    pub async fn changes_to_review(
        &self,
        case_id: &str,
    ) -> Result<Vec<AuditChange>, BenchbookError> {
        let mut snapshot = self.snapshot().await?;
        self.require_case(&mut snapshot, case_id).await?;
        let seen = self.reviewed_up_to(&mut snapshot, case_id).await?;
        let events = self.events_of_case(&mut snapshot, case_id).await?;
        Ok(unseen(&events, seen))
    }

    async fn reviewed_up_to(
        &self,
        connection: &mut Connection,
        case_id: &str,
    ) -> Result<u64, BenchbookError> {
        Ok(self.reviews(connection, case_id).await?.iter().map(|one| one.to).max().unwrap_or(0))
    }

    pub(super) async fn reviews(
        &self,
        connection: &mut Connection,
        case_id: &str,
    ) -> Result<Vec<ReviewShape>, BenchbookError> {
        entries::of_kind(connection, AUDIT_REVIEW, Some(case_id))
            .await
            .map_err(|error| self.failed(&error))?
            .iter()
            .map(|entry| self.entry(AUDIT_REVIEW, &entry.body))
            .collect()
    }

    /// Records that the audit trail of a case was reviewed up to event
    /// `up_to`, with what was found. Gives the number of changes it covers.
    ///
    /// # Errors
    /// [`BenchbookError::Refused`] where there are no accounts, the hands may
    /// not, nothing is left to review, or events came in that were not shown.
    #[boxed]
    pub async fn record_audit_review(
        &self,
        case_id: &str,
        up_to: u64,
        remarks: &str,
        at: &Moment,
    ) -> Result<u64, BenchbookError> {
        let mut writing = self.change(at, Action::ReviewAuditTrail).await?;
        self.require_case(&mut writing.transaction, case_id).await?;
        let bad = |what: String| BenchbookError::from(Refusal::BadRecord { what });
        if remarks.trim().is_empty() {
            return Err(bad("a review of the audit trail needs its finding in words".to_owned()));
        }
        let seen = self.reviewed_up_to(&mut writing.transaction, case_id).await?;
        let events = self.events_of_case(&mut writing.transaction, case_id).await?;
        let changes: Vec<AuditChange> =
            unseen(&events, seen).into_iter().filter(|one| one.event.number <= up_to).collect();
        let (Some(first), Some(last)) = (changes.first(), changes.last()) else {
            return Err(bad(format!(
                "case `{case_id}` has no change after event {seen} that was not reviewed"
            )));
        };
        let shape = ReviewShape {
            from: first.event.number,
            to: last.event.number,
            changes: changes.len() as u64,
            account: writing.hand.account.clone(),
            remarks: remarks.to_owned(),
        };
        let draft = Draft {
            kind: AUDIT_REVIEW,
            subject: case_id,
            case_id: Some(case_id),
            record: &shape,
            what: "audit trail reviewed",
            detail: format!("events {} to {}: {remarks}", shape.from, shape.to),
        };
        let written = async {
            writing.put(&draft).await?;
            writing.commit().await
        };
        written.await.map_err(|error| self.failed(&error))?;
        Ok(shape.changes)
    }
}

/// Events after the last one seen that changed the state of the case.
fn unseen(events: &[HistoryEvent], seen: u64) -> Vec<AuditChange> {
    events
        .iter()
        .filter(|event| event.number > seen)
        .filter(|event| {
            event.record.as_deref().is_some_and(|record| !state::BESIDE.contains(&record))
        })
        .map(|event| AuditChange {
            event: event.clone(),
            changes_earlier_record: event.old_sha256.is_some(),
        })
        .collect()
}
