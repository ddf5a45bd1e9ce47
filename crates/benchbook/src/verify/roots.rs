//! Roots that somebody has claimed: a checkpoint from outside, the signed
//! checkpoints in the file, and the root that each signature names.

use crate::store::query::query;
use std::collections::BTreeMap;

use crate::store::connection::Connection;

use super::Verification;
use super::entries::Entries;
use crate::log::base64;
use crate::log::checkpoint::Checkpoint;
use crate::log::merkle::{GrowingTree, Hash};
use crate::log::note::SignedCheckpoint;
use crate::signatures::{CHECKPOINT, CheckpointShape, SignatureShape, Statement};
use crate::stored::entry_from_text;

/// A claim: the first `size` events have this root.
struct Claim {
    place: String,
    root: Hash,
}

/// Claims by size, which are taken off as the tree grows past them.
pub(super) struct Claims {
    by_size: BTreeMap<u64, Vec<Claim>>,
}

impl Claims {
    /// No claims.
    pub(super) const fn none() -> Self {
        Self { by_size: BTreeMap::new() }
    }

    /// Compares where the tree has the size of a claim.
    pub(super) fn compare(&mut self, tree: &GrowingTree, found: &mut Verification) {
        if self.by_size.first_key_value().is_none_or(|(size, _)| *size > tree.size()) {
            return;
        }
        for claim in self.by_size.remove(&tree.size()).unwrap_or_default() {
            if tree.root() != claim.root {
                let what = format!("the first {} events are not those it stands for", tree.size());
                found.find(claim.place, what);
            }
        }
    }

    /// What is left when the tree has ended.
    pub(super) fn end(&mut self, size: u64, found: &mut Verification) {
        for (claimed, claims) in std::mem::take(&mut self.by_size) {
            for claim in claims {
                let what = format!(
                    "records are missing after event {size}: it stands for {claimed} events"
                );
                found.find(claim.place, what);
            }
        }
    }
}

/// Gathers the claims before the history is read.
pub(super) async fn claimed(
    connection: &mut Connection,
    shape: u32,
    against: Option<&SignedCheckpoint>,
    found: &mut Verification,
) -> Result<Claims, sqlx::Error> {
    let mut by_size: BTreeMap<u64, Vec<Claim>> = BTreeMap::new();
    let mut claim = |size: u64, place: String, root: Hash| {
        by_size.entry(size).or_default().push(Claim { place, root });
    };
    if let Some(Checkpoint { size, root, .. }) = against.map(|signed| &signed.checkpoint) {
        claim(*size, "checkpoint".to_owned(), *root);
    }
    if shape >= 2 {
        for (event, shape) in checkpoints(connection).await? {
            found.n_checkpoints += 1;
            let place = format!("checkpoint under event {event}");
            let signed = shape.and_then(|shape| {
                let signed = SignedCheckpoint::from_text(&shape.note).ok()?;
                (signed.checkpoint.size == shape.size).then_some(signed)
            });
            // It stands for the events before its own; one may say between
            // them that the clock went back.
            match signed {
                Some(SignedCheckpoint { checkpoint, .. })
                    if i64::try_from(checkpoint.size)
                        .is_ok_and(|size| (event - 2..event).contains(&size)) =>
                {
                    claim(checkpoint.size, place, checkpoint.root);
                }
                _ => found.find(place, "it is not of its form or stands in another place"),
            }
        }
        let rows = query("SELECT event, body FROM entries WHERE kind = 'signature'")
            .fetch_all(connection)
            .await?;
        for row in &rows {
            // What is not of its form is found where signatures are checked.
            let Ok(shape) = entry_from_text::<SignatureShape>("signature", row.try_get(1)?) else {
                continue;
            };
            let Some(statement) = Statement::from_text(&shape.statement) else { continue };
            let root = base64::decode(&statement.log_root).and_then(|root| root.try_into().ok());
            if let Some(root) = root {
                let place = format!("signature under event {}", row.try_get::<i64>(0)?);
                claim(statement.log_size, place, root);
            }
        }
    }
    Ok(Claims { by_size })
}

/// The checkpoints in the file must carry a signature of a key of the log;
/// one from outside may be without, but a wrong signature is found.
pub(super) async fn check_signatures(
    connection: &mut Connection,
    entries: &Entries,
    against: Option<&SignedCheckpoint>,
    found: &mut Verification,
) -> Result<(), sqlx::Error> {
    found.log_keys = entries.log_keys.iter().map(|(_, key)| key.text()).collect();
    let origin = Checkpoint::origin_of(&found.identity);
    for (event, shape) in checkpoints(connection).await? {
        let place = format!("checkpoint under event {event}");
        let signed = shape.and_then(|shape| SignedCheckpoint::from_text(&shape.note).ok());
        let Some(signed) = signed else { continue };
        // The key in force when the log had this size.
        let key = entries.log_keys.iter().rev().find(|(key_event, _)| *key_event < event);
        if signed.checkpoint.origin != origin {
            found.find(&place, "it is of another benchbook");
        }
        if !key.is_some_and(|(_, key)| signed.is_signed_by(key)) {
            found.find(&place, "it is not signed by the log key that was in force");
        }
    }
    if let Some(signed) = against {
        for signature in &signed.signatures {
            let Some((_, key)) = entries
                .log_keys
                .iter()
                .find(|(_, key)| key.name == signature.name && key.id() == signature.key_id)
            else {
                // Others may have signed too; their keys are not known here.
                continue;
            };
            if key.signed(&signed.body, signature) {
                found.against_signed_by = Some(key.text());
            } else {
                found.find("checkpoint", "its signature is wrong");
            }
        }
    }
    Ok(())
}

/// The checkpoints in the file with their events; `None` where one is not of
/// its form.
async fn checkpoints(
    connection: &mut Connection,
) -> Result<Vec<(i64, Option<CheckpointShape>)>, sqlx::Error> {
    query("SELECT event, body FROM entries WHERE kind = 'checkpoint' ORDER BY version")
        .fetch_all(connection)
        .await?
        .iter()
        .map(|row| Ok((row.try_get(0)?, entry_from_text(CHECKPOINT, row.try_get(1)?).ok())))
        .collect()
}
