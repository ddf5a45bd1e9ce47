//! Positive control of the fuzzing itself: a fault planted behind the reader of
//! quantities. A run of this target must end with `planted`; one that does not
//! says that the other targets see nothing either.
#![no_main]

libfuzzer_sys::fuzz_target!(|data: &[u8]| {
    let text = String::from_utf8_lossy(data);
    let reads = intake::written_quantity::read_any(&text).is_ok();
    assert!(!(reads && text.starts_with("77")), "planted");
});
