//! Whatever comes in, the reader of traces answers and does not panic.
#![no_main]

libfuzzer_sys::fuzz_target!(|data: &[u8]| {
    for plan in [
        Default::default(),
        intake::plan_file::read_plan("split_at_restart = true\ntime = { rate = 10 }")
            .unwrap_or_default(),
    ] {
        let _ = intake::trace_file::read_traces(data, &plan);
    }
});
