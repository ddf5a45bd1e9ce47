//! Reading the files that the user names, and writing whole files or none.

use std::io::Write;
use std::path::Path;

use crate::fault::Fault;

/// Bytes of a file that the user named.
pub fn read_bytes(path: &Path) -> Result<Vec<u8>, Fault> {
    if path.is_dir() {
        return Err(Fault::users(
            format!("`{}` is a folder, not a file", path.display()),
            "name a file in it",
        ));
    }
    std::fs::read(path).map_err(|error| Fault::cannot_read(path, &error))
}

/// Text of a file that the user named; it must be UTF-8.
pub fn read_text(path: &Path) -> Result<String, Fault> {
    String::from_utf8(read_bytes(path)?).map_err(|error| {
        Fault::users(
            format!(
                "`{}` is not UTF-8 text: byte {} cannot be read",
                path.display(),
                error.utf8_error().valid_up_to()
            ),
            "save the file as UTF-8 text",
        )
    })
}

/// Writes a whole file or nothing: into a temporary name beside it, synced,
/// then renamed.
pub fn write_whole(path: &Path, bytes: &[u8]) -> Result<(), Fault> {
    let failed = |error: std::io::Error| Fault::cannot_write(path, &error);
    let name = path.file_name().ok_or_else(|| {
        Fault::users(
            format!("`{}` is not the name of a file", path.display()),
            "name the file to write",
        )
    })?;
    let temporary =
        path.with_file_name(format!(".{}.{}.part", name.to_string_lossy(), std::process::id()));
    let result = std::fs::File::create(&temporary).and_then(|mut file| {
        file.write_all(bytes)?;
        file.sync_all()?;
        std::fs::rename(&temporary, path)
    });
    if result.is_err() {
        // Nothing half-written stays behind.
        let _ = std::fs::remove_file(&temporary);
    }
    result.map_err(failed)
}
