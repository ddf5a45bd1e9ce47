//! Figures of speed, measured on request; they depend on the machine. Beside
//! the time that passed stands the processor time, which other work on the
//! same machine does not lengthen much.
#![cfg(target_os = "linux")]
#![allow(clippy::unwrap_used, clippy::print_stdout)] // a test fails by panicking

mod invented;
#[path = "power_cut/disk.rs"]
mod disk;

use std::io::{BufRead, BufReader, Write};
use std::path::Path;
use std::process::{Command, Stdio};
use std::time::Instant;

use benchbook::{Benchbook, verify};
use invented::{book_with_syringe, moment};

/// Seconds that all threads of this process have computed, in hundredths
/// (proc_pid_stat(5): fields 14 and 15, after the name in brackets).
fn processor_seconds() -> f64 {
    let stat = std::fs::read_to_string("/proc/self/stat").unwrap();
    let (_, fields) = stat.rsplit_once(") ").unwrap();
    let ticks = |field: usize| fields.split(' ').nth(field).unwrap().parse::<f64>().unwrap();
    (ticks(11) + ticks(12)) / 100.0
}

/// Prints how quickly `n` of something were done since two moments.
fn print_rate(what: &str, n: u64, started: Instant, computed: f64) {
    let (seconds, computed) = (started.elapsed().as_secs_f64(), processor_seconds() - computed);
    let n_real = n as f64;
    println!(
        "{what}: {n} in {seconds:.2} s, {:.0} per second; {computed:.2} s of processor time, \
         {:.0} per second on two cores",
        n_real / seconds,
        2.0 * n_real / computed
    );
}

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
        let (start, computed) = (Instant::now(), processor_seconds());
        for batch in runs.chunks(1000) {
            book.add_runs("syringe-1ml", batch, &moment(60)).await.unwrap();
        }
        print_rate(&format!("runs of {samples} samples added"), RUNS.into(), start, computed);
    }
    let (start, computed) = (Instant::now(), processor_seconds());
    let found = verify(&path, None).await.unwrap();
    assert!(found.is_valid());
    let rows = found.n_events + found.n_records + found.n_runs + found.n_channels;
    print_rate("rows verified", rows, start, computed);
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
        let (start, computed) = (Instant::now(), processor_seconds());
        let found = verify(&path, None).await.unwrap();
        assert!(found.is_valid(), "{:?}", found.findings);
        print_rate("events verified with their file", found.n_events, start, computed);
    }
    // What SQLite needs of it to look at its pages.
    let mut bare = invented::bare_connection(&path).await;
    let (start, computed) = (Instant::now(), processor_seconds());
    sqlx::query("PRAGMA integrity_check").fetch_all(&mut bare).await.unwrap();
    print_rate("of that the pages", EVENTS, start, computed);
}

/// Small changes by one writer and by many at once. Each is answered after
/// its commit has reached the disk.
#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
#[ignore = "a measurement; run by name on an idle machine"]
async fn many_writers() {
    let (_folder, _path, book, _case) = book_with_syringe().await;
    write_from_many(&book).await;
}

/// The same on a disk that takes 4 ms to sync, as many do; the 247 changes a
/// second that one writer reached on another machine speak of one.
#[tokio::test]
#[ignore = "a measurement; run by name on an idle machine"]
async fn many_writers_on_a_slow_disk() {
    let (folder, path, book, _case) = book_with_syringe().await;
    book.close().await;
    let Some(library) = disk::recorder(folder.path()) else { return };
    let said = Command::new(std::env::current_exe().unwrap())
        .args(["many_writers_there", "--exact", "--ignored", "--nocapture"])
        .env("LD_PRELOAD", library)
        .env("RECORD_OF", path.canonicalize().unwrap())
        .env("SYNC_TAKES", "4000")
        .output()
        .unwrap();
    assert!(said.status.success());
    println!("{}", String::from_utf8_lossy(&said.stdout));
}

