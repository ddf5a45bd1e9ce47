//! Files longer than memory: read piece by piece, flat, and stopped at once.
#![cfg(target_os = "linux")]
#![allow(clippy::unwrap_used)] // a test fails by panicking

use std::io::Write;
use std::path::Path;
use std::process::{Child, Command, Stdio};
use std::time::{Duration, Instant};

use super::root;

/// An invented cycle of 20 s at 50 samples per second, as rows of a run.
fn rows_of_run(number: usize) -> String {
    use std::fmt::Write;
    let mut text = String::new();
    for row in 0..1000 {
        let t = row as f64 * 0.02;
        let ripple = ((row * 7919 + number * 104_729) % 1000) as f64 * 4e-4;
        let level =
            if t < 8.0 { 1.0e5 * digits::scalar::exp(-t) + 90.0 } else { 124.0 + 2.5 * (t - 8.0) };
        writeln!(text, "{number},{t:.2},{:.4}", level + ripple).unwrap();
    }
    text
}

/// Writes a table of so many bytes into a pipe until its end is gone.
fn write_runs(path: &Path, n_bytes: usize) -> usize {
    let mut pipe = std::fs::File::create(path).unwrap();
    let mut written = pipe.write(b"run,time_s,p [Pa]\n").unwrap_or(0);
    // The rows of a run are written again and again under another number.
    let template = rows_of_run(0);
    let mut number = 0;
    while written < n_bytes {
        let mut rows = String::with_capacity(template.len() + 8000);
        let name = number.to_string();
        for line in template.lines() {
            rows.push_str(&name);
            rows.push_str(&line[1..]);
            rows.push('\n');
        }
        if pipe.write_all(rows.as_bytes()).is_err() {
            break;
        }
        written += rows.len();
        number += 1;
    }
    number
}

fn start(pipe: &Path) -> Child {
    let plan = pipe.with_file_name("plan.toml");
    std::fs::write(&plan, "run = \"run\"\n").unwrap();
    assert!(Command::new("mkfifo").arg(pipe).status().unwrap().success());
    Command::new(env!("CARGO_BIN_EXE_isobar"))
        .args(["import", pipe.to_str().unwrap(), "--reading", plan.to_str().unwrap(), "--json"])
        .current_dir(root())
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .unwrap()
}

/// Most memory the process has held so far, MiB.
fn most_mib(child: &Child) -> Option<u64> {
    let status = std::fs::read_to_string(format!("/proc/{}/status", child.id())).ok()?;
    let line = status.lines().find(|line| line.starts_with("VmHWM:"))?;
    Some(line.split_whitespace().nth(1)?.parse::<u64>().ok()? / 1024)
}

/// 200 MB here; `LONG_BYTES=10000000000` for ten gigabytes.
#[test]
fn a_long_pipe_is_read_in_flat_memory() {
    let n_bytes = std::env::var("LONG_BYTES").ok().and_then(|text| text.parse().ok());
    let n_bytes = n_bytes.unwrap_or(200_000_000);
    let folder = tempfile::tempdir().unwrap();
    let pipe = folder.path().join("long.csv");
    let child = start(&pipe);
    let begin = Instant::now();
    let writing = std::thread::spawn({
        let pipe = pipe.clone();
        move || write_runs(&pipe, n_bytes)
    });
    let mut most = 0;
    while !writing.is_finished() {
        most = most.max(most_mib(&child).unwrap_or(0));
        std::thread::sleep(Duration::from_millis(50));
    }
    let n_runs = writing.join().unwrap();
    let read_s = begin.elapsed().as_secs_f64();
    most = most.max(most_mib(&child).unwrap_or(0));
    let output = child.wait_with_output().unwrap();
    assert!(output.status.success(), "{}", String::from_utf8_lossy(&output.stderr));
    let answer: serde_json::Value = serde_json::from_slice(&output.stdout).unwrap();
    let runs = answer["runs"].as_array().unwrap();
    assert_eq!(runs.len(), n_runs);
    println!("{n_bytes} bytes, {n_runs} runs, {read_s:.2} s, {most} MiB while reading");
    for run in [&runs[0], &runs[n_runs / 2], &runs[n_runs - 1]] {
        let slope = run["slope_pa_per_s"].as_f64().unwrap();
        assert!((slope - 2.5).abs() < 0.05, "{run}");
        assert_eq!(run["samples"], 1000);
    }
    // Most of them waited outside of memory; all come back in order.
    assert!(n_runs > 7000, "{n_runs}");
    for (place, run) in runs.iter().enumerate() {
        assert_eq!(run["number"], place + 1);
        assert_eq!(run["unit"], place.to_string());
    }
    assert!(most <= 256, "{most} MiB");
    assert!(answer["files"][0]["bytes"].as_u64().unwrap() >= n_bytes as u64);
}

#[test]
fn an_interrupted_reading_stops_within_a_second() {
    let folder = tempfile::tempdir().unwrap();
    let pipe = folder.path().join("long.csv");
    let mut child = start(&pipe);
    // Far more than is read before it is stopped.
    let writing = std::thread::spawn({
        let pipe = pipe.clone();
        move || write_runs(&pipe, 20_000_000_000)
    });
    std::thread::sleep(Duration::from_millis(700));
    assert!(child.try_wait().unwrap().is_none(), "it is still reading");
    let begin = Instant::now();
    // A test that runs in the background inherits that an interrupt is passed
    // over; both signals end the program the same way.
    let stopped = Command::new("kill").args(["-TERM", &child.id().to_string()]).status().unwrap();
    assert!(stopped.success());
    let ended = child.wait().unwrap();
    let waited = begin.elapsed();
    assert!(waited < Duration::from_secs(1), "{waited:?}");
    assert!(!ended.success());
    writing.join().unwrap();
}

/// A run that never ends is no cycle: refused, and never held whole.
#[test]
fn a_run_without_an_end_is_refused() {
    let folder = tempfile::tempdir().unwrap();
    let pipe = folder.path().join("endless.csv");
    let child = start(&pipe);
    let writing = std::thread::spawn({
        let pipe = pipe.clone();
        move || {
            let mut file = std::fs::File::create(pipe).unwrap();
            let mut text = String::from("run,time_s,p [Pa]\n");
            for row in 0..4_400_000_u64 {
                use std::fmt::Write as _;
                writeln!(text, "1,{row},{}.5", 100 + row % 7).unwrap();
                if text.len() > 1 << 20 {
                    file.write_all(text.as_bytes()).unwrap();
                    text.clear();
                }
            }
            file.write_all(text.as_bytes()).unwrap();
        }
    });
    let output = child.wait_with_output().unwrap();
    writing.join().unwrap();
    assert_eq!(output.status.code(), Some(3));
    let answer: serde_json::Value = serde_json::from_slice(&output.stdout).unwrap();
    assert!(answer["files"][0]["messages"].to_string().contains("INT-047"), "{answer:#}");
}
