//! The real binary is killed in the middle of its work, at moments without a
//! pattern: nothing that it acknowledged is lost, and nothing is half there,
//! signatures least of all.
//!
//! `KILLS` says how often; `./test` kills 500 times.
#![allow(clippy::unwrap_used, clippy::print_stdout)] // a test fails by panicking

use std::io::Write;
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};
use std::time::{Duration, Instant};

use benchbook::{Benchbook, SignedCheckpoint, verify_signed};

const OWNER: &str = "harbour lantern seven\n";
const FIRST: &str = "a first word of passage\n";
const ANALYST: &str = "copper kettle morning\n";

struct Laboratory {
    folder: tempfile::TempDir,
}

impl Laboratory {
    fn path(&self, name: &str) -> PathBuf {
        self.folder.path().join(name)
    }

    fn start(&self, arguments: &[&str], lines: &str) -> std::process::Child {
        // A long run takes a copy, so that a build does not change it midway.
        let binary =
            std::env::var("ISOBAR_BIN").unwrap_or_else(|_| env!("CARGO_BIN_EXE_isobar").to_owned());
        let mut child = Command::new(binary)
            .args(arguments)
            .current_dir(self.folder.path())
            .env("ISOBAR_KEYS", self.path("keys"))
            .stdin(Stdio::piped())
            .stdout(Stdio::null())
            .stderr(Stdio::null())
            .spawn()
            .unwrap();
        // A child that was killed reads no more.
        let _ = child.stdin.take().unwrap().write_all(lines.as_bytes());
        child
    }

    fn run(&self, arguments: &[&str], lines: &str) -> Duration {
        let started = Instant::now();
        let status = self.start(arguments, lines).wait().unwrap();
        assert!(status.success(), "isobar {arguments:?}");
        started.elapsed()
    }

    /// Starts a command and kills it after a while; true where it had ended
    /// well before, so that it had acknowledged its work.
    fn kill(&self, arguments: &[&str], lines: &str, after: Duration) -> bool {
        let started = Instant::now();
        let mut child = self.start(arguments, lines);
        while started.elapsed() < after {
            if let Some(status) = child.try_wait().unwrap() {
                return status.success();
            }
            std::thread::sleep(Duration::from_micros(300));
        }
        let _ = child.kill();
        child.wait().unwrap().success()
    }
}

/// Numbers without a pattern (splitmix64), the same in every run.
fn numbers(seed: u64) -> impl FnMut() -> u64 {
    let mut state = seed;
    move || {
        state = state.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut z = state;
        z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        z ^ (z >> 31)
    }
}

/// A benchbook with an analyst and a case.
fn begin() -> Laboratory {
    let lab = Laboratory { folder: tempfile::tempdir().unwrap() };
    let book = "lab.benchbook";
    lab.run(&["account", "begin", book, "--id", "o.owner", "--name", "O. Owner"], OWNER);
    let add = [
        "account",
        "add",
        book,
        "--id",
        "a.analyst",
        "--name",
        "A. Analyst",
        "--role",
        "analyst",
        "--account",
        "o.owner",
    ];
    lab.run(&add, &format!("{OWNER}{FIRST}"));
    let change = ["account", "password", book, "--account", "a.analyst"];
    lab.run(&change, &format!("{FIRST}{ANALYST}"));
    let runtime = tokio::runtime::Runtime::new().unwrap();
    runtime.block_on(async {
        let book = Benchbook::open(&lab.path(book)).await.unwrap();
        let at = benchbook::Moment { utc: "2026-11-25T08:00:00Z".into(), actor: "test".into() };
        // The clock of the test must not be behind the binary's.
        let at = benchbook::Moment { utc: last_time(&book).await.unwrap_or(at.utc), ..at };
        let analyst = book.acting_as("a.analyst", ANALYST.trim(), &at).await.unwrap();
        analyst.add_case(&study::worked_cases::syringe(), &at).await.unwrap();
        book.close().await;
    });
    std::fs::write(lab.path("report.pdf"), b"a report (invented)").unwrap();
    lab
}

