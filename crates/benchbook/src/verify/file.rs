//! The file as a database: sound pages, the tables and guards that this shape
//! has and no others.

use crate::store::query::query;
use std::collections::BTreeMap;
use std::path::Path;
use std::time::Duration;

use sqlx::ConnectOptions;
use sqlx::sqlite::SqliteConnectOptions;

use super::Verification;
use super::events::Events;
use crate::digest::sha256;
use crate::errors::BenchbookError;
use crate::store::connection::Connection;
use crate::store::migrations::{self, NEWEST};
use crate::store::place;
use crate::store::sqlite::{from_sqlx, options_to_read};

/// How long a file that is held is waited for.
pub(super) const WAIT: Duration = Duration::from_secs(5);

/// A connection that only reads and trusts nothing in the file.
pub(super) async fn open(path: &Path) -> Result<Connection, BenchbookError> {
    let failed = |error: sqlx::Error| from_sqlx(path, WAIT, &error);
    let connection = options_to_read(path)
        .map_err(|error| failed(error.into()))?
        .busy_timeout(WAIT)
        .connect()
        .await
        .map_err(failed)?;
    let mut connection = Connection::Sqlite(connection);
    connection
        .run(
            "PRAGMA query_only = ON; PRAGMA trusted_schema = OFF; PRAGMA cell_size_check = ON; \
             PRAGMA mmap_size = 0; BEGIN",
        )
        .await
        .map_err(failed)?;
    Ok(connection)
}

/// Checks pages and references, on a connection of its own: it reads the whole
/// file beside the other checks. Gives what it found.
pub(super) async fn pages(path: &Path) -> Result<Vec<(String, String)>, BenchbookError> {
    let mut found = Vec::new();
    if place::database(path).is_some() {
        return Ok(found);
    }
    let mut connection = open(path).await?;
    if let Err(error) = check_pages(&mut connection, &mut found).await {
        found.push(("file".to_owned(), format!("it cannot be read to its end: {error}")));
    }
    // Nothing was written, so nothing can be lost by a failing close.
    let _ = connection.close().await;
    Ok(found)
}

async fn check_pages(
    connection: &mut Connection,
    found: &mut Vec<(String, String)>,
) -> Result<(), sqlx::Error> {
    for row in query("PRAGMA integrity_check(20)").fetch_all(&mut *connection).await? {
        let line: String = row.try_get(0)?;
        if line != "ok" {
            found.push(("file".to_owned(), line));
        }
    }
    for row in query("PRAGMA foreign_key_check").fetch_all(&mut *connection).await? {
        let table: String = row.try_get(0)?;
        let what = "a row refers to one that is not there".to_owned();
        found.push((format!("table {table}"), what));
    }
    Ok(())
}

/// Checks tables and guards; gives the shape of the file.
pub(super) async fn check(
    connection: &mut Connection,
    found: &mut Verification,
) -> Result<u32, sqlx::Error> {
    let shape = connection.shape().await?;
    let known = u32::try_from(shape).ok().filter(|shape| (1..=NEWEST).contains(shape));
    if known.is_none() {
        found.find("file", format!("its shape is {shape}, and shapes are 1 to {NEWEST}"));
    }
    // A file that claims an unknown shape is compared with the newest.
    let shape = known.unwrap_or(NEWEST);
    let here = schema(connection).await?;
    let sample = SqliteConnectOptions::new().filename(":memory:").connect().await?;
    let mut sample = Connection::Sqlite(sample);
    migrations::run(&mut sample, 0, shape).await?;
    let expected = schema(&mut sample).await?;
    for entry in expected.iter().filter(|entry| !here.contains(entry)) {
        found.find("file", format!("{} `{}` is missing or changed", entry.0, entry.1));
    }
    for entry in here.iter().filter(|entry| !expected.contains(entry)) {
        found.find("file", format!("{} `{}` does not belong there", entry.0, entry.1));
    }
    Ok(shape)
}

/// Kind, name, table and text of everything that the schema holds.
async fn schema(
    connection: &mut Connection,
) -> Result<Vec<(String, String, String, Option<String>)>, sqlx::Error> {
    query("SELECT type, name, tbl_name, sql FROM sqlite_schema ORDER BY type, name")
        .fetch_all(connection)
        .await?
        .iter()
        .map(|row| Ok((row.try_get(0)?, row.try_get(1)?, row.try_get(2)?, row.try_get(3)?)))
        .collect()
}

/// The table of migrations holds exactly those of this shape, each under the
/// first event or under one that names them.
pub(super) async fn check_migrations(
    connection: &mut Connection,
    shape: u32,
    events: &mut Events,
    found: &mut Verification,
) -> Result<(), sqlx::Error> {
    let kind = connection.kind();
    let rows = query("SELECT version, name, sha256, event FROM migrations ORDER BY version")
        .fetch_all(&mut *connection)
        .await?;
    let expected: Vec<_> = migrations::ALL.iter().filter(|step| step.version <= shape).collect();
    if rows.len() != expected.len() {
        found.find("migrations", format!("{} of {}", rows.len(), expected.len()));
    }
    // Those that were done later, under their events.
    let mut later: BTreeMap<i64, Vec<&'static migrations::Migration>> = BTreeMap::new();
    for (row, known) in rows.iter().zip(expected) {
        let event: i64 = row.try_get(3)?;
        let same = row.try_get::<i64>(0)? == i64::from(known.version)
            && row.try_get::<&str>(1)? == known.name
            && row.try_get::<&[u8]>(2)? == sha256(known.sql(kind).as_bytes());
        if !same {
            found.find("migrations", format!("number {} is not the known one", known.version));
        }
        if event != 1 {
            later.entry(event).or_default().push(known);
        }
    }
    for (number, steps) in later {
        let hash = sha256(migrations::lines(&steps, kind).as_bytes());
        match events.get(number) {
            Some(event) if &*event.record == "migrations" && event.new_sha256 == Some(hash) => {
                event.seen = true;
            }
            _ => found.find("migrations", format!("event {number} does not name them")),
        }
    }
    Ok(())
}
