//! Power cuts: what a benchbook acknowledged is on the disk.
//!
//! The writes and syncs of a real writer are recorded (`recorder.c`), then the
//! power is cut at many points of the record on a disk that tears and reorders
//! what was not synced (`disk.rs`). Two weakened disks are the control: the
//! same cuts must show losses there.
#![cfg(target_os = "linux")]
#![allow(clippy::unwrap_used, clippy::print_stdout)] // a test fails by panicking

mod invented;
#[path = "power_cut/disk.rs"]
mod disk;

use std::collections::HashMap;
use std::io::Write;
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};
use std::sync::Arc;

use benchbook::{Benchbook, Checkpoint, verify};
use disk::{Act, Disk, WAL};
use invented::{bare_connection, moment};
use sqlx::Connection;

/// Changes of the long record: enough for two checkpoints of the WAL.
const LONG: u64 = 260;
/// Changes of the short record, which are small: thousands of cuts go into it.
const SHORT: u64 = 30;

/// Changes of the record of four writers, who share commits.
const SHARED: u64 = 40;

/// The recorded writer. Only started by the tests below.
#[tokio::test]
#[ignore = "the writing side of the tests below"]
async fn writes_under_the_recorder() {
    let Ok(path) = std::env::var("RECORD_OF") else { return };
    let mut acknowledgements = std::fs::File::create(format!("{path}.ack")).unwrap();
    let book = Benchbook::open(Path::new(&path)).await.unwrap();
    let case = book.case("syringe-1ml").await.unwrap();
    let (mut plan, mut run) = (case.plan.unwrap(), case.runs[0].clone());
    run.number = case.runs.last().unwrap().number;
    let changes = std::env::var("CHANGES").unwrap().parse().unwrap();
    if changes == SHARED {
        share_commits(&book, acknowledgements).await;
        book.close().await;
        return;
    }
    for change in 0..changes {
        if changes == SHORT && change % 3 > 0 {
            let text = format!("item {change}");
            book.note_open_item("syringe-1ml", &text, &moment(60)).await.unwrap();
        } else if change % 3 == 0 {
            run.number += 1;
            book.add_runs("syringe-1ml", std::slice::from_ref(&run), &moment(60)).await.unwrap();
        } else {
            plan.seed = change;
            book.record_plan("syringe-1ml", &plan, &moment(60)).await.unwrap();
        }
        let text = book.checkpoint().await.unwrap().text();
        acknowledgements.write_all(text.as_bytes()).unwrap();
    }
    book.close().await;
}

/// Four writers at once; what each sees after its answer is written down.
async fn share_commits(book: &Benchbook, acknowledgements: std::fs::File) {
    let acknowledgements = Arc::new(std::sync::Mutex::new(acknowledgements));
    let mut writers = tokio::task::JoinSet::new();
    for writer in 0..4 {
        let (book, acknowledgements) = (book.clone(), Arc::clone(&acknowledgements));
        writers.spawn(async move {
            for change in 0..SHARED / 4 {
                let text = format!("item {change} of writer {writer}");
                book.note_open_item("syringe-1ml", &text, &moment(60)).await.unwrap();
                let text = book.checkpoint().await.unwrap().text();
                acknowledgements.lock().unwrap().write_all(text.as_bytes()).unwrap();
            }
        });
    }
    while let Some(ended) = writers.join_next().await {
        ended.unwrap();
    }
}

/// The database before, and what the writer did; `None` without a C compiler.
async fn recorded(folder: &Path, changes: u64) -> Option<(Vec<u8>, Vec<Act>)> {
    let library = disk::recorder(folder)?;
    let (_scratch, path, book) = invented::small_book().await;
    book.close().await;
    let path = path.canonicalize().unwrap();
    let before = std::fs::read(&path).unwrap();
    let record = folder.join("record");
    let status = Command::new(std::env::current_exe().unwrap())
        .args(["writes_under_the_recorder", "--exact", "--ignored"])
        .env("LD_PRELOAD", &library)
        .env("RECORD_OF", &path)
        .env("RECORD_TO", &record)
        .env("CHANGES", changes.to_string())
        .stdout(Stdio::null())
        .status()
        .unwrap();
    assert!(status.success());
    Some((before, disk::read_record(&record)))
}

#[derive(Debug, Default)]
struct Outcome {
    cuts: u64,
    /// Different disks that the cuts left behind.
    distinct: u64,
    lost: u64,
    corrupt: u64,
}

/// Cuts the power at `n` points spread over the record, on two threads.
async fn cut(before: &[u8], acts: &Arc<Vec<Act>>, n: usize, honours: fn(usize) -> bool) -> Outcome {
    let halves: Vec<_> = (0..2)
        .map(|half| {
            let (before, acts) = (before.to_vec(), Arc::clone(acts));
            tokio::spawn(async move { cut_every_second(&before, &acts, n, half, honours).await })
        })
        .collect();
    let mut outcome = Outcome::default();
    for half in halves {
        let Outcome { cuts, distinct, lost, corrupt } = half.await.unwrap();
        outcome.cuts += cuts;
        outcome.distinct += distinct;
        outcome.lost += lost;
        outcome.corrupt += corrupt;
    }
    outcome
}

