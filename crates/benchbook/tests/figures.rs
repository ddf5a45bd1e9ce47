//! Figures of speed, measured on request; they depend on the machine.
#![allow(clippy::unwrap_used, clippy::print_stdout)] // a test fails by panicking

mod invented;

use std::time::Instant;

use benchbook::verify;
use invented::{book_with_syringe, moment};

/// A hundred thousand runs without samples, in batches of a thousand, then the
/// whole file verified.
#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
#[ignore = "a measurement; run by name on an idle machine"]
async fn a_hundred_thousand_runs() {
    const RUNS: u32 = 100_000;
    let (_folder, path, book, case) = book_with_syringe().await;
    for samples in [0, 12] {
        let mut template = case.runs[0].clone();
        template.trace.times_s.truncate(samples);
        template.trace.pressures_pa.truncate(samples);
        template.trace.temperatures_k.clear();
        let first = 1000 + RUNS * u32::from(samples > 0);
        let runs: Vec<study::Run> =
            (first..first + RUNS).map(|number| study::Run { number, ..template.clone() }).collect();
        let start = Instant::now();
        for batch in runs.chunks(1000) {
            book.add_runs("syringe-1ml", batch, &moment(60)).await.unwrap();
        }
        let rate = f64::from(RUNS) / start.elapsed().as_secs_f64();
        println!("{samples} samples: {rate:.0} runs/s in batches of 1,000");
    }
    let start = Instant::now();
    let found = verify(&path, None).await.unwrap();
    let seconds = start.elapsed().as_secs_f64();
    assert!(found.is_valid());
    let rows = found.n_events + found.n_records + found.n_runs + found.n_channels;
    println!("verified {rows} rows in {seconds:.2} s: {:.0} rows/s", rows as f64 / seconds);
}
