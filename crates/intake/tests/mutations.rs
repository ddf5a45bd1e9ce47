//! A fuzzer in a small: seeds of every reader are cut, flipped, spliced and
//! repeated some thousand times, and no reader panics. The targets of `fuzz/`
//! do the same with coverage to guide them.
#![allow(clippy::unwrap_used)] // a test fails by panicking

use std::panic::{AssertUnwindSafe, catch_unwind};

use digits::RandomStream;
use intake::parquet_file::{read_parquet, write_parquet};
use intake::run_table::{Grid, GridColumn};
use intake::workbook::{read_workbook, write_workbook};

fn grid() -> Grid {
    Grid {
        name: "samples".to_owned(),
        columns: vec![
            GridColumn::numbers("time_s", "s", vec![Some(0.0), Some(1.0), None]),
            GridColumn::words("unit", vec!["A".to_owned(), String::new(), "=1".to_owned()]),
        ],
    }
}

/// Seeds: one well-formed input of each kind.
fn seeds() -> Vec<(&'static str, Vec<u8>)> {
    vec![
        ("trace", b"# rig: R7\ntime_s,p [mbar],T [C]\n0,1.5,20\n1,1.625,20\n2,1.75,21\n".to_vec()),
        ("clock", b"Datetime;p [Pa]\n2026-03-01 08:00:00;1,5\n2026-03-01 08:00:01;1,6\n2026-03-01 08:00:02;1,7\n".to_vec()),
        ("results", b"unit,class,defect [um],reading [Pa],ended\nA,negative,,1.5,completed\nB,positive,5,3.5,aborted: lid\n".to_vec()),
        ("plan", b"separator = \"tab\"\npressure = [{ column = \"p\", unit = \"Torr\" }]\n".to_vec()),
        ("workbook", write_workbook(&[grid()]).unwrap()),
        ("parquet", write_parquet(&grid()).unwrap()),
        ("quantity", b"1.5 sccm@0C".to_vec()),
    ]
}

fn mutated(seed: &[u8], stream: &mut RandomStream) -> Vec<u8> {
    let mut bytes = seed.to_vec();
    for _ in 0..=stream.below(4) {
        if bytes.is_empty() {
            break;
        }
        let at = stream.below(bytes.len() as u64) as usize;
        match stream.below(6) {
            0 => bytes[at] ^= 1 << stream.below(8),
            1 => bytes[at] = stream.below(256) as u8,
            2 => bytes.truncate(at),
            3 => {
                let end = at + stream.below((bytes.len() - at) as u64) as usize;
                let part = bytes[at..end].to_vec();
                bytes.extend(part);
            }
            4 => {
                let pieces: [&[u8]; 8] =
                    [b"\"", b"\n", b",,", b"1e400", b"\xff", b"\0\0", b"\r", b"-999"];
                let piece = pieces[stream.below(8) as usize];
                bytes.splice(at..at, piece.iter().copied());
            }
            _ => {
                bytes.remove(at);
            }
        }
    }
    bytes
}

/// Gives the bytes to every reader of their kind.
fn read(kind: &str, bytes: &[u8]) {
    match kind {
        "workbook" => drop(read_workbook(bytes)),
        "parquet" => drop(read_parquet(bytes)),
        _ => {
            drop(intake::trace_file::read_traces(bytes, &Default::default()));
            if let Ok(table) = intake::result_table::read_table(bytes, &Default::default()) {
                drop(intake::result_rows::result_rows(&table));
            }
            let text = String::from_utf8_lossy(bytes);
            drop(intake::plan_file::read_plan(&text));
            drop(intake::case_file::read_case(&text));
            drop(intake::written_quantity::read_any(&text));
            drop(intake::rig_stamp::rig_stamp(&text));
        }
    }
}

/// The first input at which a reader panics.
fn first_panic(n: u64, read: impl Fn(&str, &[u8])) -> Option<(&'static str, Vec<u8>)> {
    for (kind, seed) in seeds() {
        for unit in 0..n {
            let bytes = mutated(&seed, &mut RandomStream::new(17, unit));
            if catch_unwind(AssertUnwindSafe(|| read(kind, &bytes))).is_err() {
                return Some((kind, bytes));
            }
        }
    }
    None
}

#[test]
fn no_reader_panics_on_mutated_files() {
    let found = first_panic(3000, read);
    assert!(found.is_none(), "{found:?}");
}

#[test]
fn a_planted_panic_is_found() {
    // A reader that cannot take a quote at the start of a line.
    let planted = |_: &str, bytes: &[u8]| {
        assert!(!bytes.windows(2).any(|pair| pair == b"\n\""), "planted");
    };
    assert!(first_panic(600, planted).is_some());
}
