//! Entries: every version is there, has its hash, and is the one that its
//! event names; attached files have theirs. Log keys are followed from one to
//! the next.

use crate::store::query::query;
use std::collections::BTreeMap;
use std::io::Read;

use crate::store::connection::Connection;

use super::Verification;
use super::events::Events;
use super::pages;
use crate::digest::{hex, sha256};
use crate::log::key::{LogKeyShape, statement};
use crate::log::note::{VerifierKey, read_note};
use crate::people::AccountShape;
use crate::signatures::SignatureShape;
use crate::stored::entry_from_text;

/// Rows that are read at once.
const PAGE: i64 = 500;

/// A signature as it was found.
pub(super) struct FoundSignature {
    pub(super) event: i64,
    pub(super) case_id: Option<String>,
    pub(super) shape: SignatureShape,
}

/// What later checks want of the entries.
#[derive(Default)]
pub(super) struct Entries {
    /// Versions of each account with their events, oldest first.
    pub(super) accounts: BTreeMap<String, Vec<(i64, AccountShape)>>,
    /// Keys of the log with their events, oldest first.
    pub(super) log_keys: Vec<(i64, VerifierKey)>,
    pub(super) signatures: Vec<FoundSignature>,
    /// Files that entries name, by hash in hexadecimal, with the first event.
    files: BTreeMap<String, i64>,
}

/// Checks the tables `entries` and `files`.
pub(super) async fn check(
    connection: &mut Connection,
    events: &mut Events,
    found: &mut Verification,
) -> Result<Entries, sqlx::Error> {
    let mut entries = Entries::default();
    // Kind, subject, version and hash of the row before.
    let mut before: (String, String, i64, [u8; 32]) = Default::default();
    let mut offset = 0;
    loop {
        let rows = query(
            "SELECT kind, subject, version, case_id, body, sha256, event FROM entries ORDER BY \
             kind, subject, version LIMIT $1 OFFSET $2",
        )
        .bind(PAGE)
        .bind(offset)
        .fetch_all(&mut *connection)
        .await?;
        if rows.is_empty() {
            break;
        }
        offset += PAGE;
        for row in &rows {
            found.n_entries += 1;
            let (kind, subject): (String, String) = (row.try_get(0)?, row.try_get(1)?);
            let (version, event): (i64, i64) = (row.try_get(2)?, row.try_get(6)?);
            let case: Option<&str> = row.try_get(3)?;
            let body: &str = row.try_get(4)?;
            let place = format!("{kind} `{subject}` version {version}");
            let hash = sha256(body.as_bytes());
            if row.try_get::<&[u8]>(5)? != hash {
                found.find(&place, "its text does not have its hash");
            }
            let follows = before.0 == kind && before.1 == subject;
            let (last, old) = if follows { (before.2, Some(before.3)) } else { (0, None) };
            if version != last + 1 {
                found.find(&place, format!("version {} is missing before it", last + 1));
            }
            match events.get(event) {
                Some(naming)
                    if naming.case.as_deref() == case
                        && *naming.record == *kind
                        && naming.subject.as_deref() == Some(subject.as_str())
                        && naming.version == Some(version)
                        && naming.old_sha256 == old
                        && naming.new_sha256 == Some(hash)
                        && !naming.seen =>
                {
                    naming.seen = true;
                }
                _ => found.find(&place, format!("event {event} does not name this record")),
            }
            if !entries.take(&kind, &subject, case, event, body) {
                found.find(&place, "its text is that of another record");
            }
            before = (kind, subject, version, hash);
        }
    }
    check_log_keys(connection, &mut entries, found).await?;
    check_files(connection, &entries.files, found).await?;
    Ok(entries)
}

