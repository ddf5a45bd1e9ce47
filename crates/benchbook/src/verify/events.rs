//! The history: no gap, every leaf the hash of its event, the cases and the
//! character as the events name them.

use std::collections::BTreeMap;

use serde::Deserialize;
use sqlx::{Row, SqliteConnection};

use super::Verification;
use crate::digest::{hex, sha256};
use crate::log::checkpoint::Checkpoint;
use crate::log::merkle::{GrowingTree, leaf_hash};
use crate::moment::sort_key;

/// Rows that are read at once.
const PAGE: i64 = 10_000;

/// What a verifier wants of an event. Other keys are covered by its hash.
#[derive(Deserialize)]
struct Event {
    number: i64,
    at: String,
    what: String,
    case: Option<String>,
    record: Option<String>,
    version: Option<i64>,
    old_sha256: Option<String>,
    new_sha256: Option<String>,
}

/// An event that names a record.
pub(super) struct NamingEvent {
    pub(super) case: Option<String>,
    pub(super) record: String,
    pub(super) version: Option<i64>,
    pub(super) old_sha256: Option<String>,
    pub(super) new_sha256: Option<String>,
    /// True once the record has been met.
    pub(super) seen: bool,
}

/// The events that name records, by number.
pub(super) struct Events {
    naming: BTreeMap<i64, NamingEvent>,
}

impl Events {
    pub(super) fn get(&mut self, number: i64) -> Option<&mut NamingEvent> {
        self.naming.get_mut(&number)
    }

    pub(super) fn naming_records(&self) -> impl Iterator<Item = (&i64, &NamingEvent)> {
        self.naming.iter()
    }
}

/// Reads the history and computes its root.
pub(super) async fn check(
    connection: &mut SqliteConnection,
    against: Option<&Checkpoint>,
    found: &mut Verification,
) -> Result<Events, sqlx::Error> {
    let mut events = Events { naming: BTreeMap::new() };
    let mut cases_added: Vec<(i64, String)> = Vec::new();
    let mut cases_named: BTreeMap<String, i64> = BTreeMap::new();
    let mut tree = GrowingTree::default();
    let mut before = String::new();
    let mut compared = against.is_none();
    let mut last = i64::MIN;
    // The empty tree is the beginning of every other.
    compare(&tree, against, &mut compared, found);
    loop {
        let rows = sqlx::query(
            "SELECT number, event, leaf, case_id FROM history WHERE number > $1 ORDER BY number \
             LIMIT $2",
        )
        .bind(last)
        .bind(PAGE)
        .fetch_all(&mut *connection)
        .await?;
        if rows.is_empty() {
            break;
        }
        for row in &rows {
            let expected = i64::try_from(tree.size()).unwrap_or(i64::MAX - 1) + 1;
            let place = || format!("event {expected}");
            let number: i64 = row.try_get(0)?;
            last = number;
            let text: &str = row.try_get(1)?;
            let leaf = leaf_hash(text.as_bytes());
            if number != expected {
                found.find(place(), format!("number {number} stands in its place"));
            }
            if row.try_get::<&[u8], _>(2)? != leaf {
                found.find(place(), "its text does not have the hash in the log");
            }
            // The tree is built from the text, never from the stored hash.
            tree.push(leaf);
            compare(&tree, against, &mut compared, found);
            let event: Event = match serde_json::from_str(text) {
                Ok(event) => event,
                Err(error) => {
                    found.find(place(), format!("its text is no event: {error}"));
                    continue;
                }
            };
            if event.number != number {
                found.find(place(), format!("its text says number {}", event.number));
            }
            if event.case != row.try_get::<Option<String>, _>(3)? {
                found.find(place(), "its case differs from the one in its text");
            }
            let at = sort_key(&event.at);
            if at < before && event.what != "clock went back" {
                found.find(place(), "it is earlier than the one before, and no event says why");
            }
            before = at;
            if let Some(case) = &event.case {
                if event.what == "case added" {
                    cases_added.push((number, case.clone()));
                }
                cases_named.entry(case.clone()).or_insert(number);
            }
            if let Some(record) = event.record {
                events.naming.insert(
                    number,
                    NamingEvent {
                        case: event.case,
                        record,
                        version: event.version,
                        old_sha256: event.old_sha256,
                        new_sha256: event.new_sha256,
                        seen: false,
                    },
                );
            }
        }
    }
    found.n_events = tree.size();
    found.root = tree.root();
    if let Some(checkpoint) = against
        && !compared
    {
        found.find(
            "checkpoint",
            format!(
                "records are missing after event {}: the checkpoint stands for {} events",
                tree.size(),
                checkpoint.size
            ),
        );
    }
    check_cases(connection, &cases_added, &cases_named, found).await?;
    check_character(connection, &mut events, found).await?;
    Ok(events)
}

/// Compares the root where the tree has the size of the checkpoint.
fn compare(
    tree: &GrowingTree,
    against: Option<&Checkpoint>,
    compared: &mut bool,
    found: &mut Verification,
) {
    let Some(checkpoint) = against else { return };
    if tree.size() != checkpoint.size {
        return;
    }
    *compared = true;
    if tree.root() != checkpoint.root {
        found.find(
            "checkpoint",
            format!("the first {} events are not those of the checkpoint", checkpoint.size),
        );
    }
}

/// The table of cases must say what the events say, in their order.
async fn check_cases(
    connection: &mut SqliteConnection,
    added: &[(i64, String)],
    named: &BTreeMap<String, i64>,
    found: &mut Verification,
) -> Result<(), sqlx::Error> {
    let rows = sqlx::query("SELECT event, id FROM cases ORDER BY number")
        .fetch_all(connection)
        .await?
        .iter()
        .map(|row| Ok((row.try_get(0)?, row.try_get(1)?)))
        .collect::<Result<Vec<(i64, String)>, sqlx::Error>>()?;
    if rows != added {
        found.find("cases", "the list of cases is not the one in the history");
    }
    for (case, event) in named {
        if !added.iter().any(|(_, id)| id == case) {
            found.find(format!("event {event}"), format!("case `{case}` was never added"));
        }
    }
    Ok(())
}

/// The first event covers what the benchbook is for ever.
async fn check_character(
    connection: &mut SqliteConnection,
    events: &mut Events,
    found: &mut Verification,
) -> Result<(), sqlx::Error> {
    let rows = sqlx::query("SELECT name, value, event FROM character ORDER BY name")
        .fetch_all(connection)
        .await?;
    let mut lines = String::new();
    let mut first = true;
    for row in &rows {
        let (name, value): (&str, &str) = (row.try_get(0)?, row.try_get(1)?);
        lines.push_str(&format!("{name}={value}\n"));
        first &= row.try_get::<i64, _>(2)? == 1;
        if name == "identity" {
            found.identity = value.to_owned();
        }
    }
    let hash = Some(hex(&sha256(lines.as_bytes())));
    match events.get(1) {
        Some(event) if event.record == "character" && event.new_sha256 == hash && first => {
            event.seen = true;
        }
        _ => found.find("character", "it is not what the first event says"),
    }
    Ok(())
}
