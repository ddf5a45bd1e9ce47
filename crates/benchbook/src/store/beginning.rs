//! A benchbook that is being made: built under a hidden name in its folder,
//! named only when it is whole.

use std::fs::OpenOptions;
use std::path::{Path, PathBuf};

use super::connection::Pool;
use super::file_header::{self, APPLICATION_ID};
use super::sqlite::{self, BUSY_TIMEOUT};
use super::writer::Writer;
use crate::errors::BenchbookError;

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

    /// A writer to the empty file, which becomes a database with the
    /// application id of benchbooks.
    pub(crate) async fn connect(&self) -> Result<Writer, BenchbookError> {
        let failed = |error: sqlx::Error| sqlite::from_sqlx(&self.target, BUSY_TIMEOUT, &error);
        let pool = sqlite::beginner(&self.temporary, BUSY_TIMEOUT).await.map_err(failed)??;
        // A constant of this room, no text from outside.
        let pragma = format!("PRAGMA application_id = {APPLICATION_ID}");
        sqlx::raw_sql(sqlx::AssertSqlSafe(pragma)).execute(&pool).await.map_err(failed)?;
        Ok(Writer::new(Pool::Sqlite(pool)))
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
        remove_with_side_files(&self.temporary);
    }

    /// Removes what was finished a moment ago and cannot be handed over.
    pub(crate) fn take_back(&self) {
        remove_with_side_files(&self.target);
    }
}

fn remove_with_side_files(path: &Path) {
    for side in ["", "-wal", "-shm", "-journal"] {
        let mut name = path.as_os_str().to_owned();
        name.push(side);
        // What is not there need not go; what cannot go is only litter.
        let _ = std::fs::remove_file(name);
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