impl Entries {
    /// Keeps what later checks want; false where the text is not of its kind.
    fn take(
        &mut self,
        kind: &str,
        subject: &str,
        case: Option<&str>,
        event: i64,
        body: &str,
    ) -> bool {
        match kind {
            "account" => {
                let Ok(shape) = entry_from_text::<AccountShape>(kind, body) else { return false };
                if shape.id != subject {
                    return false;
                }
                self.accounts.entry(subject.to_owned()).or_default().push((event, shape));
            }
            "signature" => {
                let Ok(shape) = entry_from_text(kind, body) else { return false };
                let case_id = case.map(str::to_owned);
                self.signatures.push(FoundSignature { event, case_id, shape });
            }
            _ => {
                let Ok(value) = entry_from_text::<serde_json::Value>(kind, body) else {
                    return false;
                };
                if let Some(hash) = value.get("file_sha256").and_then(serde_json::Value::as_str) {
                    let first = self.files.entry(hash.to_owned()).or_insert(event);
                    *first = event.min(*first);
                }
            }
        }
        true
    }
}

/// Each key of the log follows the one before: the statement names both, is
/// signed by the new one, and, where it was at hand, by the old one.
async fn check_log_keys(
    connection: &mut Connection,
    entries: &mut Entries,
    found: &mut Verification,
) -> Result<(), sqlx::Error> {
    let rows = query("SELECT event, body FROM entries WHERE kind = 'log_key' ORDER BY version")
        .fetch_all(connection)
        .await?;
    for row in &rows {
        let event: i64 = row.try_get(0)?;
        let place = format!("log key under event {event}");
        let shape = entry_from_text::<LogKeyShape>("log_key", row.try_get(1)?).ok();
        let read = shape.and_then(|shape| Some((VerifierKey::from_text(&shape.key)?, shape)));
        let Some((key, shape)) = read else {
            found.find(place, "it is not of its form");
            continue;
        };
        let before = entries.log_keys.last().map(|(_, key)| key);
        let note = format!("{}\n{}", shape.statement, shape.signatures);
        let signatures = read_note(&note).map(|(_, signatures)| signatures).unwrap_or_default();
        if shape.statement != statement(&key, before)
            || !signatures.iter().any(|one| key.signed(&shape.statement, one))
        {
            found.find(&place, "it did not sign that it takes over");
        }
        // A line of the old key may be missing, but not be wrong.
        for line in signatures.iter().filter(|one| one.key_id != key.id()) {
            if !before.is_some_and(|before| before.signed(&shape.statement, line)) {
                found.find(&place, "the signature of the key before it is wrong");
            }
        }
        entries.log_keys.push((event, key));
    }
    Ok(())
}

/// Files have their hash, came in with the first entry that names them, and
/// none is missing.
async fn check_files(
    connection: &mut Connection,
    named: &BTreeMap<String, i64>,
    found: &mut Verification,
) -> Result<(), sqlx::Error> {
    let mut missing = named.clone();
    let mut last = i64::MIN;
    loop {
        let row = query(
            "SELECT id, sha256, n, encoding, bytes, event FROM files WHERE id > $1 ORDER BY id \
             LIMIT 1",
        )
        .bind(last)
        .fetch_optional(&mut *connection)
        .await?;
        let Some(row) = row else { break };
        last = pages::later(last, row.try_get(0)?)?;
        let (hash, n): (&[u8], i64) = (row.try_get(1)?, row.try_get(2)?);
        let place = format!("file {}", hex(hash));
        let stored: &[u8] = row.try_get(4)?;
        let bytes = match row.try_get::<&str>(3)? {
            "raw" => Some(stored.to_vec()),
            "zlib" => {
                let mut bytes = Vec::new();
                let limit = u64::try_from(n).unwrap_or(0).saturating_add(1);
                let inflated =
                    flate2::read::ZlibDecoder::new(stored).take(limit).read_to_end(&mut bytes);
                inflated.is_ok().then_some(bytes)
            }
            _ => None,
        };
        let right = bytes.is_some_and(|bytes| {
            i64::try_from(bytes.len()) == Ok(n) && sha256(&bytes).as_slice() == hash
        });
        if !right {
            found.find(&place, "its bytes do not have their hash");
        }
        if missing.remove(&hex(hash)) != Some(row.try_get(5)?) {
            found.find(&place, "it did not come in with the record that names it");
        }
    }
    for hash in missing.keys() {
        found.find(format!("file {hash}"), "it is missing");
    }
    Ok(())
}
