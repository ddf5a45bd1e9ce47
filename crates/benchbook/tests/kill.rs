//! A process that is killed while it writes: what it acknowledged is there,
//! and nothing is half there.
//!
//! This shows that the order of the program is right. It says nothing of a
//! power cut, because the system keeps what a dead process wrote.
#![allow(clippy::unwrap_used, clippy::print_stdout)] // a test fails by panicking

mod invented;

use std::io::{BufRead, BufReader, Write};
use std::path::Path;
use std::process::{Command, Stdio};
use std::time::Duration;

use benchbook::{Benchbook, Checkpoint, verify};
use invented::{book_with_syringe, moment};

/// The process that will be killed. Only started by the tests below.
#[tokio::test]
#[ignore = "the writing side of the tests below"]
async fn writes_until_it_is_killed() {
    let Ok(path) = std::env::var("BENCHBOOK_TO_WRITE") else { return };
    let too_early = std::env::var("BENCHBOOK_ACKNOWLEDGES_TOO_EARLY").is_ok();
    let book = Benchbook::open(Path::new(&path)).await.unwrap();
    let case = book.case("syringe-1ml").await.unwrap();
    let (mut plan, mut run) = (case.plan.unwrap(), case.runs[0].clone());
    run.number = case.runs.last().unwrap().number;
    let mut size = book.checkpoint().await.unwrap().size;
    let acknowledge = |size: u64| {
        let mut out = std::io::stdout().lock();
        writeln!(out, "acknowledged {size}").and_then(|()| out.flush()).unwrap();
    };
    loop {
        size += 1;
        if too_early {
            acknowledge(size);
        }
        if size % 2 == 0 {
            plan.seed = size;
            book.record_plan("syringe-1ml", &plan, &moment(60)).await.unwrap();
        } else {
            run.number += 1;
            let second = study::Run { number: run.number + 1, ..run.clone() };
            book.add_runs("syringe-1ml", &[run.clone(), second], &moment(60)).await.unwrap();
            run.number += 1;
        }
        if !too_early {
            acknowledge(size);
        }
    }
}

/// Many writers in one process that will be killed; each says which runs were
/// acknowledged to it.
#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
#[ignore = "the writing side of the tests below"]
async fn many_write_until_they_are_killed() {
    let Ok(path) = std::env::var("BENCHBOOK_TO_WRITE") else { return };
    let book = Benchbook::open(Path::new(&path)).await.unwrap();
    let case = book.case("syringe-1ml").await.unwrap();
    let run = case.runs[0].clone();
    let last = case.runs.last().unwrap().number;
    let mut writers = tokio::task::JoinSet::new();
    for writer in 0..16 {
        let (book, run) = (book.clone(), run.clone());
        writers.spawn(async move {
            for turn in 0.. {
                let number = last + 1 + 2 * (writer + 16 * turn);
                let pair = [number, number + 1].map(|number| study::Run { number, ..run.clone() });
                book.add_runs("syringe-1ml", &pair, &moment(60)).await.unwrap();
                let mut out = std::io::stdout().lock();
                writeln!(out, "acknowledged {number}").and_then(|()| out.flush()).unwrap();
            }
        });
    }
    while writers.join_next().await.is_some() {}
}

