//! SQLite: settings of a connection, making and opening the file.
//!
//! WAL with synchronous FULL loses no acknowledged change in a power cut;
//! WAL with NORMAL, which most guides recommend, does (sqlite.org/pragma.html).

use std::path::Path;
use std::time::Duration;

use sqlx::sqlite::{SqliteConnectOptions, SqliteJournalMode, SqlitePoolOptions, SqliteSynchronous};
use sqlx::{ConnectOptions, Connection as _, Row, SqlitePool};

use super::Connections;
use super::connection::{Connection, Pool};
use super::migrations::NEWEST;
use super::query::query;
use super::writer::Writer;
use crate::errors::BenchbookError;

/// Oldest SQLite that is taken. Versions from 3.7.0 to 3.51.2 can damage a
/// file in WAL mode when two connections write and checkpoint at once
/// (sqlite.org/wal.html, the WAL-reset bug).
const OLDEST_SQLITE: &str = "3.51.3";

/// How long a locked file is waited for.
pub(crate) const BUSY_TIMEOUT: Duration = Duration::from_secs(5);

/// Connections that read at once.
const READERS: u32 = 4;

/// What a connection may do.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Access {
    /// The file is being made and will be renamed: without a WAL, so that all
    /// of it is in the one file once a change is acknowledged.
    Begin,
    Write,
    Read,
    /// The file is opened to be read only.
    ReadOnlyFile,
}

/// Opens the connections to a file that has been found to be a benchbook.
pub(crate) async fn connect(
    path: &Path,
    read_only: bool,
    busy_timeout: Duration,
) -> Result<Connections, BenchbookError> {
    let reader = if read_only { Access::ReadOnlyFile } else { Access::Read };
    let failed = |error: sqlx::Error| from_sqlx(path, busy_timeout, &error);
    let writer = match read_only {
        true => None,
        false => Some(pool(path, Access::Write, busy_timeout).await.map_err(failed)?),
    };
    let readers = pool(path, reader, busy_timeout).await.map_err(failed)?;
    check_sqlite(&readers).await.map_err(failed)??;
    let shape = user_version(&readers).await.map_err(failed)?;
    if shape > i64::from(NEWEST) {
        let (path, known) = (path.to_path_buf(), i64::from(NEWEST));
        return Err(BenchbookError::Newer { path, found: shape, known });
    }
    if let Some(writer) = &writer {
        check_writable(path, writer, busy_timeout).await?;
    }
    let writer = writer.map(|writer| Writer::new(Pool::Sqlite(writer)));
    Ok(Connections { readers: Pool::Sqlite(readers), writer })
}

/// Begins a transaction that holds the write lock from its start, so that it
/// never has to be repeated.
pub(crate) async fn begin_to_write(connection: &mut Connection) -> Result<(), sqlx::Error> {
    connection.run("BEGIN IMMEDIATE").await
}

/// Shape of the file.
pub(crate) async fn shape(connection: &mut Connection) -> Result<i64, sqlx::Error> {
    query("PRAGMA user_version").fetch_one(connection).await?.try_get(0)
}

async fn pool(path: &Path, access: Access, busy: Duration) -> Result<SqlitePool, sqlx::Error> {
    let options = match access {
        Access::ReadOnlyFile => options_to_read(path)?,
        _ => options(path)?,
    };
    let options = settled(options.busy_timeout(busy), access);
    let options = match try_connection(&options, access).await {
        Err(error) if access == Access::ReadOnlyFile && cannot_open(&error) && !has_wal(path) => {
            // A folder or medium where nothing can be written, so SQLite's
            // side files cannot be made; nor can anybody change the file.
            let options = options.read_only(true).immutable(true);
            try_connection(&options, access).await?;
            options
        }
        tried => tried.map(|()| options)?,
    };
    SqlitePoolOptions::new()
        .max_connections(match access {
            Access::Begin | Access::Write => 1,
            Access::Read | Access::ReadOnlyFile => READERS,
        })
        .idle_timeout(None)
        .max_lifetime(None)
        .acquire_timeout(busy.max(Duration::from_secs(30)))
        // SQLite ends a transaction by itself when the disk fails; the count
        // of the connection then stays wrong, and it must not be used again.
        .before_acquire(|connection, _| {
            Box::pin(std::future::ready(Ok(!connection.is_in_transaction())))
        })
        .connect_with(options)
        .await
}