/// Only started by the test above.
#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
#[ignore = "the writing side of the test above"]
async fn many_writers_there() {
    let Ok(path) = std::env::var("RECORD_OF") else { return };
    let book = Benchbook::open(Path::new(&path)).await.unwrap();
    write_from_many(&book).await;
}

async fn write_from_many(book: &Benchbook) {
    let case = book.case("syringe-1ml").await.unwrap();
    let mut template = case.runs[0].clone();
    template.trace.times_s.clear();
    template.trace.pressures_pa.clear();
    template.trace.temperatures_k.clear();
    let mut number = 10_000;
    let mut alone = 0.0;
    for writers in [1, 8, 16, 32, 64, 128, 256] {
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

/// How long a benchbook of 1 GB takes to be of use after its writer was
/// killed in the middle of a change.
#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
#[ignore = "a measurement; writes 1 GB"]
async fn start_after_a_crash() {
    let (_folder, path, book, _case) = book_with_syringe().await;
    book.close().await;
    let mut filling = Command::new(std::env::current_exe().unwrap())
        .args(["fills_a_benchbook", "--exact", "--ignored", "--nocapture"])
        .env("FILL", &path)
        .stdout(Stdio::piped())
        .spawn()
        .unwrap();
    let lines = BufReader::new(filling.stdout.take().unwrap()).lines();
    assert!(lines.map_while(Result::ok).any(|line| line.contains("it has 1 GB")));
    // In the middle of what it writes next.
    std::thread::sleep(std::time::Duration::from_millis(700));
    filling.kill().unwrap();
    filling.wait().unwrap();
    let wal = std::fs::metadata(path.with_extension("benchbook-wal")).unwrap().len();
    let size = std::fs::metadata(&path).unwrap().len();
    println!("{size} bytes, and {wal} bytes beside it");
    assert!(size > 1_000_000_000 && wal > 0);
    let start = Instant::now();
    let book = Benchbook::open(&path).await.unwrap();
    println!("open after {:.3} s", start.elapsed().as_secs_f64());
    let cases = book.cases().await.unwrap();
    println!("its {} cases listed after {:.3} s", cases.len(), start.elapsed().as_secs_f64());
    book.note_open_item("syringe-1ml", "a change", &moment(70)).await.unwrap();
    let usable = start.elapsed().as_secs_f64();
    println!("a change written after {usable:.3} s");
    book.close().await;
    let (start, computed) = (Instant::now(), processor_seconds());
    let found = verify(&path, None).await.unwrap();
    assert!(found.is_valid(), "{:?}", found.findings);
    print_rate("MB verified", size / 1_000_000, start, computed);
    assert!(usable < 2.0, "{usable}");
}

/// Only started by the test above.
#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
#[ignore = "the writing side of the test above"]
async fn fills_a_benchbook() {
    let Ok(path) = std::env::var("FILL") else { return };
    let path = Path::new(&path);
    let book = Benchbook::open(path).await.unwrap();
    let mut run = book.case("syringe-1ml").await.unwrap().runs.remove(0);
    // Readings without a pattern, which packing hardly shortens.
    let mut state = 7_u64;
    let mut drawn = || {
        // An ordinary generator of Knuth's kind; nothing depends on it.
        state = state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1);
        f64::from((state >> 32) as u32)
    };
    run.trace.times_s = (0..20_000_u32).map(|place| f64::from(place) * 0.01).collect();
    run.trace.pressures_pa = run.trace.times_s.iter().map(|_| drawn()).collect();
    run.trace.temperatures_k = run.trace.times_s.iter().map(|_| 290.0 + drawn() / 1e10).collect();
    let mut said = false;
    for batch in 0..1_000_u32 {
        let first = 10_000 + 20 * batch;
        let runs: Vec<study::Run> =
            (first..first + 20).map(|number| study::Run { number, ..run.clone() }).collect();
        book.add_runs("syringe-1ml", &runs, &moment(60)).await.unwrap();
        if !said && std::fs::metadata(path).unwrap().len() > 1_000_000_000 {
            said = true;
            println!("it has 1 GB");
            std::io::stdout().flush().unwrap();
        }
    }
}
