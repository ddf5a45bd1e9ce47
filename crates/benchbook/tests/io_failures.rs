//! Every write, truncation and sync of a day's work fails in turn, once or
//! from then on, with a full disk or a failing one: importing, recording,
//! backup, a new file, and signing by three people. Each time the error says
//! so, what was acknowledged is there, the file verifies, and after a single
//! failure the work goes on. No signature is half there, and none is there
//! that was not given.
#![cfg(target_os = "linux")]
#![allow(clippy::unwrap_used, clippy::print_stdout)] // a test fails by panicking

mod invented;
#[path = "power_cut/disk.rs"]
mod disk;

use std::io::Write;
use std::path::Path;
use std::process::Command;

use benchbook::{Benchbook, BenchbookError, Checkpoint, LogKey, Meaning, verify};
use disk::Act;
use invented::{
    ANALYST, APPROVER, REVIEWER, book_with_people, book_with_syringe, moment, sign, small_case,
};

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

/// What is acknowledged, where the recorder sees it.
struct Acknowledgements(std::fs::File);

impl Acknowledgements {
    fn of(path: &Path) -> Self {
        Self(std::fs::File::create(path.with_extension("benchbook.ack")).unwrap())
    }

    async fn of_step<T>(&mut self, done: Option<T>, book: &Benchbook) {
        if done.is_some() {
            let checkpoint = book.checkpoint().await.expect("reading does not fail here");
            self.0.write_all(checkpoint.text().as_bytes()).unwrap();
        }
    }
}

/// The work whose writes fail. Only started by the tests below.
#[tokio::test]
#[ignore = "the writing side of the tests below"]
async fn works_on_a_failing_disk() {
    let Ok(path) = std::env::var("RECORD_OF") else { return };
    let path = Path::new(&path);
    let mut acknowledged = Acknowledgements::of(path);
    let Some(book) = step!("open", Benchbook::open(path).await) else { return };
    let case = book.case("syringe-1ml").await.expect("reading does not fail here");
    let mut run = case.runs[0].clone();
    run.number = 1000;
    let runs = [run.clone(), study::Run { number: 1001, ..run }];
    let vial = study::worked_cases::liquid_vial();
    let added = step!("add_case", book.add_case(&vial, &moment(60)).await);
    acknowledged.of_step(added, &book).await;
    let added = step!("add_runs", book.add_runs("syringe-1ml", &runs, &moment(61)).await);
    acknowledged.of_step(added, &book).await;
    let forecast = case.forecast.as_ref().unwrap();
    let recorded =
        step!("record_forecast", book.record_forecast("syringe-1ml", forecast, &moment(62)).await);
    acknowledged.of_step(recorded, &book).await;
    let copy = path.with_file_name("copy.benchbook");
    let backed_up = step!("back_up", book.back_up(&copy, &moment(63)).await);
    acknowledged.of_step(backed_up, &book).await;
    book.close().await;
    let other = path.with_file_name("other.benchbook");
    if let Some(book) = step!("create", Benchbook::create(&other, &moment(64)).await) {
        book.close().await;
    }
    println!("ended");
}

/// Three people sign on a failing disk. Only started by the tests below.
#[tokio::test]
#[ignore = "the writing side of the tests below"]
async fn signs_on_a_failing_disk() {
    let Ok(path) = std::env::var("RECORD_OF") else { return };
    let path = Path::new(&path);
    let mut acknowledged = Acknowledgements::of(path);
    let Some(book) = step!("open", Benchbook::open(path).await) else { return };
    let public = book.log_keys().await.unwrap().pop().unwrap();
    let keys = std::env::var("KEYS").unwrap();
    let key = LogKey::find(Path::new(&keys), &public).unwrap().unwrap();
    let id = "syringe-1ml";
    let analyst = book.acting_as(ANALYST.0, ANALYST.1, &moment(60)).await.unwrap();
    let reviewer = book.acting_as(REVIEWER.0, REVIEWER.1, &moment(60)).await.unwrap();
    let letter =
        step!("attach", analyst.attach(id, "letter.txt", "a letter", b"Dear", &moment(60)).await);
    acknowledged.of_step(letter, &book).await;
    let signed = step!("sign", sign(&book, id, Meaning::Authored, ANALYST, Some(&key), 61).await);
    acknowledged.of_step(signed, &book).await;
    let reviewed = step!(
        "review",
        reviewer.record_audit_review(id, u64::MAX, "nothing unusual", &moment(62)).await
    );
    acknowledged.of_step(reviewed, &book).await;
    let signed = step!("sign", sign(&book, id, Meaning::Reviewed, REVIEWER, Some(&key), 63).await);
    acknowledged.of_step(signed, &book).await;
    let signed = step!("sign", sign(&book, id, Meaning::Approved, APPROVER, Some(&key), 64).await);
    acknowledged.of_step(signed, &book).await;
    let kept = step!("keep_checkpoint", analyst.keep_checkpoint(&key, &moment(65)).await);
    acknowledged.of_step(kept, &book).await;
    book.close().await;
    println!("ended");
}