/// The one connection to a file that is being made.
pub(crate) async fn beginner(
    path: &Path,
    busy: Duration,
) -> Result<Result<SqlitePool, BenchbookError>, sqlx::Error> {
    let pool = pool(path, Access::Begin, busy).await?;
    Ok(check_sqlite(&pool).await?.map(|()| pool))
}

/// How a file is opened. An absolute name is never taken for a URI or for
/// `:memory:`.
fn options(path: &Path) -> Result<SqliteConnectOptions, std::io::Error> {
    Ok(SqliteConnectOptions::new().filename(std::path::absolute(path)?).create_if_missing(false))
}

/// How a file is opened that is only read; the connection must set
/// `query_only`.
///
/// A file whose WAL holds changes is in use or was left by a crash: it is
/// opened to be read only, so that it stays as it is. One without is opened as
/// if to write: a connection that may only read leaves its side files behind.
pub(crate) fn options_to_read(path: &Path) -> Result<SqliteConnectOptions, std::io::Error> {
    Ok(options(path)?.read_only(has_wal(path)))
}

/// True where changes stand beside the file.
fn has_wal(path: &Path) -> bool {
    let mut name = path.as_os_str().to_owned();
    name.push("-wal");
    std::fs::metadata(name).is_ok_and(|wal| wal.len() > 0)
}

/// Connects once, to say at once what is wrong.
async fn try_connection(options: &SqliteConnectOptions, access: Access) -> Result<(), sqlx::Error> {
    let mut first = options.connect().await?;
    let mode: String =
        sqlx::query("PRAGMA journal_mode").fetch_one(&mut first).await?.try_get(0)?;
    if matches!(access, Access::Write | Access::Read) && mode != "wal" {
        let reason = format!("the file system takes journal mode `{mode}` only, and WAL is needed");
        return Err(sqlx::Error::Configuration(reason.into()));
    }
    sqlx::query("SELECT count(*) FROM sqlite_schema").fetch_one(&mut first).await?;
    first.close().await
}

fn cannot_open(error: &sqlx::Error) -> bool {
    primary_code(error) == 14
}

/// Settings of every connection. They are part of connecting: a pool repeats
/// what fails after that until its time is up.
fn settled(options: SqliteConnectOptions, access: Access) -> SqliteConnectOptions {
    let options = options
        .foreign_keys(true)
        .synchronous(SqliteSynchronous::Full)
        .pragma("trusted_schema", "OFF")
        .pragma("cell_size_check", "ON")
        .pragma("mmap_size", "0")
        .pragma("recursive_triggers", "ON")
        .pragma("fullfsync", "ON")
        .pragma("checkpoint_fullfsync", "ON");
    match access {
        Access::Begin => options.journal_mode(SqliteJournalMode::Delete),
        Access::Write => options.journal_mode(SqliteJournalMode::Wal),
        Access::Read => options.journal_mode(SqliteJournalMode::Wal).pragma("query_only", "ON"),
        Access::ReadOnlyFile => options.pragma("query_only", "ON"),
    }
}

async fn check_sqlite(pool: &SqlitePool) -> Result<Result<(), BenchbookError>, sqlx::Error> {
    let found: String = sqlx::query("SELECT sqlite_version()").fetch_one(pool).await?.get(0);
    Ok(sqlite_is_new_enough(&found))
}

fn sqlite_is_new_enough(found: &str) -> Result<(), BenchbookError> {
    let parts = |text: &str| text.split('.').map_while(|part| part.parse().ok()).collect();
    let (have, need): (Vec<u32>, Vec<u32>) = (parts(found), parts(OLDEST_SQLITE));
    if have < need {
        return Err(BenchbookError::OldSqlite { found: found.to_owned(), needed: OLDEST_SQLITE });
    }
    Ok(())
}

/// Shape of the file as SQLite sees it, with what still stands in the WAL.
pub(crate) async fn user_version(pool: &SqlitePool) -> Result<i64, sqlx::Error> {
    sqlx::query("PRAGMA user_version").fetch_one(pool).await?.try_get(0)
}

/// SQLite opens a write-protected file without a word and fails at the first
/// change; this asks at once. A file that is being written passes.
async fn check_writable(
    path: &Path,
    writer: &SqlitePool,
    busy: Duration,
) -> Result<(), BenchbookError> {
    match writer.begin_with("BEGIN IMMEDIATE").await {
        Ok(transaction) => {
            transaction.rollback().await.map_err(|error| from_sqlx(path, busy, &error))
        }
        Err(error) => match from_sqlx(path, busy, &error) {
            BenchbookError::Locked { .. } => Ok(()),
            other => Err(other),
        },
    }
}

