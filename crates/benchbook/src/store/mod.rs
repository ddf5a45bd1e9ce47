//! What differs between stores lives here, one file per store. Rows are read
//! and written by the rooms beside this one with the same SQL.

pub(crate) mod beginning;
pub(crate) mod file_header;
pub(crate) mod migrations;
pub(crate) mod network_file_system;
pub(crate) mod sqlite;
