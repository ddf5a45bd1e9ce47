//! SQLite: settings of a connection, making and opening the file.
//!
//! WAL with synchronous FULL loses no acknowledged change in a power cut;
//! WAL with NORMAL, which most guides recommend, does (sqlite.org/pragma.html).

use std::fs::OpenOptions;
use std::path::{Path, PathBuf};
use std::time::Duration;

use sqlx::sqlite::{SqliteConnectOptions, SqlitePoolOptions};
use sqlx::{ConnectOptions, Connection, Row, SqliteConnection, SqlitePool};

use super::file_header::{self, APPLICATION_ID};
use super::migrations::NEWEST;
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
    Write,
    Read,
    /// The file is opened to be read only.
    ReadOnlyFile,
}

/// Connections to one benchbook.
#[derive(Debug, Clone)]
pub(crate) struct Connections {
    /// Many readers.
    pub(crate) readers: SqlitePool,
    /// The one writer of this process; none where the file is only read.
    pub(crate) writer: Option<SqlitePool>,
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
    if shape > NEWEST {
        let path = path.to_path_buf();
        return Err(BenchbookError::Newer { path, found: shape, known: NEWEST });
    }
    if let Some(writer) = &writer {
        check_writable(path, writer, busy_timeout).await?;
    }
    Ok(Connections { readers, writer })
}

async fn pool(path: &Path, access: Access, busy: Duration) -> Result<SqlitePool, sqlx::Error> {
    // An absolute name is never taken for a URI or for `:memory:`.
    let name = std::path::absolute(path)?;
    let options = SqliteConnectOptions::new()
        .filename(name)
        .read_only(access == Access::ReadOnlyFile)
        .create_if_missing(false)
        .busy_timeout(busy);
    // A pool repeats a failed first connection until its own time is up; this
    // one says at once what is wrong.
    let mut first = options.connect().await?;
    settle(&mut first, access).await?;
    sqlx::query("SELECT count(*) FROM sqlite_schema").fetch_one(&mut first).await?;
    first.close().await?;
    SqlitePoolOptions::new()
        .max_connections(if access == Access::Write { 1 } else { READERS })
        .idle_timeout(None)
        .max_lifetime(None)
        .acquire_timeout(busy.max(Duration::from_secs(30)))
        .after_connect(move |connection, _| Box::pin(settle(connection, access)))
        .connect_with(options)
        .await
}