/// Copies the state of a benchbook into an empty file. The copy is one file in
/// the order of its rows, without side files; a writer is not held up by it.
pub(crate) async fn copy_into(
    from: &Path,
    empty: &Path,
    target: &Path,
) -> Result<(), BenchbookError> {
    let failed = |error: sqlx::Error| from_sqlx(target, BUSY_TIMEOUT, &error);
    let absolute = |path: &Path| std::path::absolute(path).map_err(|error| failed(error.into()));
    let name = absolute(empty)?;
    let name = name.to_str().ok_or_else(|| BenchbookError::Store {
        path: target.to_path_buf(),
        reason: "its name is not text".to_owned(),
    })?;
    let mut connection = options(from)
        .map_err(|error| failed(error.into()))?
        .busy_timeout(BUSY_TIMEOUT)
        .connect()
        .await
        .map_err(failed)?;
    let copied = sqlx::query("VACUUM INTO $1").bind(name).execute(&mut connection).await;
    connection.close().await.map_err(failed)?;
    copied.map(|_| ()).map_err(failed)
}

/// What SQLite says, as an error of this room. Result codes:
/// sqlite.org/rescode.html; the low byte is the kind.
pub(crate) fn from_sqlx(path: &Path, waited: Duration, error: &sqlx::Error) -> BenchbookError {
    let path = path.to_path_buf();
    let reason = error.to_string();
    let waited_ms = u64::try_from(waited.as_millis()).unwrap_or(u64::MAX);
    if matches!(error, sqlx::Error::PoolTimedOut) {
        return BenchbookError::Locked { path, waited_ms };
    }
    let code = primary_code(error);
    let not_permitted = |wanted| BenchbookError::NotPermitted {
        path: path.clone(),
        wanted,
        reason: reason.clone(),
    };
    match code {
        3 | 14 => not_permitted("read"),
        5 | 6 => BenchbookError::Locked { path, waited_ms },
        8 => not_permitted("written"),
        10 => BenchbookError::DiskFailed { path, reason },
        11 => BenchbookError::Damaged { path, what: reason },
        13 => BenchbookError::DiskFull { path },
        26 => BenchbookError::NotABenchbook { path, found: "no SQLite database".to_owned() },
        _ => BenchbookError::Store { path, reason },
    }
}

/// Primary result code of SQLite; 0 where the error is none of its.
fn primary_code(error: &sqlx::Error) -> i32 {
    error
        .as_database_error()
        .and_then(|error| error.code())
        .and_then(|code| code.parse::<i32>().ok())
        .map_or(0, |code| code & 0xff)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[tokio::test]
    async fn every_connection_has_its_settings() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("a.benchbook");
        std::fs::write(&path, "").unwrap();
        let connections = connect(&path, false, BUSY_TIMEOUT).await.unwrap();
        let Pool::Sqlite(readers) = connections.readers else { unreachable!() };
        let writer = pool(&path, Access::Write, BUSY_TIMEOUT).await.unwrap();
        for (pool, n, query_only) in [(&writer, 1, 0), (&readers, READERS, 1)] {
            // All at once, so that each is another connection.
            let mut taken = Vec::new();
            for _ in 0..n {
                taken.push(pool.acquire().await.unwrap());
            }
            for mut connection in taken {
                for (pragma, expected) in [
                    ("PRAGMA synchronous", 2),
                    ("PRAGMA foreign_keys", 1),
                    ("PRAGMA recursive_triggers", 1),
                    ("PRAGMA trusted_schema", 0),
                    ("PRAGMA cell_size_check", 1),
                    ("PRAGMA query_only", query_only),
                    ("PRAGMA busy_timeout", 5_000),
                ] {
                    let row = sqlx::query(pragma).fetch_one(&mut *connection).await.unwrap();
                    assert_eq!(row.get::<i64, _>(0), expected, "{pragma}");
                }
                let mode = sqlx::query("PRAGMA journal_mode").fetch_one(&mut *connection).await;
                assert_eq!(mode.unwrap().get::<String, _>(0), "wal");
            }
        }
    }

    #[test]
    fn old_versions_of_sqlite_are_refused() {
        for old in ["3.40.1", "3.51.2", "3.7.0", "2.99.99", ""] {
            assert!(sqlite_is_new_enough(old).is_err(), "{old}");
        }
        for new in ["3.51.3", "3.51.10", "3.53.0", "4.0.0"] {
            assert!(sqlite_is_new_enough(new).is_ok(), "{new}");
        }
    }
}
