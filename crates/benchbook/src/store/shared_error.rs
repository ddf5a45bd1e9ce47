//! An error that several changes share, because one commit failed for all.

use std::sync::Arc;

use sqlx::error::{DatabaseError, ErrorKind};

/// The same words and code for everybody.
#[derive(Debug)]
struct Shared {
    message: String,
    code: Option<String>,
}

impl std::fmt::Display for Shared {
    fn fmt(&self, formatter: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        formatter.write_str(&self.message)
    }
}

impl std::error::Error for Shared {}

impl DatabaseError for Shared {
    fn message(&self) -> &str {
        &self.message
    }

    fn code(&self) -> Option<std::borrow::Cow<'_, str>> {
        self.code.as_deref().map(Into::into)
    }

    fn as_error(&self) -> &(dyn std::error::Error + Send + Sync + 'static) {
        self
    }

    fn as_error_mut(&mut self) -> &mut (dyn std::error::Error + Send + Sync + 'static) {
        self
    }

    fn into_error(self: Box<Self>) -> Box<dyn std::error::Error + Send + Sync + 'static> {
        self
    }

    fn kind(&self) -> ErrorKind {
        ErrorKind::Other
    }
}

/// The error of a commit, for one of those whose changes were in it.
pub(super) fn shared(error: &Arc<sqlx::Error>) -> sqlx::Error {
    let code = error.as_database_error().and_then(|error| error.code()).map(Into::into);
    match **error {
        sqlx::Error::Io(ref cause) => {
            sqlx::Error::Io(std::io::Error::new(cause.kind(), cause.to_string()))
        }
        _ => sqlx::Error::Database(Box::new(Shared { message: error.to_string(), code })),
    }
}

/// Another change met a failing disk, and the store gave up all of them.
pub(super) fn given_up(error: &sqlx::Error) -> sqlx::Error {
    let message = format!("a change in the same commit met a failing disk ({error})");
    // SQLITE_IOERR: sqlite.org/rescode.html.
    sqlx::Error::Database(Box::new(Shared { message, code: Some("10".to_owned()) }))
}
