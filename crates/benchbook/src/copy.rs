//! Copying a case from one benchbook to another, and the proof that it is
//! equal there.
//!
//! Every version of every record, every run, sample, attached file and record
//! of a unit comes over with the same text and so the same hash, under events
//! of the new benchbook that say where each was first written. Signatures and
//! reviews stay: they are bound to the log in which they were given.

use crate::boxed;
use crate::store::query::query;
use std::collections::BTreeMap;

use crate::store::connection::Connection;
use serde_json::Value;

use crate::book::Benchbook;
use crate::digest::{hex, sha256, unhex};
use crate::errors::BenchbookError;
use crate::history::{Change, HistoryEvent};
use crate::moment::Moment;
use crate::people::Action;
use crate::signatures::state::BESIDE;
use crate::writing::Writing;

/// What was copied, and the hash that both sides share.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct CopyProof {
    /// Versions of records.
    pub n_records: u64,
    /// Runs.
    pub n_runs: u64,
    /// Versions of other entries.
    pub n_entries: u64,
    /// SHA-256 over the content of the case, hexadecimal, equal on both sides.
    pub content_sha256: String,
}

impl Benchbook {
    /// Copies a case into another benchbook and compares the two.
    ///
    /// # Errors
    /// Where there is no such case, the other benchbook has one of this name,
    /// its hands may not, something does not have its hash, or a file cannot
    /// be read or written. Nothing half-copied is left.
    #[boxed]
    pub async fn copy_case(
        &self,
        case_id: &str,
        into: &Self,
        at: &Moment,
    ) -> Result<CopyProof, BenchbookError> {
        // Reading the case compares every text and sample with its hash.
        let case = self.case(case_id).await?;
        let origin = format!("isobar/benchbook/{}", self.identity().await?);
        let mut snapshot = self.snapshot().await?;
        let events = self.events_of_case(&mut snapshot, case_id).await?;
        let mut writing = into.change(at, Action::AddRuns).await?;
        into.permit(&mut writing, Action::Work).await?;
        let taken = query("SELECT 1 FROM cases WHERE id = $1")
            .bind(case_id)
            .fetch_optional(&mut writing.transaction)
            .await
            .map_err(|error| into.failed(&error))?;
        if taken.is_some() {
            return Err(BenchbookError::CaseExists { id: case_id.to_owned() });
        }
        for event in &events {
            let Some(record) = event.record.as_deref() else { continue };
            if BESIDE.contains(&record) && record != "open_item" {
                continue;
            }
            let copied = copy_event(&mut snapshot, &mut writing, case_id, event, &origin);
            copied.await.map_err(|error| into.failed(&error))?;
        }
        // Compared before it is kept: an unequal copy is none.
        let here = self.content(&mut snapshot, case_id).await?;
        let there = into.content(&mut writing.transaction, case_id).await?;
        if here != there || into.read_whole(&mut writing.transaction, case_id).await? != case {
            return Err(into.damaged(format!("the copy of case `{case_id}` is not equal")));
        }
        writing.commit().await.map_err(|error| into.failed(&error))?;
        Ok(here)
    }

    /// Numbers and hash of what a case holds.
    async fn content(
        &self,
        connection: &mut Connection,
        case_id: &str,
    ) -> Result<CopyProof, BenchbookError> {
        let mut lines: Vec<String> = Vec::new();
        let mut counts = BTreeMap::new();
        for (table, sql) in [
            (
                "records",
                "SELECT kind || ' ' || version, sha256 FROM records WHERE case_id = $1 ORDER BY \
                 kind, version",
            ),
            (
                "runs",
                // By the number of the table: PostgreSQL calls the text `number` too.
                "SELECT CAST(number AS TEXT), sha256 FROM runs WHERE case_id = $1 ORDER BY \
                 runs.number",
            ),
            (
                "entries",
                "SELECT kind || ' ' || subject || ' ' || version, sha256 FROM entries WHERE \
                 case_id = $1 AND kind NOT IN ('signature', 'audit_review') ORDER BY kind, \
                 subject, version",
            ),
        ] {
            if table == "entries"
                && !crate::entries::are_there(connection)
                    .await
                    .map_err(|error| self.failed(&error))?
            {
                continue;
            }
            let rows = query(sql)
                .bind(case_id)
                .fetch_all(&mut *connection)
                .await
                .map_err(|error| self.failed(&error))?;
            counts.insert(table, rows.len() as u64);
            for row in rows {
                let name: String = row.try_get(0).map_err(|error| self.failed(&error))?;
                let hash: Vec<u8> = row.try_get(1).map_err(|error| self.failed(&error))?;
                lines.push(format!("{table} {name} {}\n", hex(&hash)));
            }
        }
        let count = |table| counts.get(table).copied().unwrap_or(0);
        Ok(CopyProof {
            n_records: count("records"),
            n_runs: count("runs"),
            n_entries: count("entries"),
            content_sha256: hex(&sha256(lines.concat().as_bytes())),
        })
    }
}

