//! A file that is read piece by piece gives what it gives when read whole,
//! wherever it is parted, and keeps nothing.

#![allow(clippy::unwrap_used, clippy::print_stdout)] // a test fails by panicking and says its notice

use intake::Refusal;
use intake::plan_file::read_plan;
use intake::reading_plan::ReadingPlan;
use intake::trace_file::{SampleBlock, TraceStream, read_traces};

/// Rows of several runs, with a comma in a quoted note now and then.
fn file(n_runs: usize, n_rows: usize) -> String {
    let mut text = String::from("# invented\nrun,time_s,p [mbar],note\n");
    for run in 0..n_runs {
        for row in 0..n_rows {
            let note = if (run + row) % 97 == 5 { "\"a, b\"" } else { "1" };
            let reading = 1000.5 / (1.0 + row as f64) + run as f64;
            text.push_str(&format!("R{run},{},{reading:.4},{note}\n", row as f64 * 0.25));
        }
    }
    text
}

fn plan() -> ReadingPlan {
    read_plan("run = \"run\"").expect("a plan")
}

/// Runs as name, times and pressures.
type Runs = Vec<(String, Vec<f64>, Vec<f64>)>;

fn add(runs: &mut Runs, blocks: Vec<SampleBlock>) {
    for block in blocks {
        if block.begins {
            runs.push((block.run.clone(), Vec::new(), Vec::new()));
        }
        let last = runs.last_mut().expect("a run has begun");
        assert_eq!(last.0, block.run);
        last.1.extend(&block.channels[0].times_s);
        last.2.extend(&block.channels[0].pressures_pa);
    }
}

fn streamed(text: &str, piece: usize) -> Result<(Runs, u64), Refusal> {
    let mut stream = TraceStream::new(&plan());
    let mut runs = Runs::new();
    for bytes in text.as_bytes().chunks(piece) {
        add(&mut runs, stream.push(bytes)?);
    }
    let end = stream.finish()?;
    add(&mut runs, end.blocks);
    Ok((runs, end.n_rows))
}

#[test]
fn pieces_of_any_size_give_the_same_samples() {
    let text = file(60, 400);
    assert!(text.len() > 1 << 18, "the file must be longer than the first piece");
    let whole: Runs = read_traces(text.as_bytes(), &plan())
        .unwrap()
        .traces
        .into_iter()
        .map(|imported| (imported.run, imported.trace.times_s, imported.trace.pressures_pa))
        .collect();
    for piece in [1_000, 4_096, 77_777, text.len()] {
        let (runs, n_rows) = streamed(&text, piece).unwrap();
        assert_eq!(n_rows, 60 * 400);
        assert_eq!(runs, whole, "pieces of {piece}");
    }
}

#[test]
fn lines_after_the_data_are_no_samples_and_lines_within_are_faults() {
    let text = file(50, 400);
    let with_trailer = format!("{text}\nResult: PASS\nMax: 12\n");
    assert_eq!(streamed(&with_trailer, 10_000).unwrap(), streamed(&text, 10_000).unwrap());
    let broken = format!("{text}broken\nR99,0,5,1\n");
    let refusal = streamed(&broken, 10_000).unwrap_err();
    assert_eq!((refusal.code(), refusal.first().place.line), ("INT-016", Some(2 + 50 * 400 + 1)));
}

#[test]
fn a_fault_far_down_has_its_line() {
    let text = file(60, 400);
    let line = 20_000;
    let lines: Vec<&str> = text.lines().collect();
    let mut changed: Vec<String> = lines.iter().map(|line| (*line).to_owned()).collect();
    changed[line - 1] = changed[line - 1].replacen(",", ",OVER", 1);
    let refusal = streamed(&(changed.join("\n") + "\n"), 5_000).unwrap_err();
    assert_eq!(
        (refusal.code(), refusal.first().place.line, refusal.first().place.column),
        ("INT-013", Some(line as u64), Some(2))
    );
}

#[test]
fn an_empty_stream_and_an_endless_line_are_refused() {
    assert_eq!(streamed("", 10).map_err(|refusal| refusal.code()), Err("INT-046"));
    let text = format!("{}{}", file(60, 400), "1".repeat(3 << 20));
    assert_eq!(streamed(&text, 1 << 16).map_err(|refusal| refusal.code()), Err("INT-047"));
}

/// Most memory that the process has held, MiB; `None` where the system does
/// not say it.
fn most_mib() -> Option<u64> {
    let status = std::fs::read_to_string("/proc/self/status").ok()?;
    let line = status.lines().find(|line| line.starts_with("VmHWM:"))?;
    Some(line.split_whitespace().nth(1)?.parse::<u64>().ok()? / 1024)
}

/// 200 MB here, ten gigabytes with `LONG_BYTES=10000000000`: memory does not
/// grow with the file, and no piece keeps whoever wants to stop waiting.
#[test]
fn a_stream_stays_flat_and_can_be_left_at_any_time() {
    let n_bytes = std::env::var("LONG_BYTES").ok().and_then(|text| text.parse().ok());
    let n_bytes: u64 = n_bytes.unwrap_or(200_000_000);
    // Two runs that take turns; each piece ends with a run.
    let rows = |run: usize| -> String {
        (0..20_000).map(|row| format!("R{run},{}.25,{}.5\n", row, 100 + row % 900)).collect()
    };
    let pieces = [rows(1), rows(2)];
    let mut stream = TraceStream::new(&plan());
    drop(stream.push(b"run,time_s,p [mbar]\n").unwrap());
    let (mut pushed, mut n_samples, mut slowest) = (0, 0_u64, std::time::Duration::ZERO);
    let mut early = None;
    while pushed < n_bytes {
        let piece = &pieces[(pushed / pieces[0].len() as u64 % 2) as usize];
        let begin = std::time::Instant::now();
        let blocks = stream.push(piece.as_bytes()).unwrap();
        slowest = slowest.max(begin.elapsed());
        n_samples += blocks.iter().map(|block| block.channels[0].times_s.len() as u64).sum::<u64>();
        pushed += piece.len() as u64;
        if early.is_none() && pushed > 20_000_000 {
            early = most_mib();
        }
    }
    let end = stream.finish().unwrap();
    n_samples += end.blocks.iter().map(|b| b.channels[0].times_s.len() as u64).sum::<u64>();
    assert_eq!(n_samples, end.n_rows);
    assert!(slowest < std::time::Duration::from_secs(1), "{slowest:?}");
    if let (Some(early), Some(most)) = (early, most_mib()) {
        assert!(most <= 256 && most <= early + 16, "{early} MiB early, {most} MiB at the end");
        println!("{pushed} bytes, {n_samples} samples, {most} MiB, slowest piece {slowest:?}");
    }
}
