//! The file as a database: sound pages, the tables and guards that this shape
//! has and no others.

use std::path::Path;
use std::time::Duration;

use sqlx::sqlite::SqliteConnectOptions;
use sqlx::{ConnectOptions, Row, SqliteConnection};

use super::Verification;
use crate::digest::sha256;
use crate::errors::BenchbookError;
use crate::store::migrations;
use crate::store::sqlite::{from_sqlx, options_to_read};

/// How long a file that is held is waited for.
const WAIT: Duration = Duration::from_secs(5);

/// A connection that only reads and trusts nothing in the file.
pub(super) async fn open(path: &Path) -> Result<SqliteConnection, BenchbookError> {
    let failed = |error: sqlx::Error| from_sqlx(path, WAIT, &error);
    let mut connection = options_to_read(path)
        .map_err(|error| failed(error.into()))?
        .busy_timeout(WAIT)
        .connect()
        .await
        .map_err(failed)?;
    sqlx::raw_sql(
        "PRAGMA query_only = ON; PRAGMA trusted_schema = OFF; PRAGMA cell_size_check = ON; PRAGMA \
         mmap_size = 0; BEGIN",
    )
    .execute(&mut connection)
    .await
    .map_err(failed)?;
    Ok(connection)
}

/// Checks pages, references, tables, guards and migrations.
pub(super) async fn check(
    connection: &mut SqliteConnection,
    found: &mut Verification,
) -> Result<(), sqlx::Error> {
    for row in sqlx::query("PRAGMA integrity_check(20)").fetch_all(&mut *connection).await? {
        let line: String = row.try_get(0)?;
        if line != "ok" {
            found.find("file", line);
        }
    }
    for row in sqlx::query("PRAGMA foreign_key_check").fetch_all(&mut *connection).await? {
        let table: String = row.try_get(0)?;
        found.find(format!("table {table}"), "a row refers to one that is not there");
    }
    let here = schema(connection).await?;
    let mut sample = SqliteConnectOptions::new().filename(":memory:").connect().await?;
    migrations::run(&mut sample, 0).await?;
    let expected = schema(&mut sample).await?;
    for entry in expected.iter().filter(|entry| !here.contains(entry)) {
        found.find("file", format!("{} `{}` is missing or changed", entry.0, entry.1));
    }
    for entry in here.iter().filter(|entry| !expected.contains(entry)) {
        found.find("file", format!("{} `{}` does not belong there", entry.0, entry.1));
    }
    check_migrations(connection, found).await
}

/// Kind, name, table and text of everything that the schema holds.
async fn schema(
    connection: &mut SqliteConnection,
) -> Result<Vec<(String, String, String, Option<String>)>, sqlx::Error> {
    sqlx::query("SELECT type, name, tbl_name, sql FROM sqlite_schema ORDER BY type, name")
        .fetch_all(connection)
        .await?
        .iter()
        .map(|row| Ok((row.try_get(0)?, row.try_get(1)?, row.try_get(2)?, row.try_get(3)?)))
        .collect()
}

async fn check_migrations(
    connection: &mut SqliteConnection,
    found: &mut Verification,
) -> Result<(), sqlx::Error> {
    let rows = sqlx::query("SELECT version, name, sha256, event FROM migrations ORDER BY version")
        .fetch_all(&mut *connection)
        .await?;
    if rows.len() != migrations::ALL.len() {
        found.find("migrations", format!("{} of {}", rows.len(), migrations::ALL.len()));
    }
    for (row, known) in rows.iter().zip(migrations::ALL) {
        let same = row.try_get::<i64, _>(0)? == i64::from(known.version)
            && row.try_get::<&str, _>(1)? == known.name
            && row.try_get::<&[u8], _>(2)? == sha256(known.sql.as_bytes())
            && row.try_get::<i64, _>(3)? == 1;
        if !same {
            found.find("migrations", format!("number {} is not the known one", known.version));
        }
    }
    let shape: i64 = sqlx::query("PRAGMA user_version").fetch_one(connection).await?.try_get(0)?;
    if shape != migrations::NEWEST {
        found.find("file", format!("its shape is {shape}, not {}", migrations::NEWEST));
    }
    Ok(())
}