/// Copies what one event wrote.
async fn copy_event(
    from: &mut Connection,
    writing: &mut Writing,
    case_id: &str,
    event: &HistoryEvent,
    origin: &str,
) -> Result<(), sqlx::Error> {
    let record = event.record.as_deref().unwrap_or_default();
    let old_number = i64::try_from(event.number).unwrap_or(i64::MAX);
    let reason = event.reason.as_ref().map_or_else(String::new, |why| format!(", because {why}"));
    let detail = format!(
        "{} (copied: event {} of {origin}, at {} by {}{reason})",
        event.detail, event.number, event.at, event.actor
    );
    let number = writing
        .append(&Change {
            what: &event.what,
            case_id: Some(case_id),
            record: Some(record),
            subject: event.subject.as_deref(),
            version: event.version,
            old_sha256: event.old_sha256.clone(),
            new_sha256: event.new_sha256.clone(),
            detail,
        })
        .await?;
    if event.what == "case added" {
        query("INSERT INTO cases (id, event) VALUES ($1, $2)")
            .bind(case_id)
            .bind(number)
            .execute(&mut writing.transaction)
            .await?;
    }
    for row in
        query("SELECT kind, version, body, sha256 FROM records WHERE case_id = $1 AND event = $2")
            .bind(case_id)
            .bind(old_number)
            .fetch_all(&mut *from)
            .await?
    {
        query(
            "INSERT INTO records (case_id, kind, version, body, sha256, event) VALUES ($1, $2, \
             $3, $4, $5, $6)",
        )
        .bind(case_id)
        .bind(row.try_get::<String>(0)?)
        .bind(row.try_get::<i64>(1)?)
        .bind(row.try_get::<String>(2)?)
        .bind(row.try_get::<Vec<u8>>(3)?)
        .bind(number)
        .execute(&mut writing.transaction)
        .await?;
    }
    if record == "run" {
        return copy_runs(from, writing, case_id, (old_number, number)).await;
    }
    if crate::entries::are_there(from).await? {
        copy_entry(from, writing, case_id, (old_number, number)).await?;
    }
    Ok(())
}

async fn copy_entry(
    from: &mut Connection,
    writing: &mut Writing,
    case_id: &str,
    (old_number, number): (i64, i64),
) -> Result<(), sqlx::Error> {
    for row in query(
        "SELECT kind, subject, version, body, sha256 FROM entries WHERE case_id = $1 AND event = \
         $2",
    )
    .bind(case_id)
    .bind(old_number)
    .fetch_all(&mut *from)
    .await?
    {
        let body: String = row.try_get(3)?;
        query(
            "INSERT INTO entries (kind, subject, version, case_id, body, sha256, event) VALUES \
             ($1, $2, $3, $4, $5, $6, $7)",
        )
        .bind(row.try_get::<String>(0)?)
        .bind(row.try_get::<String>(1)?)
        .bind(row.try_get::<i64>(2)?)
        .bind(case_id)
        .bind(&body)
        .bind(row.try_get::<Vec<u8>>(4)?)
        .bind(number)
        .execute(&mut writing.transaction)
        .await?;
        let value: Value = serde_json::from_str(&body).unwrap_or(Value::Null);
        let Some(hash) = value.pointer("/record/file_sha256").and_then(Value::as_str) else {
            continue;
        };
        for file in query("SELECT sha256, n, encoding, bytes FROM files WHERE sha256 = $1")
            .bind(unhex(hash).unwrap_or_default())
            .fetch_all(&mut *from)
            .await?
        {
            query(
                "INSERT INTO files (sha256, n, encoding, bytes, event) SELECT $1, $2, $3, $4, $5 \
                 WHERE NOT EXISTS (SELECT 1 FROM files WHERE sha256 = $1)",
            )
            .bind(file.try_get::<Vec<u8>>(0)?)
            .bind(file.try_get::<i64>(1)?)
            .bind(file.try_get::<String>(2)?)
            .bind(file.try_get::<Vec<u8>>(3)?)
            .bind(number)
            .execute(&mut writing.transaction)
            .await?;
        }
    }
    Ok(())
}

async fn copy_runs(
    from: &mut Connection,
    writing: &mut Writing,
    case_id: &str,
    (old_number, number): (i64, i64),
) -> Result<(), sqlx::Error> {
    let rows = query(
        "SELECT number, body, sha256 FROM runs WHERE case_id = $1 AND event = $2 ORDER BY id",
    )
    .bind(case_id)
    .bind(old_number)
    .fetch_all(&mut *from)
    .await?;
    for row in rows {
        let run: i64 = row.try_get(0)?;
        query(
            "INSERT INTO runs (case_id, number, body, sha256, event) VALUES ($1, $2, $3, $4, $5)",
        )
        .bind(case_id)
        .bind(run)
        .bind(row.try_get::<String>(1)?)
        .bind(row.try_get::<Vec<u8>>(2)?)
        .bind(number)
        .execute(&mut writing.transaction)
        .await?;
        for row in query(
            "SELECT name, n, encoding, bytes, sha256 FROM channels WHERE case_id = $1 AND run = $2",
        )
        .bind(case_id)
        .bind(run)
        .fetch_all(&mut *from)
        .await?
        {
            query(
                "INSERT INTO channels (case_id, run, name, n, encoding, bytes, sha256) VALUES \
                 ($1, $2, $3, $4, $5, $6, $7)",
            )
            .bind(case_id)
            .bind(run)
            .bind(row.try_get::<String>(0)?)
            .bind(row.try_get::<i64>(1)?)
            .bind(row.try_get::<String>(2)?)
            .bind(row.try_get::<Vec<u8>>(3)?)
            .bind(row.try_get::<Vec<u8>>(4)?)
            .execute(&mut writing.transaction)
            .await?;
        }
        if !crate::entries::are_there(from).await? {
            continue;
        }
        for row in query("SELECT encoding, bytes FROM samples WHERE case_id = $1 AND run = $2")
            .bind(case_id)
            .bind(run)
            .fetch_all(&mut *from)
            .await?
        {
            query("INSERT INTO samples (case_id, run, encoding, bytes) VALUES ($1, $2, $3, $4)")
                .bind(case_id)
                .bind(run)
                .bind(row.try_get::<String>(0)?)
                .bind(row.try_get::<Vec<u8>>(1)?)
                .execute(&mut writing.transaction)
                .await?;
        }
    }
    Ok(())
}
