//! Named migrations: the shapes that a benchbook has had, in order. A
//! released one is never edited; the next is added below it.

use super::connection::{Connection, Kind};
use super::query::query;
use crate::digest::{hex, sha256};

/// A step from one shape of the file to the next.
pub(crate) struct Migration {
    /// Shape after the step; `user_version` of the file.
    pub(crate) version: u32,
    /// Name of the step.
    pub(crate) name: &'static str,
    /// Its text for SQLite.
    sqlite: &'static str,
    /// Its text for PostgreSQL.
    postgres: &'static str,
}

impl Migration {
    /// Its text for a store.
    pub(crate) const fn sql(&self, kind: Kind) -> &'static str {
        match kind {
            Kind::Sqlite => self.sqlite,
            Kind::Postgres => self.postgres,
        }
    }
}

/// Every migration, oldest first.
pub(crate) const ALL: &[Migration] = &[
    Migration {
        version: 1,
        name: "first",
        sqlite: include_str!("../../migrations/0001_first.sql"),
        postgres: include_str!("../../migrations/postgres/0001_first.sql"),
    },
    Migration {
        version: 2,
        name: "people",
        sqlite: include_str!("../../migrations/0002_people.sql"),
        postgres: include_str!("../../migrations/postgres/0002_people.sql"),
    },
];

/// Newest shape that is known here.
pub(crate) const NEWEST: u32 = ALL[ALL.len() - 1].version;

/// Lines `version name hash` of steps, which the event of a migration covers.
pub(crate) fn lines(steps: &[&'static Migration], kind: Kind) -> String {
    steps
        .iter()
        .map(|step| {
            format!("{} {} {}\n", step.version, step.name, hex(&sha256(step.sql(kind).as_bytes())))
        })
        .collect()
}

/// Brings the schema from shape `from` to shape `to`. The caller holds the
/// transaction, writes the event and calls [`register`].
pub(crate) async fn run(
    connection: &mut Connection,
    from: u32,
    to: u32,
) -> Result<Vec<&'static Migration>, sqlx::Error> {
    let mut done = Vec::new();
    for migration in ALL.iter().filter(|step| step.version > from && step.version <= to) {
        connection.run(migration.sql(connection.kind())).await?;
        done.push(migration);
    }
    // PostgreSQL looks into the table of migrations.
    if connection.kind() == Kind::Sqlite {
        // A constant of this file, no text from outside.
        let pragma = format!("PRAGMA user_version = {to}");
        connection.run(sqlx::AssertSqlSafe(pragma)).await?;
    }
    Ok(done)
}

/// Writes down which migrations made the file, under their event.
pub(crate) async fn register(
    connection: &mut Connection,
    done: &[&'static Migration],
    event: i64,
) -> Result<(), sqlx::Error> {
    let kind = connection.kind();
    for migration in done {
        query("INSERT INTO migrations (version, name, sha256, event) VALUES ($1, $2, $3, $4)")
            .bind(migration.version)
            .bind(migration.name)
            .bind(sha256(migration.sql(kind).as_bytes()).to_vec())
            .bind(event)
            .execute(&mut *connection)
            .await?;
    }
    Ok(())
}
