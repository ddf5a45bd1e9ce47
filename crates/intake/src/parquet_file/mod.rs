//! Parquet files: read as text tables, written from grids with their units in
//! the metadata.

mod read;
mod write;

pub use read::{ParquetTable, read_parquet};
pub use write::write_parquet;
