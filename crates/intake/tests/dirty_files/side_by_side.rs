//! Rows read side by side in parts are those read in turn, to the last bit;
//! and so is every refusal, with its line and column.

use super::catalogue::catalogue;
use super::truth::dialects;
use intake::plan_file::read_plan;
use intake::reading_plan::ReadingPlan;
use intake::trace_file::{TraceStream, read_traces_in_parts};
use proptest::prelude::*;

/// In turn: no file has two parts of this length.
const IN_TURN: usize = usize::MAX;

#[test]
fn every_dirty_file_gives_the_same_in_parts_and_in_turn() {
    let mut n_refused = 0;
    let all = catalogue();
    for case in &all {
        let plan = read_plan(case.plan).unwrap();
        let in_turn = read_traces_in_parts(&case.bytes, &plan, IN_TURN);
        n_refused += usize::from(in_turn.is_err());
        for part_bytes in [1, 17, 64, 300] {
            let parts = read_traces_in_parts(&case.bytes, &plan, part_bytes);
            assert_eq!(parts, in_turn, "family {} {} by {part_bytes}", case.family, case.name);
        }
    }
    assert!(n_refused > 100 && n_refused < all.len(), "{n_refused} of {}", all.len());
}

#[test]
fn a_turned_bit_gives_the_same_in_parts_and_in_turn() {
    let plan = ReadingPlan::default();
    for dialect in dialects().into_iter().step_by(5) {
        let bytes = dialect.file(&dialect.rows());
        for index in (0..bytes.len() * 8).step_by(3) {
            let mut turned = bytes.clone();
            turned[index / 8] ^= 1 << (index % 8);
            let in_turn = read_traces_in_parts(&turned, &plan, IN_TURN);
            let parts = read_traces_in_parts(&turned, &plan, 40);
            assert_eq!(parts, in_turn, "{} bit {index}", dialect.name);
        }
    }
}

/// A long file with one line replaced, and what stands on that line.
fn long_file(line: usize, text: &str) -> String {
    let mut file = String::from("run,time_s,p [mbar]\n");
    for row in 0..24_000_usize {
        if row + 2 == line {
            file.push_str(text);
        } else {
            let (run, at) = (row / 1500, row % 1500);
            let pressure = 100.5 / (1.0 + at as f64) + run as f64;
            file.push_str(&format!("{run},{:.2},{pressure:.4}", at as f64 * 0.02));
        }
        file.push('\n');
    }
    file
}

#[test]
fn a_stream_gives_the_same_in_parts_and_in_turn() {
    let plan = read_plan("run = \"run\"").unwrap();
    let faults = [
        "13,0.04",
        "13,x,1.5",
        "13,0.04,-3.5",
        "13,-0.04,3.5",
        "run,time_s,p [mbar]",
        "\"13,0.04,3.5",
        "13,0.04,3,5",
        "Result: PASS",
        "",
        "13,0.04,",
        "13,0.04,\u{2212}1.5",
        "13,0.04,1.5e0",
    ];
    for text in faults {
        let file = long_file(13 * 1500 + 4, text);
        let read = |part_bytes: usize| {
            let mut stream = TraceStream::in_parts(&plan, part_bytes);
            let mut blocks = Vec::new();
            for piece in file.as_bytes().chunks(300_000) {
                blocks.extend(stream.push(piece)?);
            }
            let end = stream.finish()?;
            blocks.extend(end.blocks);
            // Where a run is parted does not count.
            let mut runs: Vec<(String, Vec<f64>, Vec<f64>)> = Vec::new();
            for mut block in blocks {
                let channel = block.channels.remove(0);
                match runs.last_mut().filter(|_| !block.begins) {
                    Some(run) => {
                        run.1.extend(channel.times_s);
                        run.2.extend(channel.pressures_pa);
                    }
                    None => runs.push((block.run, channel.times_s, channel.pressures_pa)),
                }
            }
            Ok::<_, intake::Refusal>((runs, end.n_rows, end.messages))
        };
        let in_turn = read(IN_TURN);
        for part_bytes in [2_000, 50_000] {
            assert_eq!(read(part_bytes), in_turn, "{text:?} by {part_bytes}");
        }
    }
}

/// A token that no cell holds leaves every row to the careful way.
fn carefully(plan: &str) -> ReadingPlan {
    read_plan(&format!("missing = [\"never written\"]\n{plan}")).expect("a plan")
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(40))]
    /// The quick way by templates and shapes gives what the careful way gives,
    /// however the digits, the signs and the words change.
    #[test]
    fn plain_rows_are_read_as_careful_ones(
        rows in prop::collection::vec((
            0_u8..3,
            "[0-9]{1,6}(\\.[0-9]{1,9})?",
            "(0|2)[0-9]{1,5}(\\.[0-9]{1,4})?|[0-9]{4}\\.[0-9]{2}|1e2|\"7.5\"",
            "-?[0-9]{1,3}\\.[0-9]{2}|ok|on, off",
        ), 3..60),
        line_end in prop::sample::select(vec!["\n", "\r\n"]),
        stretch in 1_usize..30,
    ) {
        let mut text = format!("run,p [Pa],q [Pa],note{line_end}");
        for (row, (_, pressure, other, note)) in rows.iter().enumerate() {
            let run = row / stretch;
            // Each row several times, so that templates are made and used.
            for again in 0..4 {
                let note = if note.contains(',') { format!("\"{note}\"") } else { note.clone() };
                text.push_str(&format!("r{run},{pressure}{again},{other},{note}{line_end}"));
            }
        }
        let plan = "time = { rate = 10 }\nrun = \"run\"\npressure = [{ column = \"p [Pa]\", unit = \"Pa\" }, { column = \"q [Pa]\", unit = \"Pa\" }]";
        let quick = read_traces_in_parts(text.as_bytes(), &read_plan(plan).unwrap(), 200);
        let careful = read_traces_in_parts(text.as_bytes(), &carefully(plan), IN_TURN);
        let samples = |file: Result<intake::trace_file::TraceFile, intake::Refusal>| {
            file.map(|file| (file.traces, file.messages))
        };
        prop_assert_eq!(samples(quick), samples(careful), "{}", text);
    }

    /// The same for clock times.
    #[test]
    fn plain_clock_times_are_read_as_careful_ones(
        rows in prop::collection::vec((0_u32..3, 0_u32..60, 0_u32..61, "[0-9]{0,4}", "[0-9]{1,4}\\.[0-9]"), 3..40),
    ) {
        let mut text = String::from("when,p [Pa]\n");
        for (hour, minute, second, decimals, pressure) in &rows {
            let mark = if decimals.is_empty() { "" } else { "." };
            text.push_str(&format!("2026-03-01T{hour:02}:{minute:02}:{second:02}{mark}{decimals},{pressure}\n"));
            text.push_str(&format!("2026-03-01T{hour:02}:{minute:02}:{second:02}{mark}{decimals},{pressure}\n"));
        }
        let plan = "split_at_restart = true";
        let quick = read_traces_in_parts(text.as_bytes(), &read_plan(plan).unwrap(), 100);
        let careful = read_traces_in_parts(text.as_bytes(), &carefully(plan), IN_TURN);
        let samples = |file: Result<intake::trace_file::TraceFile, intake::Refusal>| {
            file.map(|file| (file.traces, file.messages))
        };
        prop_assert_eq!(samples(quick), samples(careful), "{}", text);
    }
}
