//! Every write, truncation and sync of a day's work fails in turn, once or
//! from then on, with a full disk or a failing one. Each time the error says
//! so, what was acknowledged is there, the file verifies, and after a single
//! failure the work goes on.
#![cfg(target_os = "linux")]
#![allow(clippy::unwrap_used, clippy::print_stdout)] // a test fails by panicking

mod invented;
#[path = "power_cut/disk.rs"]
mod disk;

use std::io::Write;
use std::path::Path;
use std::process::Command;

use benchbook::{Benchbook, BenchbookError, Checkpoint, verify};
use disk::Act;
use invented::{book_with_syringe, moment};

/// No room left, and a failing device (Linux errno).
const ENOSPC: i32 = 28;
const EIO: i32 = 5;

/// Tries a step twice and prints how it went; true where it was done.
macro_rules! step {
    ($name:literal, $try:expr) => {{
        let mut done = None;
        for attempt in 1..=2 {
            match $try {
                Ok(value) => {
                    println!("{} {attempt} done", $name);
                    done = Some(value);
                    break;
                }
                Err(error) => {
                    let error: BenchbookError = error;
                    println!("{} {attempt} failed: {error}", $name);
                }
            }
        }
        done
    }};
}

/// The work whose writes fail. Only started by the tests below.
#[tokio::test]
#[ignore = "the writing side of the tests below"]
async fn works_on_a_failing_disk() {
    let Ok(path) = std::env::var("RECORD_OF") else { return };
    let path = Path::new(&path);
    let mut acknowledgements = std::fs::File::create(path.with_extension("benchbook.ack")).unwrap();
    let mut acknowledge = async |book: &Benchbook| {
        let checkpoint = book.checkpoint().await.expect("reading does not fail here");
        acknowledgements.write_all(checkpoint.text().as_bytes()).unwrap();
    };
    let Some(book) = step!("open", Benchbook::open(path).await) else { return };
    let case = book.case("syringe-1ml").await.expect("reading does not fail here");
    let mut run = case.runs[0].clone();
    run.number = 1000;
    let runs = [run.clone(), study::Run { number: 1001, ..run }];
    let vial = study::worked_cases::liquid_vial();
    if step!("add_case", book.add_case(&vial, &moment(60)).await).is_some() {
        acknowledge(&book).await;
    }
    if step!("add_runs", book.add_runs("syringe-1ml", &runs, &moment(61)).await).is_some() {
        acknowledge(&book).await;
    }
    let forecast = case.forecast.as_ref().unwrap();
    let recorded =
        step!("record_forecast", book.record_forecast("syringe-1ml", forecast, &moment(62)).await);
    if recorded.is_some() {
        acknowledge(&book).await;
    }
    let copy = path.with_file_name("copy.benchbook");
    if step!("back_up", book.back_up(&copy, &moment(63)).await).is_some() {
        acknowledge(&book).await;
    }
    book.close().await;
    let other = path.with_file_name("other.benchbook");
    if let Some(book) = step!("create", Benchbook::create(&other, &moment(64)).await) {
        book.close().await;
    }
    println!("ended");
}

/// One day's work in which call `at` fails; false where it has fewer calls.
async fn one_failure(library: &Path, at: usize, errno: i32, from_then_on: bool) -> bool {
    let (folder, path, book, _case) = book_with_syringe().await;
    book.close().await;
    let path = path.canonicalize().unwrap();
    let record = tempfile::NamedTempFile::new().unwrap();
    let mut command = Command::new(std::env::current_exe().unwrap());
    command
        .args(["works_on_a_failing_disk", "--exact", "--ignored", "--nocapture"])
        .env("LD_PRELOAD", library)
        .env("RECORD_OF", &path)
        .env("RECORD_TO", record.path())
        .env("FAIL_AT", at.to_string())
        .env("FAIL_WITH", errno.to_string());
    if from_then_on {
        command.env("FAIL_ON", "1");
    }
    let output = command.output().unwrap();
    let said = String::from_utf8_lossy(&output.stdout).into_owned();
    let place = format!("call {at}, errno {errno}, from then on {from_then_on}: {said}");
    assert!(output.status.success(), "{place}{}", String::from_utf8_lossy(&output.stderr));
    let acts = disk::read_record(record.path());
    let failed = acts.iter().any(|act| matches!(act, Act::Failed));

    for line in said.lines().filter(|line| line.contains("failed:")) {
        // SQLite tells a full disk from a failing one at writes only, not at
        // syncs and truncations; the file of a backup is synced by the system.
        let full = errno == ENOSPC && line.contains("no room left on the disk of");
        let failing = line.contains("the disk of") && line.contains("failed (");
        let system = errno == EIO && line.contains("Input/output error");
        assert!(full || failing || system, "{line}\n{place}");
    }
    if failed && !from_then_on {
        // Retried once, every step was done.
        let done = said.lines().filter(|line| line.ends_with("done")).count();
        assert_eq!(done, 6, "{place}");
    }
    let found = verify(&path, None).await.unwrap();
    assert!(found.is_valid(), "{place}{:?}", found.findings);
    let acknowledged = acts.iter().rev().find_map(|act| match act {
        Act::Acknowledge { text } => Some(Checkpoint::from_text(text).unwrap()),
        _ => None,
    });
    let found = verify(&path, acknowledged.as_ref()).await.unwrap();
    assert!(found.is_valid(), "acknowledged work is gone: {place}{:?}", found.findings);
    for (step, name) in [("back_up", "copy.benchbook"), ("create", "other.benchbook")] {
        let file = path.with_file_name(name);
        if said.contains(&format!("{step} 1 done")) || said.contains(&format!("{step} 2 done")) {
            let found = verify(&file, None).await.unwrap();
            assert!(found.is_valid(), "{place}{:?}", found.findings);
        }
    }
    for entry in std::fs::read_dir(folder.path()).unwrap() {
        let name = entry.unwrap().file_name().into_string().unwrap();
        assert!(!name.contains("beginning"), "something half-made is left: {name}\n{place}");
    }
    failed
}

async fn failures(stride: usize) {
    let folder = tempfile::tempdir().unwrap();
    let Some(library) = disk::recorder(folder.path()) else { return };
    let mut tried = 0;
    for (errno, from_then_on) in [(ENOSPC, false), (ENOSPC, true), (EIO, false), (EIO, true)] {
        let mut at = 1 + tried % stride;
        while one_failure(&library, at, errno, from_then_on).await {
            tried += 1;
            at += stride;
        }
    }
    println!("{tried} failures");
    assert!(tried >= 12, "{tried}");
}

#[tokio::test]
async fn a_failing_disk_loses_nothing_that_was_acknowledged() {
    failures(40).await;
}

#[tokio::test]
#[ignore = "minutes; run by name"]
async fn every_call_fails_in_turn() {
    failures(1).await;
}