/// A folder in memory where there is one: the cuts are simulated, the disk
/// underneath has no part in them.
fn scratch() -> tempfile::TempDir {
    let memory = Path::new("/dev/shm");
    match memory.is_dir() {
        true => tempfile::tempdir_in(memory).or_else(|_| tempfile::tempdir()).unwrap(),
        false => tempfile::tempdir().unwrap(),
    }
}

async fn cut_every_second(
    before: &[u8],
    acts: &[Act],
    n: usize,
    half: usize,
    honours: fn(usize) -> bool,
) -> Outcome {
    let folder = scratch();
    let path: PathBuf = folder.path().canonicalize().unwrap().join("cut.benchbook");
    let mut disk = Disk::with_database(before.to_vec(), honours);
    let mut acknowledged: Option<Checkpoint> = None;
    let mut next = numbers((n + half) as u64);
    let mut outcome = Outcome::default();
    // The same disk after the same acknowledgements is looked at once.
    let mut known: HashMap<(u64, u64), State> = HashMap::new();
    let mut done = 0;
    for (index, act) in acts.iter().enumerate() {
        disk.act(act);
        if let Act::Acknowledge { text } = act {
            let said = Checkpoint::from_text(text).unwrap();
            // Of several writers, one may say late what it saw early.
            if acknowledged.as_ref().is_none_or(|before| before.size < said.size) {
                acknowledged = Some(said);
            }
        }
        // As many cuts after this act as keep them spread evenly.
        while done * acts.len() < (index + 1) * n {
            done += 1;
            if done % 2 != half {
                continue;
            }
            let left = disk.left(&mut next);
            outcome.cuts += 1;
            let key = (disk::fingerprint(&left), acknowledged.as_ref().map_or(0, |one| one.size));
            let state = match known.get(&key) {
                Some(state) => *state,
                None => {
                    outcome.distinct += 1;
                    disk::write(&left, &path);
                    let state = state(&path, acknowledged.as_ref()).await;
                    known.insert(key, state);
                    state
                }
            };
            match state {
                State::Whole => {}
                State::Lost => outcome.lost += 1,
                State::Corrupt => outcome.corrupt += 1,
            }
        }
    }
    outcome
}

#[derive(Clone, Copy)]
enum State {
    Whole,
    Lost,
    Corrupt,
}

/// Starts after the cut and looks at everything.
async fn state(path: &Path, acknowledged: Option<&Checkpoint>) -> State {
    let mut bare = bare_connection(path).await;
    // Recovery as at any start; syncs would only cost time here.
    let recovered =
        sqlx::raw_sql("PRAGMA synchronous = OFF; SELECT count(*) FROM history; SELECT 1")
            .execute(&mut bare)
            .await;
    let closed = bare.close().await;
    if recovered.is_err() || closed.is_err() {
        return State::Corrupt;
    }
    if verify(path, acknowledged).await.is_ok_and(|found| found.is_valid()) {
        return State::Whole;
    }
    match verify(path, None).await {
        Ok(found) if found.is_valid() => State::Lost,
        _ => State::Corrupt,
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

async fn cuts_on_three_disks(changes: u64, n: usize, n_weak: usize) {
    let folder = tempfile::tempdir().unwrap();
    let Some((before, acts)) = recorded(folder.path(), changes).await else { return };
    let acts = Arc::new(acts);
    let count = |wanted: fn(&Act) -> bool| acts.iter().filter(|act| wanted(act)).count();
    let acknowledged = count(|act| matches!(act, Act::Acknowledge { .. }));
    let syncs = count(|act| matches!(act, Act::Sync { .. }));
    let database_writes = count(|act| matches!(act, Act::Write { file: 0, .. }));
    println!("{} acts, {syncs} syncs, {acknowledged} acknowledged", acts.len());
    assert_eq!(acknowledged as u64, changes);
    assert!(database_writes > 0, "the WAL was folded into the database at least once");

    let sound = cut(&before, &acts, n, |_| true).await;
    println!("a disk that keeps what it synced: {sound:?}");
    assert_eq!((sound.lost, sound.corrupt), (0, 0), "{sound:?}");

    // What synchronous = NORMAL does to the WAL, and more: it is never synced.
    let weak = cut(&before, &acts, n_weak, |file| file != WAL).await;
    println!("a disk that never syncs the WAL: {weak:?}");
    assert!(weak.lost + weak.corrupt > weak.cuts / 2, "{weak:?}");

    let none = cut(&before, &acts, n_weak, |_| false).await;
    println!("a disk that never syncs: {none:?}");
    assert!(none.lost + none.corrupt > none.cuts / 2, "{none:?}");
}

/// Number of cuts: 2000, or what `POWER_CUTS` says (a million and more were
/// made once, docs/performance.md says with what outcome).
fn cuts() -> usize {
    std::env::var("POWER_CUTS").ok().and_then(|text| text.parse().ok()).unwrap_or(2000)
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn no_power_cut_loses_what_was_acknowledged() {
    cuts_on_three_disks(SHORT, cuts(), 100).await;
    cuts_on_three_disks(LONG, 100, 30).await;
    cuts_on_three_disks(SHARED, cuts() / 10, 30).await;
}
