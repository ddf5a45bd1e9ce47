//! Bytes in; traces, tables, cases and coded messages out.
//!
//! Every reader of this room takes bytes or text that a stranger wrote and
//! either reads them in the one way they can be meant, or refuses and says
//! what, where and what to do. Nothing is guessed and nothing is repaired
//! silently. There is no store, path, network or clock here.

pub mod calibration_certificate;
pub mod case_file;
pub mod codes;
pub mod column_header;
pub mod delimited;
pub mod message;
pub mod parquet_file;
pub mod plan_file;
pub mod reading_plan;
pub mod result_rows;
pub mod result_table;
pub mod rig_stamp;
pub mod shown_names;
pub mod run_table;
pub mod same_samples;
pub mod trace_file;
mod toml_document;
pub mod workbook;
pub mod written_quantity;
pub mod written_table;

pub use message::{Message, Place, Refusal, Severity};
