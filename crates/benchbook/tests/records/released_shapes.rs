//! A benchbook of every shape that there has been opens for ever: it is read,
//! verified, and takes changes, with nothing of the old rows changed.
#![allow(clippy::unwrap_used, clippy::print_stdout)] // a test fails by panicking

use crate::invented;

use std::path::Path;
use std::process::Command;

use benchbook::{Benchbook, Checkpoint, verify};
use invented::{moment, walked};

/// Makes a small benchbook of the shape that this version writes, to be kept
/// beside this file as `shapes/N.benchbook` once that version is released.
#[tokio::test]
#[ignore = "makes a fixture; run by name with BENCHBOOK_TO_KEEP"]
async fn makes_a_benchbook_to_keep() {
    let Ok(path) = std::env::var("BENCHBOOK_TO_KEEP") else { return };
    let book = Benchbook::create(std::path::Path::new(&path), &moment(0)).await.unwrap();
    let mut case = walked(study::worked_cases::syringe());
    case.runs.truncate(4);
    for run in &mut case.runs {
        run.trace.times_s.truncate(12);
        run.trace.pressures_pa.truncate(12);
        run.trace.temperatures_k.truncate(12);
    }
    case.forecast.as_mut().unwrap().traces.clear();
    invented::store(&book, &case).await;
    println!("{}", book.checkpoint().await.unwrap().text());
    book.close().await;
}

/// Checkpoint of `shapes/1.benchbook`, as it was printed when it was made.
const FIRST: &str = "isobar/benchbook/7e91e1bfb74c405b9c0008bd5f082259\n7\n\
                     2XMg3vIHssRvjCcsdNYArZjXhpk92JAbaIQZ8yAwMMM=\n";

/// Checkpoint of `shapes/2.benchbook`, as it was printed when it was made.
const SECOND: &str = "isobar/benchbook/ca7550dd6690c5f95d3a5850410b3369\n7\n\
                      9kkAGlC0M04qSKBrc6rHV34gbtkaLfVv2BCyl3zkB9A=\n";

fn kept(folder: &Path, shape: u32) -> std::path::PathBuf {
    let name = format!("{shape}.benchbook");
    let from = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/shapes").join(&name);
    let to = folder.join(&name);
    std::fs::copy(from, &to).unwrap();
    to
}

#[tokio::test]
async fn the_first_shape_is_read_and_verified_as_it_is() {
    is_read_and_verified_as_it_is(1, FIRST).await;
}

#[tokio::test]
async fn the_second_shape_is_read_and_verified_as_it_is() {
    is_read_and_verified_as_it_is(2, SECOND).await;
}

async fn is_read_and_verified_as_it_is(shape: u32, printed: &str) {
    let folder = tempfile::tempdir().unwrap();
    let path = kept(folder.path(), shape);
    let bytes = std::fs::read(&path).unwrap();
    let printed = Checkpoint::from_text(printed).unwrap();
    let found = verify(&path, Some(&printed)).await.unwrap();
    assert!(found.is_valid(), "{:?}", found.findings);
    let book = Benchbook::open_read_only(&path).await.unwrap();
    let case = book.case("syringe-1ml").await.unwrap();
    assert_eq!(case.runs.len(), 4);
    assert_eq!(case.runs[0].trace.times_s.len(), 12);
    assert!(book.signatures("syringe-1ml").await.unwrap().is_empty());
    assert!(book.accounts().await.unwrap().is_empty());
    book.close().await;
    assert_eq!(std::fs::read(&path).unwrap(), bytes, "reading changes nothing");
    let script = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../tools/verify_benchbook.py");
    if let Ok(output) = Command::new("python3").arg(script).arg(&path).output() {
        assert!(output.status.success(), "{}", String::from_utf8_lossy(&output.stdout));
    }
}

#[tokio::test]
async fn the_first_shape_takes_changes_and_keeps_its_rows() {
    let folder = tempfile::tempdir().unwrap();
    let path = kept(folder.path(), 1);
    let printed = Checkpoint::from_text(FIRST).unwrap();
    let book = Benchbook::open(&path).await.unwrap();
    let before = book.case("syringe-1ml").await.unwrap();
    let mut run = before.runs[0].clone();
    run.number = 50;
    book.add_runs("syringe-1ml", &[run.clone()], &moment(90)).await.unwrap();
    let events = book.history(None).await.unwrap();
    assert_eq!(events[7].what, "benchbook migrated");
    assert_eq!(events.len(), 9);
    let after = book.case("syringe-1ml").await.unwrap();
    assert_eq!(after.runs[..4], before.runs[..]);
    assert_eq!(after.runs[4], run);
    book.close().await;
    // The history still begins as it was printed.
    let found = verify(&path, Some(&printed)).await.unwrap();
    assert!(found.is_valid(), "{:?}", found.findings);
    let script = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../tools/verify_benchbook.py");
    if let Ok(output) = Command::new("python3").arg(script).arg(&path).output() {
        assert!(output.status.success(), "{}", String::from_utf8_lossy(&output.stdout));
    }
}
