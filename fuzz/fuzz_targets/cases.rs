//! Whatever comes in, the reader of cases answers and does not panic.
#![no_main]

libfuzzer_sys::fuzz_target!(|data: &[u8]| {
    if let Ok(text) = core::str::from_utf8(data) {
        let _ = intake::case_file::read_case(text);
    }
});
