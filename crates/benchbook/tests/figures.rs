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

/// An audit trail of a million events, verified with its file.
#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
#[ignore = "a measurement; run by name on an idle machine"]
async fn a_million_events() {
    use sha2::{Digest, Sha256};
    use sqlx::Connection;
    const EVENTS: u64 = 1_000_000;
    let (_folder, path, book, _case) = book_with_syringe().await;
    book.close().await;
    let mut bare = invented::bare_connection(&path).await;
    let begin = "PRAGMA synchronous = OFF; BEGIN";
    sqlx::raw_sql(begin).execute(&mut bare).await.unwrap();
    for number in 8..=EVENTS {
        let event = format!(
            "{{\"schema\":1,\"number\":{number},\"at\":\"2026-11-25T09:00:00Z\",\"actor\":\"A. \
             Analyst (invented)\",\"what\":\"password refused\",\"case\":null,\"record\":null,\
             \"version\":null,\"old_sha256\":null,\"new_sha256\":null,\"detail\":\"for an account \
             that does not exist\"}}"
        );
        let leaf = Sha256::new().chain_update([0]).chain_update(&event).finalize();
        sqlx::query("INSERT INTO history (number, event, leaf) VALUES ($1, $2, $3)")
            .bind(i64::try_from(number).unwrap())
            .bind(event)
            .bind(leaf.to_vec())
            .execute(&mut bare)
            .await
            .unwrap();
    }
    sqlx::raw_sql("COMMIT").execute(&mut bare).await.unwrap();
    bare.close().await.unwrap();
    for _ in 0..3 {
        let start = Instant::now();
        let found = verify(&path, None).await.unwrap();
        let seconds = start.elapsed().as_secs_f64();
        assert!(found.is_valid(), "{:?}", found.findings);
        let rate = found.n_events as f64 / seconds;
        println!("verified {} events in {seconds:.2} s: {rate:.0} events/s", found.n_events);
    }
}

/// Small changes by one writer and by many at once. Each is answered after
/// its commit has reached the disk.
#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
#[ignore = "a measurement; run by name on an idle machine"]
async fn many_writers() {
    let (_folder, _path, book, case) = book_with_syringe().await;
    let mut template = case.runs[0].clone();
    template.trace.times_s.clear();
    template.trace.pressures_pa.clear();
    template.trace.temperatures_k.clear();
    let mut number = 10_000;
    let mut alone = 0.0;
    for writers in [1, 8, 32, 64, 128, 256] {
        let each = if writers == 1 { 300 } else { 3_000 / writers };
        let start = Instant::now();
        let mut tasks = tokio::task::JoinSet::new();
        for _ in 0..writers {
            let (book, template, first) = (book.clone(), template.clone(), number);
            number += each;
            tasks.spawn(async move {
                for number in first..first + each {
                    let run = study::Run { number, ..template.clone() };
                    book.add_runs("syringe-1ml", &[run], &moment(60)).await.unwrap();
                }
            });
        }
        while let Some(ended) = tasks.join_next().await {
            ended.unwrap();
        }
        let rate = f64::from(writers * each) / start.elapsed().as_secs_f64();
        if writers == 1 {
            alone = rate;
        }
        println!("{writers} writers: {rate:.0} changes/s, {:.1} times one writer", rate / alone);
    }
}
