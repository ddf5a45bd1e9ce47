//! Two writers at once: every acknowledged change is there, in one order.
#![allow(clippy::unwrap_used)] // a test fails by panicking

use crate::invented;

use benchbook::Benchbook;
use invented::{book_with_syringe, moment};

async fn write_forecasts(book: Benchbook, forecast: study::Forecast, seeds: std::ops::Range<u64>) {
    for seed in seeds {
        let mut forecast = forecast.clone();
        forecast.seed = seed;
        forecast.traces.clear();
        book.record_forecast("syringe-1ml", &forecast, &moment(30)).await.unwrap();
    }
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn handles_and_clones_write_side_by_side() {
    const EACH: u64 = 20;
    let (_folder, path, book, case) = book_with_syringe().await;
    let second = Benchbook::open(&path).await.unwrap();
    let forecast = case.forecast.clone().unwrap();
    let writers = [book.clone(), book.clone(), second.clone()]
        .into_iter()
        .zip([0, 100, 200])
        .map(|(book, from)| {
            tokio::spawn(write_forecasts(book, forecast.clone(), from..from + EACH))
        })
        .collect::<Vec<_>>();
    // A reader meanwhile sees whole states only.
    for _ in 0..20 {
        let read = book.case_without_traces("syringe-1ml").await.unwrap();
        assert_eq!(read.runs.len(), case.runs.len());
    }
    for writer in writers {
        writer.await.unwrap();
    }
    let history = second.history(None).await.unwrap();
    assert_eq!(history.len() as u64, 7 + 3 * EACH);
    assert!(history.iter().zip(1..).all(|(event, number)| event.number == number));
    // Each version names the one before it, whoever wrote that.
    let forecasts: Vec<_> = history.iter().filter(|e| e.what == "forecast recorded").collect();
    assert!(forecasts.windows(2).all(|pair| pair[1].old_sha256 == pair[0].new_sha256));
}

/// Changes that share a commit do not share their fate: one that is refused
/// leaves the others, and a reader never sees a change that was given up.
#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_refused_change_leaves_those_it_shared_a_commit_with() {
    const WRITERS: u32 = 60;
    let (_folder, path, book, case) = book_with_syringe().await;
    let before = book.checkpoint().await.unwrap().size;
    let mut writers = tokio::task::JoinSet::new();
    for writer in 0..WRITERS {
        // Of three with the same number, one is taken.
        let run = study::Run { number: 1_000 + writer / 3, ..case.runs[0].clone() };
        let book = book.clone();
        writers.spawn(async move { book.add_runs("syringe-1ml", &[run], &moment(30)).await });
    }
    let (mut kept, mut refused) = (0, 0);
    while let Some(written) = writers.join_next().await {
        match written.unwrap() {
            Ok(()) => kept += 1,
            Err(benchbook::BenchbookError::RunExists { .. }) => refused += 1,
            Err(other) => panic!("{other}"),
        }
    }
    assert_eq!((kept, refused), (WRITERS / 3, WRITERS - WRITERS / 3));
    let found = benchbook::verify(&path, None).await.unwrap();
    assert!(found.is_valid(), "{:?}", found.findings);
    assert_eq!(found.n_events, before + u64::from(kept));
    assert_eq!(found.n_runs, case.runs.len() as u64 + u64::from(kept));
}

/// Whoever waits may go away: what was put into a commit is kept or not, the
/// store is free for the next, and nothing is half there.
#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn writers_that_go_away_hold_nobody_up() {
    let (_folder, path, book, case) = book_with_syringe().await;
    for number in 2_000..2_040_u32 {
        let runs: Vec<_> =
            (0..2).map(|i| study::Run { number: 2 * number + i, ..case.runs[0].clone() }).collect();
        let at = moment(30);
        let writing = book.add_runs("syringe-1ml", &runs, &at);
        let patience = std::time::Duration::from_micros(u64::from(number % 40) * 100);
        let _ = tokio::time::timeout(patience, writing).await;
    }
    let last = [study::Run { number: 1_999, ..case.runs[0].clone() }];
    book.add_runs("syringe-1ml", &last, &moment(31)).await.unwrap();
    // Another program is not kept waiting by what was dropped.
    let other = Benchbook::open(&path).await.unwrap();
    let last = [study::Run { number: 1_998, ..case.runs[0].clone() }];
    other.add_runs("syringe-1ml", &last, &moment(32)).await.unwrap();
    let found = benchbook::verify(&path, None).await.unwrap();
    assert!(found.is_valid(), "{:?}", found.findings);
    assert_eq!((found.n_runs - case.runs.len() as u64) % 2, 0, "half a change is there");
}
