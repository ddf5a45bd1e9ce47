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
