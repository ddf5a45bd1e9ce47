//! Whatever comes in, the reader of plans answers and does not panic.
#![no_main]

libfuzzer_sys::fuzz_target!(|data: &[u8]| {
    if let Ok(text) = core::str::from_utf8(data) {
        let _ = intake::plan_file::read_plan(text);
    }
});
