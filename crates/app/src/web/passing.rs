//! Files that are there for one answer only.

use std::path::{Path, PathBuf};

use benchbook::{BenchbookError, Sessions};

/// A benchbook in the folder for passing files, under a name nobody can guess;
/// it is taken away however things end.
pub struct Passing(PathBuf);

impl Passing {
    /// A name that is not taken; nothing is written yet.
    pub fn benchbook() -> Result<Self, BenchbookError> {
        let name = format!("isobar-{}.benchbook", Sessions::draw_token()?);
        Ok(Self(std::env::temp_dir().join(name)))
    }

    /// Where it is.
    pub fn path(&self) -> &Path {
        &self.0
    }
}

impl Drop for Passing {
    fn drop(&mut self) {
        for beside in ["", "-wal", "-shm"] {
            let mut path = self.0.clone().into_os_string();
            path.push(beside);
            let _ = std::fs::remove_file(path);
        }
    }
}