/// Kills a process of sixteen writers `n` times.
async fn kills_of_many(n: u64) {
    let (_folder, path, book, case) = book_with_syringe().await;
    book.close().await;
    let parity = case.runs.len() as u64 % 2;
    let mut n_acknowledged = 0;
    for kill in 0..n {
        let mut child = Command::new(std::env::current_exe().unwrap())
            .args(["many_write_until_they_are_killed", "--exact", "--ignored", "--nocapture"])
            .env("BENCHBOOK_TO_WRITE", &path)
            .stdout(Stdio::piped())
            .stderr(Stdio::null())
            .spawn()
            .unwrap();
        let mut lines = BufReader::new(child.stdout.take().unwrap()).lines();
        let number = |line: std::io::Result<String>| {
            line.ok()?.split_once("acknowledged ")?.1.parse::<u32>().ok()
        };
        let mut acknowledged: Vec<u32> =
            lines.by_ref().filter_map(number).take(1 + kill as usize % 40).collect();
        std::thread::sleep(Duration::from_micros((kill * 7919) % 6_000));
        child.kill().unwrap();
        child.wait().unwrap();
        acknowledged.extend(lines.filter_map(number));
        n_acknowledged += acknowledged.len();
        let found = verify(&path, None).await.unwrap();
        assert!(found.is_valid(), "kill {kill}: {:?}", found.findings);
        assert_eq!(found.n_runs % 2, parity, "kill {kill}: half a change is there");
        let book = Benchbook::open(&path).await.unwrap();
        let there = book.case_without_traces("syringe-1ml").await.unwrap();
        let there: std::collections::BTreeSet<u32> =
            there.runs.iter().map(|run| run.number).collect();
        for number in acknowledged {
            assert!(there.contains(&number) && there.contains(&(number + 1)), "run {number}");
        }
        book.close().await;
    }
    println!("{n} kills of sixteen writers, {n_acknowledged} acknowledged changes, none lost");
}

#[tokio::test]
async fn what_many_writers_were_acknowledged_survives() {
    kills_of_many(10).await;
}

/// Starts the writer, lets it acknowledge `acknowledged` changes, waits, kills
/// it; gives the last size that it acknowledged.
fn kill_a_writer(path: &Path, acknowledged: u64, wait: Duration, too_early: bool) -> u64 {
    let mut command = Command::new(std::env::current_exe().unwrap());
    command
        .args(["writes_until_it_is_killed", "--exact", "--ignored", "--nocapture"])
        .env("BENCHBOOK_TO_WRITE", path)
        .stdout(Stdio::piped())
        .stderr(Stdio::null());
    if too_early {
        command.env("BENCHBOOK_ACKNOWLEDGES_TOO_EARLY", "1");
    }
    let mut child = command.spawn().unwrap();
    let mut lines = BufReader::new(child.stdout.take().unwrap()).lines();
    let mut seen = 0;
    let mut last = 0;
    let mut take = |line: std::io::Result<String>| {
        if let Ok(line) = line
            && let Some((_, size)) = line.split_once("acknowledged ")
        {
            last = size.parse().unwrap();
            return true;
        }
        false
    };
    while seen < acknowledged {
        let line = lines.next().expect("the writer writes until it is killed");
        seen += u64::from(take(line));
    }
    std::thread::sleep(wait);
    child.kill().unwrap();
    child.wait().unwrap();
    // What stands in the pipe was acknowledged before the end.
    for line in lines {
        take(line);
    }
    last
}

/// Kills `n` writers of one benchbook, one after the other; gives how many
/// acknowledged changes were lost.
async fn kills(n: u64, too_early: bool) -> u64 {
    let (_folder, path, book, case) = book_with_syringe().await;
    book.close().await;
    let parity = case.runs.len() as u64 % 2;
    let mut before: Option<Checkpoint> = None;
    let mut lost = 0;
    let mut sizes = 0;
    for kill in 0..n {
        // Between at once and a few commits later, without a pattern.
        let wait = Duration::from_micros((kill * 7919) % 6_000);
        let acknowledged = kill_a_writer(&path, 1 + kill % 3, wait, too_early);
        let found = verify(&path, before.as_ref()).await.unwrap();
        assert!(found.is_valid(), "kill {kill}: {:?}", found.findings);
        lost += acknowledged.saturating_sub(found.n_events);
        // No run without its partner: the two came in one change.
        assert_eq!(found.n_runs % 2, parity, "kill {kill}: half a change is there");
        sizes = found.n_events;
        before = Some(found.checkpoint());
    }
    println!("{n} kills, {sizes} events, {lost} acknowledged changes lost");
    lost
}

#[tokio::test]
async fn what_was_acknowledged_survives() {
    assert_eq!(kills(25, false).await, 0);
}

#[tokio::test]
#[ignore = "minutes; run by name"]
async fn what_was_acknowledged_survives_a_thousand_kills() {
    assert_eq!(kills(1000, false).await, 0);
}

/// Positive control: a writer that acknowledges before it commits is caught.
#[tokio::test]
async fn acknowledging_too_early_is_caught() {
    assert!(kills(12, true).await > 0);
}
