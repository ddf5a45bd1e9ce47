//! A fuzzer in a small: the seeds of `fuzz/`, files of every kind and the dirty
//! files of the catalogue are cut, flipped, spliced and repeated some thousand
//! times, and no reader panics. The targets of `fuzz/` call the same readers
//! with coverage to guide them.
#![allow(clippy::unwrap_used)] // a test fails by panicking

#[allow(dead_code)] // Only the files are used here, not what must come of them.
mod dirty_files {
    pub mod catalogue;
    pub mod channels;
    pub mod content;
    pub mod sampling;
    pub mod truth;
    pub mod writing;
}
#[path = "../../../fuzz/readers.rs"]
mod readers;

use std::panic::{AssertUnwindSafe, catch_unwind};
use std::path::PathBuf;

use digits::RandomStream;
use intake::parquet_file::write_parquet;
use intake::run_table::{Grid, GridColumn};
use intake::workbook::write_workbook;
use readers::READERS;

fn grid() -> Grid {
    Grid {
        name: "samples".to_owned(),
        columns: vec![
            GridColumn::numbers("time_s", "s", vec![Some(0.0), Some(1.0), None]),
            GridColumn::words("unit", vec!["A".to_owned(), String::new(), "=1".to_owned()]),
        ],
    }
}

/// The stored seeds, and files that are no text.
fn seeds() -> Vec<(String, Vec<u8>)> {
    let folder = PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("../../fuzz/seeds");
    let entries = |path: &std::path::Path| {
        let mut paths: Vec<PathBuf> =
            std::fs::read_dir(path).unwrap().flatten().map(|entry| entry.path()).collect();
        paths.sort();
        paths
    };
    let mut seeds: Vec<(String, Vec<u8>)> = entries(&folder)
        .iter()
        .flat_map(|kind| entries(kind))
        .map(|path| (path.display().to_string(), std::fs::read(&path).unwrap()))
        .collect();
    assert!(seeds.len() >= 20, "{} seeds", seeds.len());
    seeds.push(("a workbook".to_owned(), write_workbook(&[grid()]).unwrap()));
    seeds.push(("a parquet file".to_owned(), write_parquet(&grid()).unwrap()));
    seeds
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

/// True for a reader that has a say on such bytes: containers are told by
/// their first bytes, and text by none.
fn concerns(reader: &str, seed: &str) -> bool {
    match reader {
        "workbooks" => seed == "a workbook",
        "parquet_files" => seed == "a parquet file",
        _ => !seed.starts_with("a "),
    }
}

/// The first input at which a reader panics: each seed as it is, and `n`
/// mutations of it.
fn first_panic(
    seeds: &[(String, Vec<u8>)],
    n: u64,
    read: impl Fn(&'static str, fn(&[u8]), &[u8]),
) -> Option<String> {
    for (place, (name, seed)) in seeds.iter().enumerate() {
        for unit in 0..=n {
            let mut stream = RandomStream::new(17 + place as u64, unit);
            let bytes = if unit == 0 { seed.clone() } else { mutated(seed, &mut stream) };
            for (reader, function) in READERS.iter().filter(|(reader, _)| concerns(reader, name)) {
                let call = AssertUnwindSafe(|| read(reader, *function, &bytes));
                if catch_unwind(call).is_err() {
                    return Some(format!("{reader} on {name}, mutation {unit}: {bytes:?}"));
                }
            }
        }
    }
    None
}

#[test]
fn no_reader_panics_on_the_seeds_and_their_mutations() {
    let found = first_panic(&seeds(), 500, |_, function, bytes| function(bytes));
    assert!(found.is_none(), "{found:?}");
}

#[test]
fn no_reader_panics_on_dirty_files_and_their_mutations() {
    // Files of a usual length: the long ones are about limits.
    let dirty: Vec<(String, Vec<u8>)> = dirty_files::catalogue::catalogue()
        .into_iter()
        .filter(|case| case.bytes.len() < 10_000)
        .map(|case| (format!("family {} {}", case.family, case.name), case.bytes))
        .collect();
    assert!(dirty.len() >= 300);
    let found = first_panic(&dirty, 6, |_, function, bytes| function(bytes));
    assert!(found.is_none(), "{found:?}");
}

#[test]
fn a_planted_panic_is_found_in_every_reader() {
    for (planted, _) in READERS {
        // A reader that cannot take one file in a hundred.
        let is_unlucky = |bytes: &[u8]| {
            bytes.iter().fold(0_u32, |sum, &byte| (sum * 31 + u32::from(byte)) % 97) == 13
        };
        let found = first_panic(&seeds(), 500, |reader, function, bytes| {
            assert!(reader != planted || !is_unlucky(bytes), "planted");
            function(bytes);
        });
        assert!(
            found.as_ref().is_some_and(|found| found.starts_with(planted)),
            "{planted}: {found:?}"
        );
    }
}
