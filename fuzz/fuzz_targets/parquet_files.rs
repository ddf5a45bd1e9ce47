//! Whatever comes in, the reader of parquet files answers and does not panic.
#![no_main]

libfuzzer_sys::fuzz_target!(|data: &[u8]| {
    let _ = intake::parquet_file::read_parquet(data);
});
