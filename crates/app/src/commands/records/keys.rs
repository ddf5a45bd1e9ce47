//! The folder of the log keys: outside of every benchbook and its backups.

use std::path::PathBuf;

use benchbook::{Benchbook, LogKey, LogKeyError};

use crate::fault::Fault;

/// The folder: `ISOBAR_KEYS`, or one among the settings of the user.
pub fn folder() -> Result<PathBuf, Fault> {
    let set = |name: &str| std::env::var_os(name).filter(|value| !value.is_empty());
    if let Some(folder) = set("ISOBAR_KEYS") {
        return Ok(folder.into());
    }
    let settings = if cfg!(windows) {
        set("APPDATA").map(PathBuf::from)
    } else {
        set("XDG_CONFIG_HOME")
            .map(PathBuf::from)
            .or_else(|| set("HOME").map(|home| PathBuf::from(home).join(".config")))
    };
    settings.map(|settings| settings.join("isobar").join("keys")).ok_or_else(|| {
        Fault::users(
            "there is no folder for the key of the log",
            "set ISOBAR_KEYS to a folder outside of the benchbook and its backups",
        )
    })
}

/// The key that signs now; `None` where there is none or it is not here.
pub async fn in_force(book: &Benchbook) -> Result<Option<LogKey>, Fault> {
    match book.log_keys().await?.last() {
        Some(public) => Ok(LogKey::find(&folder()?, public)?),
        None => Ok(None),
    }
}

impl From<LogKeyError> for Fault {
    fn from(error: LogKeyError) -> Self {
        Self::users(error.to_string(), "check the folder that ISOBAR_KEYS names")
    }
}