/// Settings of one connection. The URL of a connection cannot carry them.
async fn settle(connection: &mut SqliteConnection, access: Access) -> Result<(), sqlx::Error> {
    sqlx::raw_sql(
        "PRAGMA trusted_schema = OFF; PRAGMA cell_size_check = ON; PRAGMA mmap_size = 0; PRAGMA \
         foreign_keys = ON; PRAGMA recursive_triggers = ON; PRAGMA synchronous = FULL; PRAGMA \
         fullfsync = ON; PRAGMA checkpoint_fullfsync = ON;",
    )
    .execute(&mut *connection)
    .await?;
    if access != Access::ReadOnlyFile {
        let mode: String =
            sqlx::query("PRAGMA journal_mode = WAL").fetch_one(&mut *connection).await?.get(0);
        if mode != "wal" {
            return Err(sqlx::Error::Configuration(
                format!("the file system takes journal mode `{mode}` only, and WAL is needed")
                    .into(),
            ));
        }
    }
    if access != Access::Write {
        sqlx::raw_sql("PRAGMA query_only = ON").execute(&mut *connection).await?;
    }
    Ok(())
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

/// A place for a file that is being made, in the folder of `path`.
pub(crate) struct Beginning {
    target: PathBuf,
    /// Where it is built.
    pub(crate) temporary: PathBuf,
}

impl Beginning {
    /// Refuses a name that is taken and makes an empty file beside it.
    pub(crate) fn of(path: &Path) -> Result<Self, BenchbookError> {
        if std::fs::symlink_metadata(path).is_ok() {
            return Err(BenchbookError::Exists { path: path.to_path_buf() });
        }
        let folder = match path.parent() {
            Some(parent) if !parent.as_os_str().is_empty() => parent.to_path_buf(),
            _ => PathBuf::from("."),
        };
        if !folder.is_dir() {
            return Err(BenchbookError::NoFolder { folder });
        }
        let Some(name) = path.file_name() else {
            return Err(BenchbookError::Missing { path: path.to_path_buf() });
        };
        // The number of the process keeps two programs apart, the count two
        // threads of one.
        for count in 0..1000_u32 {
            let mut hidden = std::ffi::OsString::from(".");
            hidden.push(name);
            hidden.push(format!(".beginning-{}-{count}", std::process::id()));
            let temporary = folder.join(hidden);
            match OpenOptions::new().write(true).create_new(true).open(&temporary) {
                Ok(_) => return Ok(Self { target: path.to_path_buf(), temporary }),
                Err(error) if error.kind() == std::io::ErrorKind::AlreadyExists => {}
                Err(error) if error.kind() == std::io::ErrorKind::PermissionDenied => {
                    return Err(BenchbookError::NotPermitted {
                        path: path.to_path_buf(),
                        wanted: "written",
                        reason: error.to_string(),
                    });
                }
                Err(error) => return Err(file_header::from_io(path, &error)),
            }
        }
        Err(BenchbookError::Exists { path: path.to_path_buf() })
    }

    /// Connections to the empty file, which becomes a database with the
    /// application id of benchbooks.
    pub(crate) async fn connect(&self) -> Result<SqlitePool, BenchbookError> {
        let failed = |error: sqlx::Error| from_sqlx(&self.target, BUSY_TIMEOUT, &error);
        let pool = pool(&self.temporary, Access::Write, BUSY_TIMEOUT).await.map_err(failed)?;
        check_sqlite(&pool).await.map_err(failed)??;
        // A constant of this room, no text from outside.
        let pragma = format!("PRAGMA application_id = {APPLICATION_ID}");
        sqlx::raw_sql(sqlx::AssertSqlSafe(pragma)).execute(&pool).await.map_err(failed)?;
        Ok(pool)
    }

    /// Gives the finished file its name, unless the name was taken meanwhile.
    /// The connections are closed by then, so no side file is left.
    pub(crate) fn finish(&self) -> Result<(), BenchbookError> {
        let failed = |error: std::io::Error| file_header::from_io(&self.target, &error);
        OpenOptions::new()
            .write(true)
            .open(&self.temporary)
            .and_then(|file| file.sync_all())
            .map_err(failed)?;
        // A hard link fails where the name is taken; a rename would replace.
        match std::fs::hard_link(&self.temporary, &self.target) {
            Ok(()) => std::fs::remove_file(&self.temporary).map_err(failed)?,
            Err(error) if error.kind() == std::io::ErrorKind::AlreadyExists => {
                return Err(failed(error));
            }
            // File systems without hard links.
            Err(_) if std::fs::symlink_metadata(&self.target).is_err() => {
                std::fs::rename(&self.temporary, &self.target).map_err(failed)?;
            }
            Err(error) => return Err(failed(error)),
        }
        sync_folder(&self.target);
        Ok(())
    }

    /// Removes what was begun.
    pub(crate) fn abandon(&self) {
        for side in ["", "-wal", "-shm", "-journal"] {
            let mut name = self.temporary.clone().into_os_string();
            name.push(side);
            // What is not there need not go; what cannot go is only litter.
            let _ = std::fs::remove_file(name);
        }
    }
}

/// Makes the new name durable. Windows has no such call and needs none.
fn sync_folder(path: &Path) {
    #[cfg(unix)]
    if let Some(folder) = std::path::absolute(path).ok().as_deref().and_then(Path::parent)
        && let Ok(folder) = std::fs::File::open(folder)
    {
        // Some file systems refuse to sync a folder; the file itself is safe.
        let _ = folder.sync_all();
    }
    #[cfg(not(unix))]
    let _ = path;
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
    let code = error
        .as_database_error()
        .and_then(|error| error.code())
        .and_then(|code| code.parse::<i32>().ok())
        .map_or(0, |code| code & 0xff);
    let not_permitted = |wanted| BenchbookError::NotPermitted {
        path: path.clone(),
        wanted,
        reason: reason.clone(),
    };
    match code {
        3 | 14 => not_permitted("read"),
        5 | 6 => BenchbookError::Locked { path, waited_ms },
        8 => not_permitted("written"),
        11 => BenchbookError::Damaged { path, what: reason },
        13 => BenchbookError::DiskFull { path },
        26 => BenchbookError::NotABenchbook { path, found: "no SQLite database".to_owned() },
        _ => BenchbookError::Store { path, reason },
    }
}

#[cfg(test)]
mod tests {
    use super::*;

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
