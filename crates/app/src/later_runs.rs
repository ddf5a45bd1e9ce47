//! Runs of a long file beyond those that are held: they wait in a file of their
//! own until the answer is printed, so that memory stays flat.

use std::fs::{File, OpenOptions};
use std::io::{BufRead, BufReader, BufWriter, Seek, SeekFrom, Write};

use serde_json::Value;

/// Stands in an answer where the later runs are printed; no file can hold it,
/// since control characters do not come in.
pub const MARK: &str = "\u{1}later runs";

/// Runs that wait, one JSON object a line.
#[derive(Debug)]
pub struct LaterRuns {
    lines: BufWriter<File>,
    n: u64,
}

impl LaterRuns {
    /// An empty file without a name, gone with the program.
    ///
    /// # Errors
    /// Where the folder for temporary files takes none.
    pub fn new() -> std::io::Result<Self> {
        static MADE: std::sync::atomic::AtomicU64 = std::sync::atomic::AtomicU64::new(0);
        let number = MADE.fetch_add(1, std::sync::atomic::Ordering::Relaxed);
        let name = format!("isobar-runs-{}-{number}", std::process::id());
        let path = std::env::temp_dir().join(name);
        let file = OpenOptions::new().read(true).write(true).create_new(true).open(&path)?;
        // Where an open file cannot be unlinked it stays until the system clears up.
        let _ = std::fs::remove_file(&path);
        Ok(Self { lines: BufWriter::new(file), n: 0 })
    }

    /// Adds a run.
    ///
    /// # Errors
    /// Where the disk takes no more.
    pub fn push(&mut self, run: &Value) -> std::io::Result<()> {
        self.n += 1;
        writeln!(self.lines, "{run}")
    }

    /// Everything is written, and can be read.
    ///
    /// # Errors
    /// Where the disk takes no more.
    pub fn finish(mut self) -> std::io::Result<Waiting> {
        self.lines.flush()?;
        let n = self.n;
        Ok(Waiting { file: self.lines.into_inner().map_err(|error| error.into_error())?, n })
    }
}

/// Runs that are all there.
#[derive(Debug)]
pub struct Waiting {
    file: File,
    /// How many.
    pub n: u64,
}

impl Waiting {
    /// Gives each run to `take`, numbered from `first` on.
    ///
    /// # Errors
    /// Where the file cannot be read or `take` fails.
    pub fn each(
        &self,
        first: u64,
        mut take: impl FnMut(&Value) -> std::io::Result<()>,
    ) -> std::io::Result<()> {
        let mut file = &self.file;
        file.seek(SeekFrom::Start(0))?;
        for (line, number) in BufReader::new(file).lines().zip(first..) {
            let mut run: Value = serde_json::from_str(&line?).map_err(std::io::Error::other)?;
            run["number"] = Value::from(number);
            take(&run)?;
        }
        Ok(())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_waits_comes_back_in_order_and_numbered() {
        let mut later = LaterRuns::new().unwrap();
        for place in 0..3 {
            later.push(&serde_json::json!({ "unit": place, "number": 0 })).unwrap();
        }
        let waiting = later.finish().unwrap();
        for _ in 0..2 {
            let mut seen = Vec::new();
            waiting
                .each(21, |run| {
                    seen.push((run["unit"].as_u64(), run["number"].as_u64()));
                    Ok(())
                })
                .unwrap();
            let wanted: Vec<_> = (0..3).map(|place| (Some(place), Some(place + 21))).collect();
            assert_eq!(seen, wanted);
        }
    }
}
