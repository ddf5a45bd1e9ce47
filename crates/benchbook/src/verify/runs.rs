//! Runs and their samples: each batch is the one that its event names, each
//! column the one that its run names.

use std::collections::BTreeMap;

use serde::Deserialize;
use sqlx::{Row, SqliteConnection};

use super::Verification;
use super::events::Events;
use crate::digest::{hex, sha256};

/// Rows that are read at once.
const PAGE: i64 = 1_000;

#[derive(Deserialize)]
struct Stored {
    kind: String,
    record: Run,
}

#[derive(Deserialize)]
struct Run {
    number: i64,
    channels: Vec<Channel>,
}

#[derive(Deserialize)]
struct Channel {
    name: String,
    n: i64,
    sha256: String,
}

/// Columns that the runs name: number of samples and hash, by case, run, name.
type Named = BTreeMap<(String, i64, String), (i64, String)>;

/// Checks the tables `runs` and `channels`.
pub(super) async fn check(
    connection: &mut SqliteConnection,
    events: &mut Events,
    found: &mut Verification,
) -> Result<(), sqlx::Error> {
    let named = check_runs(connection, events, found).await?;
    check_channels(connection, named, found).await
}

async fn check_runs(
    connection: &mut SqliteConnection,
    events: &mut Events,
    found: &mut Verification,
) -> Result<Named, sqlx::Error> {
    let mut named = Named::new();
    // Lines of each batch, `number hash`, in the order in which they came in.
    let mut batches: BTreeMap<i64, (String, String)> = BTreeMap::new();
    let mut last_id = i64::MIN;
    loop {
        let rows = sqlx::query(
            "SELECT id, case_id, number, body, sha256, event FROM runs WHERE id > $1 ORDER BY id \
             LIMIT $2",
        )
        .bind(last_id)
        .bind(PAGE)
        .fetch_all(&mut *connection)
        .await?;
        if rows.is_empty() {
            break;
        }
        for row in &rows {
            found.n_runs += 1;
            last_id = row.try_get(0)?;
            let case: String = row.try_get(1)?;
            let (number, event): (i64, i64) = (row.try_get(2)?, row.try_get(5)?);
            let body: &str = row.try_get(3)?;
            let place = || format!("run {number} of case `{case}`");
            let hash = sha256(body.as_bytes());
            if row.try_get::<&[u8], _>(4)? != hash {
                found.find(place(), "its text does not have its hash");
            }
            let batch = batches.entry(event).or_insert_with(|| (case.clone(), String::new()));
            if batch.0 != case {
                found.find(place(), format!("event {event} added runs of another case"));
            }
            batch.1.push_str(&format!("{number} {}\n", hex(&hash)));
            match serde_json::from_str::<Stored>(body) {
                Ok(stored) if stored.kind == "run" && stored.record.number == number => {
                    for channel in stored.record.channels {
                        let key = (case.clone(), number, channel.name);
                        named.insert(key, (channel.n, channel.sha256));
                    }
                }
                Ok(_) => found.find(place(), "its text is that of another record"),
                Err(error) => found.find(place(), format!("its text is no run: {error}")),
            }
        }
    }
    for (event, (case, lines)) in &batches {
        let hash = Some(hex(&sha256(lines.as_bytes())));
        match events.get(*event) {
            Some(naming)
                if naming.record == "run"
                    && naming.case.as_ref() == Some(case)
                    && naming.new_sha256 == hash =>
            {
                naming.seen = true;
            }
            _ => found.find(
                format!("runs of case `{case}` under event {event}"),
                "they are not the runs that the event names",
            ),
        }
    }
    Ok(named)
}

async fn check_channels(
    connection: &mut SqliteConnection,
    mut named: Named,
    found: &mut Verification,
) -> Result<(), sqlx::Error> {
    let mut last_id = i64::MIN;
    loop {
        let rows = sqlx::query(
            "SELECT id, case_id, run, name, n, encoding, bytes, sha256 FROM channels WHERE id > \
             $1 ORDER BY id LIMIT $2",
        )
        .bind(last_id)
        .bind(PAGE)
        .fetch_all(&mut *connection)
        .await?;
        if rows.is_empty() {
            break;
        }
        for row in &rows {
            found.n_channels += 1;
            last_id = row.try_get(0)?;
            let (case, name): (String, String) = (row.try_get(1)?, row.try_get(3)?);
            let (run, n): (i64, i64) = (row.try_get(2)?, row.try_get(4)?);
            let bytes: &[u8] = row.try_get(6)?;
            let place = format!("{name} of run {run} of case `{case}`");
            let hash = sha256(bytes);
            if row.try_get::<&[u8], _>(7)? != hash {
                found.find(&place, "its bytes do not have their hash");
            }
            let samples = i64::try_from(bytes.len() / 8).unwrap_or(i64::MAX);
            if !bytes.len().is_multiple_of(8)
                || samples != n
                || row.try_get::<&str, _>(5)? != "f64le"
            {
                found.find(&place, "its bytes are not as many as its samples need");
            }
            match named.remove(&(case, run, name)) {
                Some(expected) if expected == (n, hex(&hash)) => {}
                Some(_) => found.find(&place, "it is not the column that the run names"),
                None => found.find(&place, "no run names it"),
            }
        }
    }
    for (case, run, name) in named.keys() {
        found.find(format!("{name} of run {run} of case `{case}`"), "it is missing");
    }
    Ok(())
}
