//! Whatever comes in, the reader of workbooks answers and does not panic.
#![no_main]

libfuzzer_sys::fuzz_target!(|data: &[u8]| {
    let _ = intake::workbook::read_workbook(data);
});
