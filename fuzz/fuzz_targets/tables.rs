//! Whatever comes in, the reader of tables answers and does not panic.
#![no_main]

libfuzzer_sys::fuzz_target!(|data: &[u8]| {
    if let Ok(table) = intake::result_table::read_table(data, &Default::default()) {
        let _ = intake::result_rows::result_rows(&table);
    }
});
