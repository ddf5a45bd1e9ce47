//! Workbooks (XLSX): read sheet by sheet as text, written from grids.

mod cells;
mod read;
mod write;

pub(crate) use cells::civil;
pub use read::{Sheet, read_workbook};
pub use write::write_workbook;
