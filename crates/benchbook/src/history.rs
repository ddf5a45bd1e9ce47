//! History: every change is an event, and every event is for ever.
//!
//! An event is stored as the exact text whose hash goes into the Merkle log:
//! a JSON object with the keys `schema`, `number`, `at`, `actor`, `what`,
//! `case`, `record`, `version`, `old_sha256`, `new_sha256`, `detail`; and
//! where they say something: `subject`, `account`, `reason`.

use crate::store::connection::Connection;
use crate::store::query::query;
use serde::{Deserialize, Serialize};

use crate::log::merkle::leaf_hash;
use crate::moment::{self, Moment};

/// One change of the benchbook.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct HistoryEvent {
    /// Position in the history, counted from 1, without a gap.
    pub number: u64,
    /// When, UTC in RFC 3339.
    pub at: String,
    /// Who.
    pub actor: String,
    /// What was done, in two or three words.
    pub what: String,
    /// The case it concerns; none for the benchbook itself.
    pub case_id: Option<String>,
    /// The change in a sentence.
    pub detail: String,
    /// SHA-256 of the record that was in force before, hexadecimal.
    pub old_sha256: Option<String>,
    /// SHA-256 of the new record, hexadecimal.
    pub new_sha256: Option<String>,
    /// Kind of the record that was written; none where the event is no record.
    pub record: Option<String>,
    /// Which of its kind it is, where it has a name of its own.
    pub subject: Option<String>,
    /// Version of the record, where it has versions.
    pub version: Option<u32>,
    /// Account that did it; none in a benchbook without accounts.
    pub account: Option<String>,
    /// Why, where a rule asks for it or somebody said so.
    pub reason: Option<String>,
}

/// An event as it is stored.
#[derive(Debug, Clone, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub(crate) struct EventShape {
    pub(crate) schema: u32,
    pub(crate) number: u64,
    pub(crate) at: String,
    pub(crate) actor: String,
    pub(crate) what: String,
    pub(crate) case: Option<String>,
    pub(crate) record: Option<String>,
    pub(crate) version: Option<u32>,
    pub(crate) old_sha256: Option<String>,
    pub(crate) new_sha256: Option<String>,
    pub(crate) detail: String,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub(crate) subject: Option<String>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub(crate) account: Option<String>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub(crate) reason: Option<String>,
}

/// What is to be written down of a change.
#[derive(Debug, Clone, Default)]
pub(crate) struct Change<'a> {
    pub(crate) what: &'a str,
    pub(crate) case_id: Option<&'a str>,
    pub(crate) record: Option<&'a str>,
    pub(crate) version: Option<u32>,
    pub(crate) old_sha256: Option<String>,
    pub(crate) new_sha256: Option<String>,
    pub(crate) detail: String,
    pub(crate) subject: Option<&'a str>,
}

/// Who makes a change, when, and why.
#[derive(Debug, Clone)]
pub(crate) struct Hand {
    /// When, and the name that is written down.
    pub(crate) moment: Moment,
    /// Account behind the name.
    pub(crate) account: Option<String>,
    /// Why.
    pub(crate) reason: Option<String>,
}

/// Appends an event and gives its number. The caller holds the transaction
/// with the write lock, so numbers leave no gap.
///
/// A clock that has gone back since the last event is an event of its own:
/// the order of the history is by number, and a reader must not be misled.
pub(crate) async fn append(
    connection: &mut Connection,
    hand: &Hand,
    change: &Change<'_>,
) -> Result<i64, sqlx::Error> {
    let last = query("SELECT number, event FROM history ORDER BY number DESC LIMIT 1")
        .fetch_optional(&mut *connection)
        .await?;
    let mut number = 1;
    if let Some(row) = last {
        number = row.try_get::<i64>(0)? + 1;
        let event: String = row.try_get(1)?;
        let before = serde_json::from_str::<EventShape>(&event).map(|event| event.at);
        if let Ok(before) = before
            && moment::sort_key(&hand.moment.utc) < moment::sort_key(&before)
        {
            let back = Change {
                what: "clock went back",
                detail: format!("from {before} to {}", hand.moment.utc),
                ..Change::default()
            };
            insert(connection, number, hand, &back).await?;
            number += 1;
        }
    }
    insert(connection, number, hand, change).await?;
    Ok(number)
}

async fn insert(
    connection: &mut Connection,
    number: i64,
    hand: &Hand,
    change: &Change<'_>,
) -> Result<(), sqlx::Error> {
    let shape = EventShape {
        schema: 1,
        number: u64::try_from(number).unwrap_or(0),
        at: hand.moment.utc.clone(),
        actor: hand.moment.actor.clone(),
        what: change.what.to_owned(),
        case: change.case_id.map(str::to_owned),
        record: change.record.map(str::to_owned),
        version: change.version,
        old_sha256: change.old_sha256.clone(),
        new_sha256: change.new_sha256.clone(),
        detail: change.detail.clone(),
        subject: change.subject.map(str::to_owned),
        account: hand.account.clone(),
        // The clock's own event has no reason.
        reason: change.record.and(hand.reason.clone()),
    };
    let event = serde_json::to_string(&shape).map_err(|error| sqlx::Error::Encode(error.into()))?;
    let leaf = leaf_hash(event.as_bytes()).to_vec();
    query("INSERT INTO history (number, event, leaf, case_id) VALUES ($1, $2, $3, $4)")
        .bind(number)
        .bind(event)
        .bind(leaf)
        .bind(change.case_id)
        .execute(connection)
        .await?;
    Ok(())
}

/// The event of a stored text, where it is one.
pub(crate) fn from_text(text: &str) -> Result<HistoryEvent, serde_json::Error> {
    let shape: EventShape = serde_json::from_str(text)?;
    Ok(HistoryEvent {
        number: shape.number,
        at: shape.at,
        actor: shape.actor,
        what: shape.what,
        case_id: shape.case,
        detail: shape.detail,
        old_sha256: shape.old_sha256,
        new_sha256: shape.new_sha256,
        record: shape.record,
        subject: shape.subject,
        version: shape.version,
        account: shape.account,
        reason: shape.reason,
    })
}
