//! The first hundred bytes of a file: whether it is a benchbook at all, and of
//! which shape. Looked at before SQLite touches the file, so that a file of
//! another program is never locked, recovered or given side files.

#[cfg(unix)]
use std::collections::BTreeMap;
use std::fs::File;
use std::io;
use std::path::Path;
#[cfg(unix)]
use std::sync::Mutex;

use crate::errors::BenchbookError;

/// "Isob" in ASCII, at offset 68 of the file.
pub(crate) const APPLICATION_ID: u32 = 0x4973_6f62;

/// Length of the header of an SQLite file.
const HEADER: usize = 100;
const MAGIC: &[u8; 16] = b"SQLite format 3\0";

/// Refuses what is not a benchbook, and what was written by a newer version.
pub(crate) fn check(path: &Path, known: u32) -> Result<(), BenchbookError> {
    let owned = || path.to_path_buf();
    let not_one = |found: &str| BenchbookError::NotABenchbook {
        path: path.to_path_buf(),
        found: found.to_owned(),
    };
    let metadata = std::fs::metadata(path).map_err(|error| from_io(path, &error))?;
    if metadata.is_dir() {
        return Err(not_one("a folder"));
    }
    if !metadata.is_file() {
        return Err(not_one("no ordinary file"));
    }
    let bytes = first_bytes(path).map_err(|error| from_io(path, &error))?;
    if bytes.is_empty() {
        return Err(not_one("an empty file"));
    }
    if !bytes.starts_with(MAGIC) {
        return Err(not_one(match std::str::from_utf8(&bytes) {
            Ok(_) => "a text file",
            Err(_) => "a file of another kind",
        }));
    }
    let (Some(application_id), Some(shape)) = (big_endian(&bytes, 68), big_endian(&bytes, 60))
    else {
        return Err(not_one("the torn beginning of a database"));
    };
    if application_id != APPLICATION_ID {
        return Err(not_one("a database of another program"));
    }
    if shape > known {
        return Err(BenchbookError::Newer {
            path: owned(),
            found: i64::from(shape),
            known: i64::from(known),
        });
    }
    if shape == 0 {
        return Err(not_one("the unfinished beginning of one"));
    }
    Ok(())
}

/// What the system says of a name, as an error of this room.
pub(crate) fn from_io(path: &Path, error: &io::Error) -> BenchbookError {
    match error.kind() {
        io::ErrorKind::NotFound => BenchbookError::Missing { path: path.to_path_buf() },
        io::ErrorKind::PermissionDenied => BenchbookError::NotPermitted {
            path: path.to_path_buf(),
            wanted: "read",
            reason: error.to_string(),
        },
        io::ErrorKind::AlreadyExists => BenchbookError::Exists { path: path.to_path_buf() },
        io::ErrorKind::StorageFull => BenchbookError::DiskFull { path: path.to_path_buf() },
        _ => BenchbookError::Store { path: path.to_path_buf(), reason: error.to_string() },
    }
}

fn big_endian(bytes: &[u8], at: usize) -> Option<u32> {
    let four: [u8; 4] = bytes.get(at..at + 4)?.try_into().ok()?;
    Some(u32::from_be_bytes(four))
}

/// Files that were looked at, by device and inode. They stay open: closing any
/// descriptor of a file drops every POSIX lock that this process holds on it,
/// also those of SQLite, and a second writer could then break in
/// (sqlite.org/howtocorrupt.html, section 2.2).
#[cfg(unix)]
static LOOKED_AT: Mutex<BTreeMap<(u64, u64), File>> = Mutex::new(BTreeMap::new());

#[cfg(unix)]
fn first_bytes(path: &Path) -> io::Result<Vec<u8>> {
    use std::os::unix::fs::{FileExt, MetadataExt};
    let mut files = LOOKED_AT.lock().unwrap_or_else(std::sync::PoisonError::into_inner);
    let metadata = std::fs::metadata(path)?;
    let key = (metadata.dev(), metadata.ino());
    let mut bytes = vec![0; HEADER];
    if let Some(file) = files.get(&key) {
        let n = file.read_at(&mut bytes, 0)?;
        bytes.truncate(n);
        return Ok(bytes);
    }
    let file = File::open(path)?;
    let n = file.read_at(&mut bytes, 0)?;
    bytes.truncate(n);
    let opened = file.metadata()?;
    if let Some(twice) = files.insert((opened.dev(), opened.ino()), file) {
        // The name moved to a known file between the two looks.
        std::mem::forget(twice);
    }
    Ok(bytes)
}

#[cfg(not(unix))]
fn first_bytes(path: &Path) -> io::Result<Vec<u8>> {
    use std::io::Read;
    let mut bytes = Vec::new();
    File::open(path)?.take(HEADER as u64).read_to_end(&mut bytes)?;
    Ok(bytes)
}
