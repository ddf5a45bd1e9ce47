//! Whatever comes in, the reader of stream answers and does not panic.
#![no_main]

libfuzzer_sys::fuzz_target!(|data: &[u8]| {
    let mut stream = intake::trace_file::TraceStream::new(&Default::default());
    for piece in data.chunks(7) {
        if stream.push(piece).is_err() {
            return;
        }
    }
    let _ = stream.finish();
});