/// Work that a disk fails under.
#[derive(Clone, Copy, PartialEq)]
enum Work {
    Day,
    Signing,
}

impl Work {
    /// The test that does it, and how many steps it has.
    const fn of(self) -> (&'static str, usize) {
        match self {
            Self::Day => ("works_on_a_failing_disk", 6),
            Self::Signing => ("signs_on_a_failing_disk", 7),
        }
    }

    /// A benchbook to do it in, closed.
    async fn book(self) -> (tempfile::TempDir, std::path::PathBuf) {
        if self == Self::Day {
            let (folder, path, book, _case) = book_with_syringe().await;
            book.close().await;
            return (folder, path);
        }
        let (folder, path, book, _key) = book_with_people().await;
        let analyst = book.acting_as(ANALYST.0, ANALYST.1, &moment(2)).await.unwrap();
        invented::store_at(&analyst, &small_case(), 3).await;
        book.close().await;
        (folder, path)
    }
}

/// Work in which call `at` fails; false where it has fewer calls. `before` is
/// the benchbook that it begins with.
async fn one_failure(
    (work, before, keys): (Work, &Path, &Path),
    library: &Path,
    at: usize,
    errno: i32,
    from_then_on: bool,
) -> bool {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("invented.benchbook");
    std::fs::copy(before, &path).unwrap();
    let (test, n_steps) = work.of();
    let path = path.canonicalize().unwrap();
    let record = tempfile::NamedTempFile::new().unwrap();
    let mut command = Command::new(std::env::current_exe().unwrap());
    command
        .args([test, "--exact", "--ignored", "--nocapture"])
        .env("LD_PRELOAD", library)
        .env("KEYS", keys)
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
        // Without the signature that the disk refused, the next is refused too.
        let order = from_then_on && line.contains("no signature as");
        assert!(full || failing || system || order, "{line}\n{place}");
    }
    if failed && !from_then_on {
        // Retried once, every step was done.
        let done = said.lines().filter(|line| line.ends_with("done")).count();
        assert_eq!(done, n_steps, "{place}");
    }
    let found = verify(&path, None).await.unwrap();
    assert!(found.is_valid(), "{place}{:?}", found.findings);
    // The reviewer's name on a review is no signature.
    let signed = said.lines().filter(|line| line.starts_with("sign ") && line.ends_with("done"));
    let signed = signed.count() as u64;
    // From a failing disk on, a commit may have reached the file although the
    // disk refused to say so: then the whole signature is there.
    assert!(
        found.n_signatures == signed || (from_then_on && found.n_signatures == signed + 1),
        "{} signatures\n{place}",
        found.n_signatures
    );
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

async fn failures(work: Work, stride: usize) {
    let folder = tempfile::tempdir().unwrap();
    let Some(library) = disk::recorder(folder.path()) else { return };
    let (_scratch, before) = work.book().await;
    let keys = match work {
        Work::Day => folder.path().to_path_buf(),
        Work::Signing => invented::folder_of_keys().await,
    };
    let mut tried = 0;
    for (errno, from_then_on) in [(ENOSPC, false), (ENOSPC, true), (EIO, false), (EIO, true)] {
        let mut at = 1 + tried % stride;
        while one_failure((work, &before, &keys), &library, at, errno, from_then_on).await {
            tried += 1;
            at += stride;
        }
    }
    println!("{tried} failures");
    assert!(tried >= 12, "{tried}");
}

#[tokio::test]
async fn a_failing_disk_loses_nothing_that_was_acknowledged() {
    failures(Work::Day, 40).await;
}

#[tokio::test]
async fn a_failing_disk_leaves_no_half_signature() {
    failures(Work::Signing, 16).await;
}

#[tokio::test]
#[ignore = "minutes; run by name"]
async fn every_call_fails_in_turn() {
    failures(Work::Day, 1).await;
}

#[tokio::test]
#[ignore = "minutes; run by name"]
async fn every_call_of_signing_fails_in_turn() {
    failures(Work::Signing, 1).await;
}
