//! Named migrations: the shapes that a benchbook has had, in order. A
//! released one is never edited; the next is added below it.

use sqlx::SqliteConnection;

use crate::digest::{hex, sha256};

/// A step from one shape of the file to the next.
pub(crate) struct Migration {
    /// Shape after the step; `user_version` of the file.
    pub(crate) version: u32,
    /// Name of the step.
    pub(crate) name: &'static str,
    /// Its text.
    pub(crate) sql: &'static str,
}

/// Every migration, oldest first.
pub(crate) const ALL: &[Migration] = &[
    Migration { version: 1, name: "first", sql: include_str!("../../migrations/0001_first.sql") },
    Migration { version: 2, name: "people", sql: include_str!("../../migrations/0002_people.sql") },
];

/// Newest shape that is known here.
pub(crate) const NEWEST: u32 = ALL[ALL.len() - 1].version;

/// Lines `version name hash` of steps, which the event of a migration covers.
pub(crate) fn lines(steps: &[&'static Migration]) -> String {
    steps
        .iter()
        .map(|step| {
            format!("{} {} {}\n", step.version, step.name, hex(&sha256(step.sql.as_bytes())))
        })
        .collect()
}

/// Brings the schema from shape `from` to shape `to`. The caller holds the
/// transaction, writes the event and calls [`register`].
pub(crate) async fn run(
    connection: &mut SqliteConnection,
    from: u32,
    to: u32,
) -> Result<Vec<&'static Migration>, sqlx::Error> {
    let mut done = Vec::new();
    for migration in ALL.iter().filter(|step| step.version > from && step.version <= to) {
        sqlx::raw_sql(migration.sql).execute(&mut *connection).await?;
        done.push(migration);
    }
    // A constant of this file, no text from outside.
    let pragma = format!("PRAGMA user_version = {to}");
    sqlx::raw_sql(sqlx::AssertSqlSafe(pragma)).execute(&mut *connection).await?;
    Ok(done)
}

/// Writes down which migrations made the file, under their event.
pub(crate) async fn register(
    connection: &mut SqliteConnection,
    done: &[&'static Migration],
    event: i64,
) -> Result<(), sqlx::Error> {
    for migration in done {
        sqlx::query(
            "INSERT INTO migrations (version, name, sha256, event) VALUES ($1, $2, $3, $4)",
        )
        .bind(migration.version)
        .bind(migration.name)
        .bind(sha256(migration.sql.as_bytes()).to_vec())
        .bind(event)
        .execute(&mut *connection)
        .await?;
    }
    Ok(())
}
