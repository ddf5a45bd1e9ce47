//! Whatever comes in, the reader of quantities answers and does not panic.
#![no_main]

libfuzzer_sys::fuzz_target!(|data: &[u8]| {
    if let Ok(text) = core::str::from_utf8(data) {
        let _ = intake::written_quantity::read_any(text);
        let _ = intake::written_quantity::read_flow(text);
        let _ = intake::written_quantity::read_target_unit(text);
    }
});
