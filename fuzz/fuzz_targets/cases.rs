//! Whatever comes in, the reader of `cases` answers and does not panic.
#![no_main]
#[path = "../readers.rs"]
#[allow(dead_code)] // Each target uses one of them.
mod readers;

libfuzzer_sys::fuzz_target!(|data: &[u8]| readers::cases(data));
