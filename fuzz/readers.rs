//! Every reader of strangers' bytes, one function each: whatever comes in, it
//! answers and does not panic. The fuzz targets call these, and so do the
//! tests that replay the seeds (`crates/intake/tests/mutations.rs`).

use intake::reading_plan::ReadingPlan;
use intake::trace_file::{TraceStream, read_traces, read_traces_in_parts};

/// A reader with its name, which is that of its target.
pub type Reader = (&'static str, fn(&[u8]));

/// All of them.
pub const READERS: [Reader; 9] = [
    ("traces", traces),
    ("parts", parts),
    ("stream", stream),
    ("tables", tables),
    ("workbooks", workbooks),
    ("parquet_files", parquet_files),
    ("cases", cases),
    ("plans", plans),
    ("quantities", quantities),
];

/// Traces, without a plan and with one.
pub fn traces(data: &[u8]) {
    let split = "split_at_restart = true\ntime = { rate = 10 }";
    let plans = [ReadingPlan::default(), intake::plan_file::read_plan(split).unwrap_or_default()];
    for plan in plans {
        let _ = read_traces(data, &plan);
    }
}

/// Traces in parts, which must be what they are in turn.
pub fn parts(data: &[u8]) {
    let plan = ReadingPlan::default();
    let in_turn = read_traces_in_parts(data, &plan, usize::MAX);
    assert_eq!(read_traces_in_parts(data, &plan, 32), in_turn, "parts differ");
}

/// Traces piece by piece.
pub fn stream(data: &[u8]) {
    let mut stream = TraceStream::new(&ReadingPlan::default());
    for piece in data.chunks(7) {
        if stream.push(piece).is_err() {
            return;
        }
    }
    let _ = stream.finish();
}

/// Tables, and results in them.
pub fn tables(data: &[u8]) {
    if let Ok(table) = intake::result_table::read_table(data, &Default::default()) {
        let _ = intake::result_rows::result_rows(&table);
    }
}

/// Workbooks.
pub fn workbooks(data: &[u8]) {
    let _ = intake::workbook::read_workbook(data);
}

/// Parquet files.
pub fn parquet_files(data: &[u8]) {
    let _ = intake::parquet_file::read_parquet(data);
}

/// Case files and what stands before the data of a log.
pub fn cases(data: &[u8]) {
    let text = String::from_utf8_lossy(data);
    let _ = intake::case_file::read_case(&text);
    let _ = intake::rig_stamp::rig_stamp(&text);
}

/// Reading plans.
pub fn plans(data: &[u8]) {
    let _ = intake::plan_file::read_plan(&String::from_utf8_lossy(data));
}

/// Quantities, flows, target units and names.
pub fn quantities(data: &[u8]) {
    let text = String::from_utf8_lossy(data);
    let _ = intake::written_quantity::read_any(&text);
    let _ = intake::written_quantity::read_flow(&text);
    let _ = intake::written_quantity::read_target_unit(&text);
    let _ = intake::shown_names::name_messages(&text);
}
