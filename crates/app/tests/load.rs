//! Load on the workbench of this machine: a hundred people at once on a
//! benchbook of ten thousand runs, and the first view of a case that has all of
//! them. Run by hand on an idle machine; the figures stand in
//! `docs/performance.md`:
//!
//! ```text
//! cargo test --release -p app --test load -- --ignored --nocapture --test-threads 1
//! ```
//!
//! Everything stays on the loopback address and ends after `LOAD_SECONDS` (30).

// A test that cannot go on has failed.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::print_stdout, clippy::print_stderr)]

use std::io::{BufRead, BufReader};
use std::path::Path;
use std::process::{Child, Command, Stdio};
use std::time::{Duration, Instant};

use benchbook::{Benchbook, Moment};
use digits::RandomStream;
use study::CaseInput;
use study::forecast::ForecastSettings;
use study::plan::PlanSettings;
use study::runs::Run;
use tokio::io::{AsyncReadExt, AsyncWriteExt};
use tokio::net::TcpStream;

fn now() -> Moment {
    Moment { utc: "2026-11-25T01:02:03Z".to_owned(), actor: "the load".to_owned() }
}

/// A benchbook of cases with so many runs each, walked to their results.
async fn book(path: &Path, n_cases: usize, n_runs: usize) {
    let book = Benchbook::create(path, &now()).await.unwrap();
    let input = study::worked_cases::syringe();
    let settings = ForecastSettings { seed: 1, n_draws: 16, n_sizes: 61, liquid_side: true };
    let forecast = study::forecast(&input, &settings, &|_, _| {}).unwrap();
    let method = study::design_method(&input, &forecast);
    let plan = study::plan_runs(&input, &forecast, &PlanSettings::default());
    let walked = study::simulate_runs(&input, &method, &plan, 1, &|_, _| {}).unwrap();
    let runs: Vec<Run> = (1..)
        .zip(walked.iter().cycle())
        .take(n_runs)
        .map(|(number, run)| Run { number, unit: format!("U-{number}"), ..run.clone() })
        .collect();
    let results = study::evaluate(&input, &method, &runs);
    for number in 0..n_cases {
        let id = format!("case-{number}");
        book.add_case(&CaseInput { id: id.clone(), ..input.clone() }, &now()).await.unwrap();
        book.record_forecast(&id, &forecast, &now()).await.unwrap();
        book.record_method(&id, &method, &now()).await.unwrap();
        book.record_plan(&id, &plan, &now()).await.unwrap();
        book.add_runs(&id, &runs, &now()).await.unwrap();
        book.record_results(&id, &results, &now()).await.unwrap();
    }
    book.close().await;
}

/// The real binary with this benchbook.
struct Served {
    child: Child,
    port: u16,
}

impl Drop for Served {
    fn drop(&mut self) {
        let _ = self.child.kill();
        let _ = self.child.wait();
    }
}

fn serve(path: &Path) -> Served {
    let mut child = Command::new(env!("CARGO_BIN_EXE_isobar"))
        .args(["serve", path.to_str().unwrap(), "--port", "0"])
        .stdout(Stdio::piped())
        .spawn()
        .unwrap();
    let lines = BufReader::new(child.stdout.take().unwrap()).lines();
    let port = lines
        .map_while(Result::ok)
        .find_map(|line| line.split("127.0.0.1:").nth(1)?.trim_end_matches('/').parse().ok())
        .expect("the binary tells its port");
    Served { child, port }
}

impl Served {
    /// Largest resident memory so far, MiB.
    fn peak_mib(&self) -> Option<u64> {
        let status = std::fs::read_to_string(format!("/proc/{}/status", self.child.id())).ok()?;
        let line = status.lines().find(|line| line.starts_with("VmHWM"))?;
        Some(line.split_whitespace().nth(1)?.parse::<u64>().ok()? / 1024)
    }
}

struct Reply {
    status: u16,
    head: String,
    body: String,
}

async fn ask(port: u16, request: &str) -> Option<Reply> {
    let mut stream = TcpStream::connect(("127.0.0.1", port)).await.ok()?;
    stream.write_all(request.as_bytes()).await.ok()?;
    let mut bytes = Vec::new();
    let read = tokio::time::timeout(Duration::from_secs(60), stream.read_to_end(&mut bytes));
    read.await.ok()?.ok()?;
    let text = String::from_utf8_lossy(&bytes);
    let (head, body) = text.split_once("\r\n\r\n")?;
    let status = head.split(' ').nth(1)?.parse().ok()?;
    Some(Reply { status, head: head.to_owned(), body: body.to_owned() })
}

fn get(port: u16, path: &str, cookie: &str) -> String {
    format!(
        "GET {path} HTTP/1.1\r\nHost: 127.0.0.1:{port}\r\nCookie: {cookie}\r\nConnection: \
         close\r\n\r\n"
    )
}

/// Times in milliseconds and how many answers were none or no success.
#[derive(Default)]
struct Heard {
    reads: Vec<f64>,
    writes: Vec<f64>,
    errors: usize,
}

/// What people look at, the often seen more often.
const LOOKED_AT: [&str; 10] = [
    "/",
    "/case/{}/profile",
    "/case/{}/forecast",
    "/case/{}/runs",
    "/case/{}/runs",
    "/case/{}/results",
    "/case/{}/results.json",
    "/case/{}/run/7",
    "/case/{}/traces.json?runs=1,2,3,4,5",
    "/register",
];

