//! A disk that keeps what was synced. Of what was not, it keeps any sectors
//! and loses any others: a power cut tears and reorders.
//!
//! Also reads the record that says what was written when.
//!
//! Not modelled: that a removal is not durable before its folder is synced,
//! sectors that read as garbage, disks that lie about a sync.

#![allow(dead_code)] // io_failures reads the record only

use std::path::{Path, PathBuf};
use std::process::Command;

/// Bytes that a disk writes at once.
const SECTOR: usize = 512;

/// Database, WAL, journal.
const FILES: usize = 3;
pub const WAL: usize = 1;
const SUFFIXES: [&str; FILES] = ["", "-wal", "-journal"];

/// What the process did, as the recorder saw it.
pub enum Act {
    Write {
        file: usize,
        offset: usize,
        bytes: Vec<u8>,
    },
    Truncate {
        file: usize,
        length: usize,
    },
    Sync {
        file: usize,
    },
    Remove {
        file: usize,
    },
    Acknowledge {
        text: String,
    },
    /// A call that was made to fail.
    Failed,
}

/// Reads the record of the recorder.
pub fn read_record(path: &Path) -> Vec<Act> {
    let bytes = std::fs::read(path).expect("the recorder wrote its record");
    let mut acts = Vec::new();
    let mut rest = bytes.as_slice();
    while let [kind, file, head @ ..] = rest {
        let number = |at: usize| {
            let eight = head[at..at + 8].try_into().expect("eight bytes");
            usize::try_from(i64::from_ne_bytes(eight)).expect("not negative")
        };
        let (file, offset, length) = (usize::from(*file), number(0), number(8));
        let data = &head[16..16 + length];
        acts.push(match kind {
            b'W' => Act::Write { file, offset, bytes: data.to_vec() },
            b'T' => Act::Truncate { file, length: offset },
            b'S' => Act::Sync { file },
            b'U' => Act::Remove { file },
            b'A' => Act::Acknowledge { text: String::from_utf8_lossy(data).into_owned() },
            b'F' => Act::Failed,
            other => panic!("{other} is no kind of record"),
        });
        rest = &head[16 + length..];
    }
    acts
}

/// A change that has not been synced.
#[derive(Clone)]
enum Pending {
    Write { offset: usize, bytes: Vec<u8> },
    Truncate { length: usize },
}

/// The disk with one database and its side files.
pub struct Disk {
    synced: [Option<Vec<u8>>; FILES],
    pending: [Vec<Pending>; FILES],
    /// Whether a sync of a file does what it promises.
    honours: fn(usize) -> bool,
}

impl Disk {
    /// A disk that holds a closed database.
    pub fn with_database(bytes: Vec<u8>, honours: fn(usize) -> bool) -> Self {
        Self { synced: [Some(bytes), None, None], pending: Default::default(), honours }
    }

    /// What the process did next.
    pub fn act(&mut self, act: &Act) {
        match act {
            Act::Write { file, offset, bytes } => {
                let bytes = bytes.clone();
                self.pending[*file].push(Pending::Write { offset: *offset, bytes });
            }
            Act::Truncate { file, length } => {
                self.pending[*file].push(Pending::Truncate { length: *length });
            }
            Act::Sync { file } if (self.honours)(*file) => {
                for pending in std::mem::take(&mut self.pending[*file]) {
                    apply(&mut self.synced[*file], pending, &mut |_| true);
                }
            }
            Act::Sync { .. } | Act::Acknowledge { .. } | Act::Failed => {}
            Act::Remove { file } => {
                self.synced[*file] = None;
                self.pending[*file].clear();
            }
        }
    }

    /// Cuts the power: what is left of each file.
    pub fn left(&self, next: &mut dyn FnMut() -> u64) -> [Option<Vec<u8>>; FILES] {
        let mut left = self.synced.clone();
        for (left, pending) in left.iter_mut().zip(&self.pending) {
            for change in pending {
                apply(left, change.clone(), &mut |_| next().is_multiple_of(2));
            }
        }
        left
    }
}

/// Writes what is left to files beside `path`.
pub fn write(left: &[Option<Vec<u8>>; FILES], path: &Path) {
    for (suffix, left) in SUFFIXES.iter().zip(left) {
        let name = beside(path, suffix);
        match left {
            Some(bytes) => std::fs::write(name, bytes).expect("a scratch file"),
            None => drop(std::fs::remove_file(name)),
        }
    }
    // SQLite makes it anew from the WAL.
    drop(std::fs::remove_file(beside(path, "-shm")));
}

/// A number that differs where what is left differs.
pub fn fingerprint(left: &[Option<Vec<u8>>; FILES]) -> u64 {
    use std::hash::{DefaultHasher, Hash, Hasher};
    let mut hasher = DefaultHasher::new();
    left.hash(&mut hasher);
    hasher.finish()
}

fn beside(path: &Path, suffix: &str) -> PathBuf {
    let mut name = path.as_os_str().to_owned();
    name.push(suffix);
    name.into()
}

/// Applies a change sector by sector, as far as `keeps` says.
fn apply(file: &mut Option<Vec<u8>>, pending: Pending, keeps: &mut dyn FnMut(usize) -> bool) {
    let file = file.get_or_insert_default();
    match pending {
        Pending::Truncate { length } => {
            if keeps(0) {
                file.resize(length, 0);
            }
        }
        Pending::Write { offset, bytes } => {
            let end = offset + bytes.len();
            let mut from = offset;
            while from < end {
                let to = ((from / SECTOR + 1) * SECTOR).min(end);
                if keeps(from / SECTOR) {
                    if file.len() < to {
                        file.resize(to, 0);
                    }
                    file[from..to].copy_from_slice(&bytes[from - offset..to - offset]);
                }
                from = to;
            }
        }
    }
}

/// Compiles the recorder; `None` without a C compiler.
pub fn recorder(folder: &Path) -> Option<PathBuf> {
    let library = folder.join("recorder.so");
    let source = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/power_cut/recorder.c");
    let compiled = Command::new("cc")
        .args(["-O1", "-Wall", "-shared", "-fPIC", "-o"])
        .args([&library, &source])
        .args(["-ldl", "-lpthread"])
        .status();
    match compiled {
        Ok(status) => assert!(status.success(), "the recorder does not compile"),
        Err(_) => {
            println!("skipped: no C compiler here");
            return None;
        }
    }
    Some(library)
}
