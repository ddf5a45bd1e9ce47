//! Whatever comes in, the reader of `workbooks` answers and does not panic.
//! A library that panics beneath it is caught there and becomes a refusal: only a
//! panic that gets out counts, so that the hook that aborts at once is taken away.
#![no_main]
#[path = "../readers.rs"]
#[allow(dead_code)] // Each target uses one of them.
mod readers;

libfuzzer_sys::fuzz_target!(|data: &[u8]| {
    static ONCE: std::sync::Once = std::sync::Once::new();
    ONCE.call_once(|| std::panic::set_hook(Box::new(|_| {})));
    readers::workbooks(data);
});