async fn last_time(book: &Benchbook) -> Option<String> {
    Some(book.history(None).await.ok()?.pop()?.at)
}

/// What the file holds after a kill: events, attachments, signatures that
/// stand, and its checkpoint.
async fn state(path: &Path, before: Option<&SignedCheckpoint>) -> (u64, usize, SignedCheckpoint) {
    // The next start is what recovers the file; verification follows it.
    let book = Benchbook::open(path).await.unwrap();
    let attached = book.attachments("syringe-1ml").await.unwrap().len();
    book.close().await;
    let found = verify_signed(path, before).await.unwrap();
    assert!(found.is_valid(), "{:?}", found.findings);
    (found.n_signatures, attached, SignedCheckpoint::from(found.checkpoint()))
}

#[test]
fn a_killed_binary_loses_nothing_that_it_acknowledged() {
    let kills: u64 = std::env::var("KILLS").ok().and_then(|n| n.parse().ok()).unwrap_or(500);
    let runtime = tokio::runtime::Runtime::new().unwrap();
    let mut lab = begin();
    let mut next = numbers(7);
    let (mut before, mut signed, mut attached) = (None, 0, 0);
    let (mut lost, mut acknowledged, mut cut_off) = (0, 0, 0);
    // How long an attachment, a signature and a backup usually take.
    let mut usual = [Duration::from_millis(80); 3];
    for kill in 0..kills {
        // Fresh after some hundred, so that the file stays small.
        if kill > 0 && kill % 400 == 0 {
            lab = begin();
            (before, signed, attached) = (None, 0, 0);
        }
        let name = format!("file-{kill}.txt");
        std::fs::write(lab.path(&name), format!("content {kill}")).unwrap();
        let attach = [
            "attach",
            "lab.benchbook",
            "--case",
            "syringe-1ml",
            "--file",
            &name,
            "--account",
            "a.analyst",
            "--reason",
            "more came in",
        ];
        let sign = [
            "sign",
            "lab.benchbook",
            "--case",
            "syringe-1ml",
            "--meaning",
            "authored",
            "--report",
            "report.pdf",
            "--account",
            "a.analyst",
        ];
        let copy = format!("copy-{kill}.benchbook");
        let backup = ["backup", "lab.benchbook", "-o", &copy, "--account", "a.analyst"];
        let what = kill % 5;
        let arguments: &[&str] = match what {
            0 | 2 => &attach,
            4 => &backup,
            _ => &sign,
        };
        let part = (next() % 1_250) as u32;
        let started = Instant::now();
        let usual = &mut usual[match what {
            0 | 2 => 0,
            4 => 2,
            _ => 1,
        }];
        let done = lab.kill(arguments, ANALYST, *usual * part / 1_000);
        if done {
            acknowledged += 1;
            *usual = (*usual * 7 + started.elapsed()) / 8;
        } else {
            cut_off += 1;
            // The longer it takes, the later it is killed.
            *usual = (*usual * 103 / 100).min(Duration::from_secs(2));
        }
        let path = lab.path("lab.benchbook");
        let (signatures, files, checkpoint) = runtime.block_on(state(&path, before.as_ref()));
        match what {
            0 | 2 if done && files < attached + 1 => lost += 1,
            // A state that is signed already is refused, not signed twice.
            1 | 3 if done && signatures < signed + 1 => lost += 1,
            4 if lab.path(&copy).exists() => {
                // A backup that has its name is whole, whoever was killed.
                let found = runtime.block_on(verify_signed(&lab.path(&copy), None)).unwrap();
                assert!(found.is_valid(), "{:?}", found.findings);
                std::fs::remove_file(lab.path(&copy)).unwrap();
            }
            4 if done => lost += 1,
            _ => {}
        }
        (signed, attached, before) = (signatures, files, Some(checkpoint));
    }
    println!("{kills} kills: {cut_off} cut off, {acknowledged} acknowledged, {lost} lost");
    assert_eq!(lost, 0);
    // A test in which nothing is cut off or nothing gets done shows nothing.
    assert!(cut_off > kills / 10 && acknowledged > kills / 10);
}