async fn person(port: u16, who: u64, n_cases: usize, until: Instant) -> Heard {
    let mut heard = Heard::default();
    let mut stream = RandomStream::new(1, who);
    let mut draw = |n: usize| (stream.uniform() * n as f64) as usize % n;
    let Some(first) = ask(port, &get(port, "/case/case-0/units", "")).await else {
        heard.errors += 1;
        return heard;
    };
    let cookie = first
        .head
        .lines()
        .find_map(|line| line.strip_prefix("set-cookie: "))
        .and_then(|line| line.split(';').next())
        .unwrap_or_default()
        .to_owned();
    let token = first.body.split("name=\"form_token\" value=\"").nth(1);
    let token = token.and_then(|rest| rest.split('"').next()).unwrap_or_default().to_owned();
    while Instant::now() < until {
        // A person reads for a while: between half a second and one and a half.
        tokio::time::sleep(Duration::from_millis(500 + draw(1000) as u64)).await;
        let id = format!("case-{}", draw(n_cases));
        let writes = draw(10) == 0;
        let request = if writes {
            let body =
                format!("form_token={token}&unit=U-{}&about=custody&text=shelf+2", draw(500));
            format!(
                "POST /case/{id}/units HTTP/1.1\r\nHost: 127.0.0.1:{port}\r\nOrigin: \
                 http://127.0.0.1:{port}\r\nCookie: {cookie}\r\nContent-Type: \
                 application/x-www-form-urlencoded\r\nContent-Length: {}\r\nConnection: \
                 close\r\n\r\n{body}",
                body.len()
            )
        } else {
            get(port, &LOOKED_AT[draw(LOOKED_AT.len())].replace("{}", &id), &cookie)
        };
        let began = Instant::now();
        let reply = ask(port, &request).await;
        let took = began.elapsed().as_secs_f64() * 1000.0;
        let expected = if writes { 303 } else { 200 };
        match reply {
            Some(reply) if reply.status == expected => {
                if writes {
                    heard.writes.push(took)
                } else {
                    heard.reads.push(took)
                }
            }
            other => {
                heard.errors += 1;
                eprintln!(
                    "{}",
                    other.map_or("no answer".to_owned(), |r| format!("{} {}", r.status, r.body))
                );
            }
        }
    }
    heard
}

/// The value that a share of all lies at or below.
fn quantile(values: &mut [f64], share: f64) -> f64 {
    values.sort_by(f64::total_cmp);
    let place = (share * values.len() as f64).ceil() as usize;
    values.get(place.saturating_sub(1)).copied().unwrap_or(f64::NAN)
}

fn setting(name: &str, usual: u64) -> u64 {
    std::env::var(name).ok().and_then(|text| text.parse().ok()).unwrap_or(usual)
}

#[tokio::test(flavor = "multi_thread")]
#[ignore = "load on the machine: by hand, see the head of this file"]
async fn a_hundred_people_at_once() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("load.benchbook");
    let n_cases = 20;
    book(&path, n_cases, 500).await;
    let served = serve(&path);
    let (n_people, seconds) = (setting("LOAD_PEOPLE", 100), setting("LOAD_SECONDS", 30));
    let until = Instant::now() + Duration::from_secs(seconds);
    let people: Vec<_> =
        (0..n_people).map(|who| tokio::spawn(person(served.port, who, n_cases, until))).collect();
    let mut all = Heard::default();
    for one in people {
        let heard = one.await.unwrap();
        all.reads.extend(heard.reads);
        all.writes.extend(heard.writes);
        all.errors += heard.errors;
    }
    let peak = served.peak_mib();
    let (reads, writes) = (all.reads.len(), all.writes.len());
    let of = |values: &mut Vec<f64>| [0.5, 0.95, 0.99].map(|share| quantile(values, share));
    let (read, write) = (of(&mut all.reads), of(&mut all.writes));
    println!(
        "{n_people} people, {seconds} s: {reads} reads (ms at 50, 95, 99 %: {read:.0?}), {writes} \
         writes ({write:.0?}), {} errors, {peak:?} MiB",
        all.errors
    );
    assert!(reads > 100 && writes > 10, "{reads} {writes}");
    assert_eq!(all.errors, 0);
    assert!(peak.is_none_or(|peak| peak <= 1024), "{peak:?} MiB");
    assert!(read[1] <= 300.0, "reads: {read:?}");
    assert!(write[1] <= 800.0, "writes: {write:?}");
}

#[tokio::test(flavor = "multi_thread")]
#[ignore = "load on the machine: by hand, see the head of this file"]
async fn the_first_view_of_ten_thousand_runs() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("first.benchbook");
    book(&path, 1, 10_000).await;
    let served = serve(&path);
    let mut slow = Vec::new();
    for page in ["/", "/case/case-0/runs", "/case/case-0/results", "/case/case-0/forecast"] {
        let mut took: Vec<f64> = Vec::new();
        for _ in 0..5 {
            let began = Instant::now();
            let reply = ask(served.port, &get(served.port, page, "")).await.unwrap();
            assert_eq!(reply.status, 200, "{page}");
            took.push(began.elapsed().as_secs_f64() * 1000.0);
        }
        println!(
            "{page}: first {:.0} ms, median {:.0} ms",
            took[0],
            quantile(&mut took.clone(), 0.5)
        );
        if took[0] > 300.0 {
            slow.push((page, took[0]));
        }
    }
    assert!(slow.is_empty(), "{slow:?}");
}
