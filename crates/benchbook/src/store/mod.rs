//! What differs between stores lives here, one file per store. Rows are read
//! and written by the rooms beside this one with the same SQL.

pub(crate) mod beginning;
pub(crate) mod connection;
pub(crate) mod file_header;
pub(crate) mod migrations;
pub(crate) mod network_file_system;
pub(crate) mod place;
pub(crate) mod postgres;
pub(crate) mod query;
mod shared_error;
pub(crate) mod sqlite;
pub(crate) mod writer;

use connection::Pool;
use writer::Writer;

/// Connections to one benchbook.
#[derive(Debug, Clone)]
pub(crate) struct Connections {
    /// Many readers.
    pub(crate) readers: Pool,
    /// The one writer of this process; none where the store is only read.
    pub(crate) writer: Option<Writer>,
}
